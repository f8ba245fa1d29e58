"""Sweeps that do not come back to their zero: by how much, and what is told of why.

Belongs here: the returns of a job's sweeps and their likely cause in words. What is refused for
them is the sweep's.
"""

from collections.abc import Sequence
from decimal import Decimal
from math import sqrt
from typing import Final

from assistant.dialogue.state import State, Taken
from assistant.dialogue.sweep_answer import count_unit, repeat_here
from assistant.metrology.causes import Cause, likely_drift, of_returns
from assistant.metrology.lengths import Length

LIKE = 1 / Decimal(3)
"""Part of a drift from which another one is taken for the same (judgement)."""

SHOWS = 2.75
"""Standard deviations of a return to the same spot that no chance makes twice running."""

USUAL_DRIFT: Final = Length.of(1, "thou")
"""By about so much a dial drifts in a sweep, one way or the other (judgement)."""

DRIFTS: Final = 2
"""Marks of the dial in a sweep from which a drift is told: nobody need warm up for less."""

# -- words -------------------------------------------------------------------------------

DIAL_DRIFTS: Final = "The dial drifts. Warm up, tighten its clamp."
"""Sweep after sweep came back off by about as much, the same way."""

SLIPPED: Final = "Something slipped. Check bar and dial."
"""One sweep came back off, and the next one did not."""

LOOSE_SOMEWHERE: Final = "Something is loose: bar, dial or table."
"""Sweep after sweep came back off, now this way and now that; or what nobody touched moved."""

# -- by how much, and why ----------------------------------------------------------------


def return_of(readings: Sequence[Taken]) -> Decimal:
    """By how much a sweep came back off its first reading; zero while it is not closed."""
    closing = next((taken for taken in readings if taken.closing), None)
    return closing.value - readings[0].value if closing else Decimal(0)


def cause_of_returns(state: State, drift: Decimal) -> str:
    """Why sweeps do not come back to their zero, as soon as two of them tell; else nothing."""
    before = returns_of(state)
    if not before:
        return ""
    if state.sweeps[-1].refused == "drift":
        if abs(drift) < LIKE * abs(before[-1]):
            return SLIPPED
        return DIAL_DRIFTS if drift * before[-1] > 0 else LOOSE_SOMEWHERE
    return cause_told(state, before, drift)


def cause_told(state: State, before: Sequence[Decimal], now: Decimal) -> str:
    """What the return errors ``before`` and the one ``now`` tell together that they did not yet."""
    known, cause = (_likely_cause(state, each) for each in (before, [*before, now]))
    told = {"drift": DIAL_DRIFTS, "loose": LOOSE_SOMEWHERE}
    return told.get(cause or "", "") if cause != known or len(before) == 1 else ""


def _likely_cause(state: State, returns: Sequence[Decimal]) -> Cause | None:
    """Why these sweeps do not come back; a drift by less than matters is none."""
    each = [float(one) for one in returns]
    # The surface is the same at the same spot: a return scatters less than readings do.
    u = sqrt(2) * repeat_here(state)
    cause = of_returns(each, SHOWS * u)
    usual = float(USUAL_DRIFT.to(count_unit(state.profile)))
    small = abs(likely_drift(each, u, usual)) < DRIFTS * state.profile.scale.step
    return None if cause == "drift" and small else cause


def returns_of(state: State) -> list[Decimal]:
    """The return errors of the sweeps there are, and of what was read on from them."""
    returns = []
    for one in state.sweeps:
        if not one.place:
            closing = return_of(one.readings)
            returns += [closing, *(one.corners[-1:] and (one.corners[-1] - closing,))]
    return returns
