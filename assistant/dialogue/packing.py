"""The hands at the feet: bolts eased, shims put under the low side, bolted down again."""

from dataclasses import replace
from decimal import Decimal

from assistant.dialogue.asking import Out, go
from assistant.dialogue.packing_plan import ENDS, PACK_LENGTHWISE
from assistant.dialogue.phases import Phase
from assistant.dialogue.prompts import packing as words
from assistant.dialogue.state import State
from grammar.meaning import Shim

PACKING: tuple[Phase, ...] = (Phase.UNBOLT, Phase.PACK, Phase.BOLT_DOWN)


def packing_command(state: State, name: str) -> Out | None:
    """Done, skip, locked at the feet; None when it is no answer. A skip is for the caller."""
    step = state.plan.step if state.plan else None
    match state.phase, name:
        case Phase.UNBOLT, "done":
            return go(state, Phase.PACK)
        case Phase.PACK, "done":
            total = (step.total if step else None) or Decimal(0)
            return go(_with(state, total), Phase.BOLT_DOWN)
        case Phase.BOLT_DOWN, "locked":
            return go(state, Phase.ZERO)
        case _:
            return None


def packing_called(state: State, shim: Shim) -> Out:
    """The person says what is really in, under the side that was told."""
    side = (state.plan.step.station if state.plan else None) or "back"
    return go(_with(state, shim.total), Phase.BOLT_DOWN, words.is_under(shim.total, side))


def packing_back(state: State) -> Out:
    """ "Disregard": one step back; the shim counts as it was before."""
    if state.phase is Phase.BOLT_DOWN and state.plan is not None:
        return go(_set(state, state.plan.kind, state.plan.shim_before), Phase.PACK)
    return go(state, Phase.UNBOLT)


def _with(state: State, total: Decimal) -> State:
    plan = state.plan
    if plan is None:
        return state
    negative = plan.step.station == ENDS[plan.kind][1]
    return _set(state, plan.kind, -total if negative else total)


def _set(state: State, kind: str, signed: Decimal) -> State:
    packing = state.packing
    if kind == PACK_LENGTHWISE:
        return replace(state, packing=replace(packing, under_back=signed))
    return replace(state, packing=replace(packing, under_left=signed))
