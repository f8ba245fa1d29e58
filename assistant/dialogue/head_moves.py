"""Moving the head (or a free table) to a target on the dial, and tightening it there.

Snug, move while the dial is watched, tighten, read again: what tightening pulled is learnt
and aimed off the next time; too large a pull is moved again at once.
"""

from dataclasses import replace
from decimal import Decimal

from assistant.dialogue import prompts
from assistant.dialogue.amounts import amount
from assistant.dialogue.asking import Out, ask, go, tell
from assistant.dialogue.findings import Pull
from assistant.dialogue.head_planning import NOD, aim_step, turn_of
from assistant.dialogue.judging import advise
from assistant.dialogue.phases import Phase
from assistant.dialogue.prompts import machines
from assistant.dialogue.state import FRONT_BACK, SIDES, Plan, State
from grammar.meaning import Reading
from grammar.vocabulary import Station

MOST_TRIES = 3
"""Times that a move is tightened before the sweep has to say what came of it."""


def head_command(state: State, name: str) -> Out | None:
    """A command in a phase of moving; None for one that does nothing there."""
    match state.phase, name:
        case Phase.SNUG_UP, "done":
            return go(state, Phase.MOVE)
        case Phase.SNUG_UP, "skip":
            axis = FRONT_BACK if state.plan is not None and state.plan.kind == NOD else SIDES
            left_out = (*state.axis_left_out, axis)
            return advise(replace(state, axis_left_out=left_out, plan=None), "")
        case Phase.MOVE, "done":
            return go(state, Phase.CLAMP)
        case Phase.CLAMP, "locked":
            return go(state, Phase.ZERO)
        case _:
            return None


def moved(state: State, called: Reading) -> Out:
    """A reading at the watched station: coached while it is snug, weighed when it is tight."""
    plan = state.plan
    step = plan.step if plan else None
    if plan is None or step is None or step.station is None or step.dial_target is None:
        return go(state, Phase.ZERO)
    watch = step.station
    if called.station not in (None, watch):
        return ask(state, prompts.watch_this(watch))
    told = prompts.reading(watch, called.value)
    heard = replace(state, misses=0, pending=None)
    if state.phase is Phase.CLAMP:
        return _clamped(heard, plan, watch, called.value, told)
    return _coached(heard, plan, called.value, told)


def _coached(state: State, plan: Plan, value: Decimal, told: str) -> Out:
    """How far still, or back, or there."""
    target, change = plan.step.dial_target or Decimal(0), plan.step.change or Decimal(0)
    counted = replace(state, moving=replace(state.moving, reading=value))
    left, step = target - value, state.profile.scale.step
    if abs(left) <= step:
        return go(counted, Phase.CLAMP, f"{told} {prompts.ON_TARGET}")
    coach = machines.back if left * change < 0 else machines.more
    return tell(counted, f"{told} {coach(amount(left, step))}")


def _clamped(state: State, plan: Plan, watch: Station, value: Decimal, told: str) -> Out:
    """What tightening did: known from now on, and moved again where it is too much."""
    moving, target = state.moving, plan.step.dial_target or Decimal(0)
    pull = value - (target if moving.reading is None else moving.reading)
    others = tuple(known for known in moving.pulls if known.watch != watch)
    moving = replace(
        moving, pulls=(*others, Pull(watch, pull)), tight=value, tries=moving.tries + 1
    )
    counted = replace(state, moving=moving)
    if abs(value - moving.goal) <= _allowed(state, watch) or moving.tries >= MOST_TRIES:
        return go(counted, Phase.ZERO, told)
    again = aim_step(state.profile, plan.kind, watch, value, moving.goal, pull)
    retried = replace(counted, plan=replace(plan, step=again))
    return go(retried, Phase.SNUG_UP, f"{told} {machines.pulled(pull)}")


def _allowed(state: State, watch: Station) -> Decimal:
    """How far from its goal the dial may be left: half of what proves the tolerance."""
    answer = state.as_left
    enough = (answer.judgement.accept_up_to or 0.0) if answer is not None else 0.0
    by_tolerance = Decimal(str(round(enough / turn_of(state, watch).value / 2, 6)))
    return max(2 * state.profile.scale.step, by_tolerance)
