"""The corrections: shim in the person's own words, and coaching the tap."""

from dataclasses import replace
from decimal import Decimal

from assistant.dialogue import prompts
from assistant.dialogue.amounts import amount, way_of
from assistant.dialogue.asking import Out, ask, go, tell
from assistant.dialogue.phases import Phase
from assistant.dialogue.reckoning import reading_gain
from assistant.dialogue.state import State, shim_in_place
from grammar.meaning import Reading, Shim


def shim_done(state: State) -> Out:
    """The shim is in as it was told."""
    step = state.plan.step if state.plan else None
    if step is None or step.total is None:
        return go(state, Phase.TIGHTEN)
    total = -step.total if step.place == "below" else step.total
    return go(replace(state, shim=total), Phase.TIGHTEN)


def shim_called(state: State, shim: Shim) -> Out:
    """The person says what is really in; that is what the trial will be weighed by."""
    place = shim.place
    if place is None and shim.total:
        planned = state.plan.step.place if state.plan else None
        place = planned or shim_in_place(state.shim).place
        if place is None:
            return ask(state, prompts.SHIM_WHERE)
    total = -shim.total if place == "below" else shim.total
    said = prompts.shim_is(shim.total, place)
    return go(replace(state, shim=total), Phase.TIGHTEN, said)


def tapped(state: State, reading: Reading) -> Out:
    """Coach the tap: how far still, which way, or there."""
    plan = state.plan
    if plan is None or plan.step.dial_target is None or plan.step.station is None:
        return go(state, Phase.TAP_LOCK)
    watch = plan.step.station
    if reading.station not in (None, watch):
        return ask(state, prompts.watch_this(watch))
    counted = replace(state, tap_reading=reading.value, misses=0, pending=None)
    left = plan.step.dial_target - reading.value
    said = prompts.reading(watch, reading.value, way_of(state.profile))
    if abs(left) <= state.profile.scale.step:
        return go(counted, Phase.TAP_LOCK, f"{said} {prompts.ON_TARGET}")
    # By gaps the table goes down where the number goes up.
    rise = left * reading_gain(state.profile)
    overshot = rise * (plan.step.change or Decimal(0)) < 0
    value = amount(left, state.profile.scale.step)
    coach = prompts.tap_back if overshot else prompts.tap_more
    return tell(counted, f"{said} {coach(value, down=rise < 0)}")
