"""Setting a table by touch: which side drags first, what to try, and what it changed."""

from dataclasses import replace
from decimal import Decimal
from typing import Final

from assistant.dialogue.gauging import leaf_from
from assistant.dialogue.machine import SHIMMED
from assistant.dialogue.messages import Heard, Step
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.lock import Lock
from assistant.dialogue.rows import Procedure, Row
from assistant.dialogue.spoken import spoken
from assistant.dialogue.state import Plan, State, shim_in_place
from assistant.dialogue.turn import Outcome, Turn, done, go
from assistant.metrology.leaves import best_stack
from assistant.metrology.stations import OPPOSITE
from assistant.metrology.touching import AXIS_OF, Axis, Round, high_at, next_shim, no_plane
from grammar.meaning import Side
from grammar.vocabulary import STATIONS, Station


class Touching(Phase):
    """Which side drags first, next and last."""

    FIRST = "first touch"
    SECOND = "second touch"
    LAST = "last touch"


TRIAL_INCH, TRIAL_METRIC = Decimal(3), Decimal(8)
"""The leaf to try first, in counts: thick enough to show (common practice, no source)."""

# -- words -------------------------------------------------------------------------------
FIRST: Final = "Lower the rod, turning. Which drags first? Or skip."
"""Little by little, the spindle by hand; all alike is "skip"."""

SECOND: Final = "Lower it on. Which side next?"  # the second to drag


@spoken
def last(side: Station) -> str:
    """On a plane the last to drag lies opposite the first."""
    return f"{side.capitalize()} last?"


NO_PLANE: Final = "That makes no plane."
"""The order does not belong to a plane: a bump, or a slip of the ear."""

NO_NUMBERS: Final = "By touch there are no numbers."  # a number was called
HOW_MUCH: Final = "How much, touch cannot tell."  # said once, with the first round


@spoken
def dragged(side: Station) -> str:
    """Read the side back."""
    return f"{side.capitalize()}."


@spoken
def high(side: Station, towards: Station | None) -> str:
    """Which side is high, and towards which other."""
    return f"High at the {side}, towards the {towards}." if towards else f"High at the {side}."


@spoken
def still(side: Station) -> str:
    """The same side as the round before is high: what was done was not enough."""
    return f"Still the {side}: not enough."


@spoken
def flipped(side: Station) -> str:
    """The other side of the same axis is high now."""
    return f"Now the {side}: too much."


@spoken
def other_axis(side: Station) -> str:
    """What is high first is on the other axis now: the one that was corrected is the better."""
    return f"Better. Now the {side} first."


EVEN: Final = "All alike, as far as touch can tell."  # nothing drags first
FINE_ENOUGH: Final = "As even as two leaves make it."  # no stack lies between
NO_PROOF: Final = "That proves no tolerance."  # with the offer to finish
ROUND_BACK: Final = "Taken back."  # the last round counts no more


@spoken
def closed(found: str, left: str) -> str:
    """The last words of a job by touch."""
    return f"Was {found}, and still is." if found == left else f"Was {found}, now {left}."


# -- a round -----------------------------------------------------------------------------


def _first_called(state: State, side: Side) -> Turn:
    first = replace(state, touch=replace(state.touch, first=side.station, second=None))
    return go(first, Touching.SECOND, dragged(side.station))


def _second_called(state: State, side: Side) -> Turn | None:
    told = state.touch
    if told.first is None:
        return None
    if no_plane(told.first, side.station):
        return go(state, Touching.FIRST, NO_PLANE)
    second = replace(state, touch=replace(told, second=side.station))
    return go(second, Touching.LAST, dragged(side.station))


def _all_alike(state: State, _: Heard) -> Turn:
    nothing = replace(state.touch, first=None, second=None)
    return _round_done(replace(state, touch=nothing), _)


def _round_done(state: State, _: Heard) -> Turn:
    """A round is complete: what it says against the one before, and what to try."""
    told = state.touch
    done_now = Round(told.first, told.second, state.shims.total)
    said = _found(done_now, told.rounds[-1] if told.rounds else None)
    rounds = (*told.rounds, done_now)
    kept = replace(state, touch=replace(told, rounds=rounds, first=None, second=None), plan=None)
    return done(kept, Outcome.ADVISE, said)


def _found(now: Round, before: Round | None) -> str:
    if now.first is None:
        return EVEN
    words = high_words(now)
    if before is None or before.first is None:
        return f"{words} {HOW_MUCH}" if before is None else words
    if now.first == before.first:
        return f"{still(now.first)} {words}"
    if now.first == OPPOSITE[before.first]:
        return f"{flipped(now.first)} {words}"
    return f"{other_axis(now.first)} {words}"


def high_words(one: Round) -> str:
    """Where a round found the table high."""
    if one.first is None:
        return EVEN
    return high(one.first, one.second)


def round_back(state: State) -> Turn:
    """Take the last round back and lower the rod once more."""
    fewer = replace(state.touch, rounds=state.touch.rounds[:-1])
    return go(replace(state, touch=fewer, plan=None), Touching.FIRST, ROUND_BACK)


# -- what to try -------------------------------------------------------------------------


def plan_by_touch(state: State) -> tuple[Plan | None, str]:
    """The next thing to try, the axis that drags first before the other, and a word about it.

    The plan is None where there is nothing left to try.
    """
    last_round = state.touch.rounds[-1] if state.touch.rounds else None
    if last_round is None or last_round.first is None:
        return None, ""
    first = last_round.first
    both: tuple[Axis, Axis] = ("front to back", "side to side")
    axes = sorted(both, key=lambda axis: axis != AXIS_OF[first])
    worn_out = False
    for axis in axes:
        side = high_at(last_round, axis)
        if side is None or axis in state.axis_left_out:
            continue
        if axis == "side to side" or state.profile.kind not in SHIMMED:
            return Plan("tap", Step("tap", station=side), 0.0, 0.0, state.shims.total), ""
        shim = _shim(state)
        if shim is not None:
            return shim, ""
        worn_out = True
    return None, FINE_ENOUGH if worn_out else ""


def _shim(state: State) -> Plan | None:
    profile = state.profile
    least = TRIAL_INCH if profile.scale.system == "thou" else TRIAL_METRIC
    trial = leaf_from(profile, least)
    total = next_shim(state.touch.rounds, profile.stock, profile.max_leaves, trial)
    if total is None or total == state.shims.total:
        return None
    place = shim_in_place(total)
    leaves = best_stack(place.total, profile.stock, profile.max_leaves)
    step = Step("shim", place=place.place, total=place.total, leaves=leaves)
    return Plan("shim", step, 0.0, 0.0, state.shims.total)


def closing_words(state: State) -> str:
    """What the first and the last round found."""
    rounds = state.touch.rounds
    return closed(_short(rounds[0]), _short(rounds[-1]))


def _short(one: Round) -> str:
    return "all alike" if one.first is None else f"high at the {one.first}"


PROCEDURE = Procedure(
    (
        Row(
            Touching.FIRST,
            "FIRST?",
            FIRST,
            {"skip": _all_alike, "disregard": Lock.LOCK},
            on_side=_first_called,
            step=Step("lower", what="rod"),
            left="sweep",
            how="Round and round, lower it slowly.",
        ),
        Row(
            Touching.SECOND,
            "NEXT?",
            SECOND,
            {"skip": _round_done, "disregard": Touching.FIRST},
            on_side=_second_called,
            left="sweep",
            how="A little lower, until the next one drags.",
        ),
        Row(
            Touching.LAST,
            "LAST?",
            lambda state: last(OPPOSITE[state.touch.first or STATIONS[0]]),
            {
                "yes": _round_done,
                "no": lambda state, _: go(state, Touching.FIRST, NO_PLANE),
                "disregard": Touching.SECOND,
            },
            left="sweep",
            how="Yes if it drags last.",
        ),
    ),
    due=lambda state: state.profile.method == "touch",
)
