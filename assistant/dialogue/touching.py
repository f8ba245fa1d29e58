"""Setting a table by touch: which side drags first, what to try, and what it changed."""

from dataclasses import replace
from decimal import Decimal

from assistant.dialogue import prompts
from assistant.dialogue.asking import Out, ask, go
from assistant.dialogue.gauging import leaf_from
from assistant.dialogue.machine import SHIMMED
from assistant.dialogue.messages import Step
from assistant.dialogue.phases import Phase
from assistant.dialogue.prompts import touch
from assistant.dialogue.state import Plan, State, shim_in_place
from assistant.metrology.gauges import by_touch
from assistant.metrology.leaves import best_stack
from assistant.metrology.stations import OPPOSITE
from assistant.metrology.touching import AXIS_OF, Axis, Round, high_at, next_shim, no_plane
from grammar.vocabulary import Station

TRIAL_INCH, TRIAL_METRIC = Decimal(3), Decimal(8)
"""The leaf to try first, in counts: thick enough to show (common practice, no source)."""


def side_called(state: State, side: Station) -> Out | None:
    """The side that dragged; None where none is asked for."""
    told = state.touch
    match state.phase:
        case Phase.TOUCH_FIRST:
            first = replace(state, touch=replace(told, first=side, second=None))
            return go(first, Phase.TOUCH_SECOND, touch.dragged(side))
        case Phase.TOUCH_SECOND if told.first is not None:
            if no_plane(told.first, side):
                return go(state, Phase.TOUCH_FIRST, touch.NO_PLANE)
            second = replace(state, touch=replace(told, second=side))
            return go(second, Phase.TOUCH_LAST, touch.dragged(side))
        case _:
            return None


def touch_command(state: State, name: str) -> Out | None:
    """A command while touching; None for one that does nothing there."""
    match state.phase, name:
        case Phase.TOUCH_FIRST, "skip":
            return _round_done(replace(state, touch=replace(state.touch, first=None, second=None)))
        case Phase.TOUCH_SECOND, "skip":
            return _round_done(state)
        case Phase.TOUCH_LAST, "yes":
            return _round_done(state)
        case Phase.TOUCH_LAST, "no":
            return go(state, Phase.TOUCH_FIRST, touch.NO_PLANE)
        case _:
            return None


def last_expected(state: State) -> Station:
    """The side that must drag last if the table is a plane."""
    return OPPOSITE[state.touch.first or "back"]


def _round_done(state: State) -> Out:
    """A round is complete: what it says against the one before, and what to try."""
    told = state.touch
    done = Round(told.first, told.second, state.shim)
    said = _found(done, told.rounds[-1] if told.rounds else None)
    kept = replace(
        state, touch=replace(told, rounds=(*told.rounds, done), first=None, second=None), plan=None
    )
    return plan_by_touch(kept, said)


def _found(now: Round, before: Round | None) -> str:
    if now.first is None:
        return touch.EVEN
    words = high_words(now)
    if before is None or before.first is None:
        return f"{words} {touch.HOW_MUCH}" if before is None else words
    if now.first == before.first:
        return f"{touch.still(now.first)} {words}"
    if now.first == OPPOSITE[before.first]:
        return f"{touch.flipped(now.first)} {words}"
    return f"{touch.other_axis(now.first)} {words}"


def high_words(one: Round) -> str:
    """Where a round found the table high."""
    if one.first is None:
        return touch.EVEN
    if one.second is None:
        return touch.high(one.first, None)
    order = (one.first, one.second, OPPOSITE[one.second], OPPOSITE[one.first])
    found = by_touch(order)
    return touch.high(found.high if found else one.first, one.second)


def plan_by_touch(state: State, said: str) -> Out:
    """The next thing to try, the axis that drags first before the other; or the offer to end."""
    rounds = state.touch.rounds
    last = rounds[-1] if rounds else None
    if last is None:
        return go(state, Phase.TOUCH_FIRST, said)
    first = last.first
    if first is None:
        return _end(state, said)
    both: tuple[Axis, Axis] = ("front to back", "side to side")
    axes = sorted(both, key=lambda axis: axis != AXIS_OF[first])
    worn_out = False
    for axis in axes:
        side = high_at(last, axis)
        if side is None or axis in state.axis_left_out:
            continue
        if axis == "side to side" or state.profile.kind not in SHIMMED:
            return _tap(state, side, said)
        shim = _shim(state)
        if shim is not None:
            return go(replace(state, plan=shim), Phase.LOOSEN, said)
        worn_out = True
    return _end(state, f"{said} {touch.FINE_ENOUGH}" if worn_out else said)


def _end(state: State, said: str) -> Out:
    return go(replace(state, plan=None), Phase.DECIDE, f"{said} {touch.NO_PROOF}".strip())


def _tap(state: State, side: Station, said: str) -> Out:
    step = Step("tap", station=side)
    return go(replace(state, plan=Plan("tap", step, 0.0, 0.0, state.shim)), Phase.EASE, said)


def _shim(state: State) -> Plan | None:
    profile = state.profile
    least = TRIAL_INCH if profile.scale.system == "thou" else TRIAL_METRIC
    trial = leaf_from(profile, least)
    total = next_shim(state.touch.rounds, profile.stock, profile.max_leaves, trial)
    if total is None or total == state.shim:
        return None
    place = shim_in_place(total)
    leaves = best_stack(place.total, profile.stock, profile.max_leaves)
    step = Step("shim", place=place.place, total=place.total, leaves=leaves)
    return Plan("shim", step, 0.0, 0.0, state.shim)


def round_back(state: State) -> Out:
    """Take the last round back and lower the rod once more."""
    fewer = replace(state.touch, rounds=state.touch.rounds[:-1])
    return go(replace(state, touch=fewer, plan=None), Phase.TOUCH_FIRST, touch.ROUND_BACK)


def no_numbers(state: State) -> Out:
    """A number was called where there are none."""
    return ask(state, touch.NO_NUMBERS)


def closing_words(state: State) -> str:
    """What was found first and last, where the table was set by touch."""
    rounds = state.touch.rounds
    if not rounds:
        return prompts.CLOSED_UNMEASURED
    return touch.closed(_short(rounds[0]), _short(rounds[-1]))


def _short(one: Round) -> str:
    return "all alike" if one.first is None else f"high at the {one.first}"
