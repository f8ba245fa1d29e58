"""The dial at the watched station, read once more before anything is moved there.

Belongs here: when that reading pays, what it says of the sweep before it, and what follows when it
does not fit. How the table is moved then is the procedure's.
"""

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from math import hypot
from typing import Final, Literal

from assistant.dialogue.exchanged import exchange_odds
from assistant.dialogue.facts import Reread
from assistant.dialogue.formatting import amount, tolerance_counts
from assistant.dialogue.methods import way_of
from assistant.dialogue.missed import ENDS_EXCHANGED, EXCHANGED, MAYBE, MOVED, SIDES_EXCHANGED
from assistant.dialogue.procedures.sweep import drifted
from assistant.dialogue.read_again import ShownNow, shown_now
from assistant.dialogue.returns import SLIPPED, returns_of
from assistant.dialogue.spoken import spoken
from assistant.dialogue.state import State
from assistant.dialogue.sweep_answer import repeat_here, sweep_limits
from assistant.dialogue.turn import Outcome, Turn, ask, done
from assistant.dialogue.wording import NOT_WHILE_LOOSE, call_again, reading, watch_this
from assistant.metrology.causes import EXCHANGED as MIRRORED
from assistant.metrology.exchanges import Exchange, read_again
from grammar.meaning import Reading
from grammar.vocabulary import Station

# -- words -------------------------------------------------------------------------------


@spoken
def before_moving(watch: Station) -> str:
    """The dial is brought to the watched station, and read before anything is loosened."""
    return f"Dial to the {watch}. What does it show?"


@spoken
def before_moving_briefly(watch: Station) -> str:
    """The same in the short form."""
    return call_again(watch)


ASKED: Final = 0.2
"""Probability of a mirror image from which the station is asked once more: that costs a call."""

# -- when --------------------------------------------------------------------------------

DRIFT_SHARE: Final = 1 / Decimal(16)
"""Part of the tolerance: a dial that was seen to wander by more is read again. It would go into the
table doubled, and an eighth of the tolerance is as much as a job can lose (judgement)."""


def due(state: State) -> bool:
    """Whether the station is to be read now, before anything is loosened there.

    Where the last sweep was the first, so that nothing is known yet to hold it against; where its
    spots lay elsewhere; and where a sweep did not come back to its zero by more than matters.
    """
    watches = state.plan is not None and state.plan.step.dial_target is not None
    usable = state.usable_sweeps
    if state.profile.method != "indicator" or not watches or not usable:
        return False
    if state.loosened or state.reread.value is not None:
        return False
    matters = max(state.profile.scale.step, DRIFT_SHARE * Decimal(tolerance_counts(state.profile)))
    return len(usable) == 1 or wanders(state) > matters or state.further_of(usable[-1]) > 0


def wanders(state: State) -> Decimal:
    """By how much the dial was seen to wander lately, without sign: what a sweep came back off."""
    return max(map(abs, returns_of(state)[-2:]), default=Decimal(0))


def asked(state: State, watch: Station, ease: str, there: str) -> str:
    """The question before anything is loosened: the reading if it is due, or else to loosen.

    ``there``: to loosen, where the dial stands at the watched station already.
    """
    if not due(state):
        return there if _read_there(state) else ease
    if state.reread.doubted is not None:
        return call_again(watch)
    return before_moving_briefly(watch) if state.short else before_moving(watch)


def _read_there(state: State) -> bool:
    """Whether the dial was read at the watched station since the last sweep."""
    taps, moving = state.taps, state.moving
    read = (state.reread.value, taps.reading, taps.locked, moving.reading, moving.tight)
    return any(value is not None for value in read)


def awaits(state: State, otherwise: str) -> str:
    """The headline before anything is loosened: the station while it is to be read."""
    return (state.awaited or otherwise).upper() if due(state) else otherwise


# -- what it says ------------------------------------------------------------------------


def taken(
    state: State,
    watch: Station,
    called: Reading,
    begin: Callable[[State, str], Turn],
) -> Turn:
    """A reading at the watched station; it fits the last sweep, or is asked once more.

    ``begin``: how the procedure goes on from a reading that counts.
    """
    if state.loosened or state.profile.method != "indicator":
        return ask(state, NOT_WHILE_LOOSE)
    if called.station not in (None, watch):
        return ask(state, watch_this(watch))
    told = reading(watch, called.value, way_of(state.profile))
    doubted = state.reread.doubted
    counts = replace(state, pending=None, reread=Reread(called.value))
    value, least = called.value, ASKED
    if doubted is not None:
        # Asked a second time both count, unless the first was called wrongly.
        least = MAYBE
        if abs(value - doubted) <= 3 * _u(state):
            value = (value + doubted) / 2
    verdict = _fits(state, watch, value, least)
    if verdict == "fits":
        return begin(counts, told)
    if doubted is None:
        return ask(replace(counts, reread=Reread(doubted=called.value)), told)
    if any(one.refused in (MOVED, EXCHANGED) for one in state.sweeps):
        # Told once: from there on it is aimed by what the dial shows now.
        return begin(counts, f"{told} {SLIPPED}")
    if verdict == "exchanged":
        word = SIDES_EXCHANGED if watch in ("left", "right") else ENDS_EXCHANGED
        return set_last_aside(state, EXCHANGED, f"{told} {word}")
    return moved(state, watch, float(called.value) - _shown(state, watch).called, told)


def moved(state: State, watch: Station, by: float, said: str) -> Turn:
    """The dial shows neither what was called there nor opposite: the last sweep is made again."""
    told = drifted(watch, amount(by, state.profile.scale.step))
    return set_last_aside(state, MOVED, f"{said} {told}")


def _fits(
    state: State, watch: Station, value: Decimal, least: float
) -> Literal["fits", "exchanged", "moved"]:
    """Whether a reading is what the sweep had there, what it had opposite, or neither.

    By the normal likelihoods of both, and how likely all other sweeps make it that two sides
    changed places; ``least``: the probability from which they are taken to have.
    """
    u, shown = _u(state), _shown(state, watch)
    off, across = float(value) - shown.called, float(value) - shown.instead
    limit = max(sweep_limits(state.profile, state.spindle.stays).drift_refused, 3 * u)
    if read_again(off, across, u, mirrored(state, watch)).opposite >= least:
        return "exchanged"
    return "fits" if abs(off) <= limit else "moved"


def mirrored(state: State, watch: Station) -> float:
    """Probability that the sides there changed places in the last sweep, by all others."""
    odds = exchange_odds(state, state.readings).now
    each: Exchange = "sides" if watch in ("right", "left") else "ends"
    return odds[each] + odds["signs"] if odds else MIRRORED


def _shown(state: State, watch: Station) -> ShownNow:
    last = state.usable_sweeps[-1]
    return shown_now(last.readings, watch, last.corners[-1] if last.corners else None)


def _u(state: State) -> float:
    """Standard uncertainty of the dial there now, less what it showed in the sweep."""
    return hypot(2**0.5 * repeat_here(state), float(wanders(state)) / 2)


def set_last_aside(state: State, reason: str, said: str) -> Turn:
    """The last sweep is not built on: as before it, and swept again from its zero."""
    last = state.sweeps[-1]
    before = last.before.restored(state).begun_with()
    kept = (*state.sweeps[:-1], replace(last, refused=reason))
    return done(replace(before, sweeps=kept), Outcome.MEASURE, said)
