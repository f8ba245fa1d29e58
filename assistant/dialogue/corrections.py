"""What every correction has in common: how the planner asks it for a plan and learns from it."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from assistant.dialogue.formatting import digits
from assistant.dialogue.machine import MachineKind
from assistant.dialogue.methods import way_of
from assistant.dialogue.phases import Phase
from assistant.dialogue.state import Plan, State
from assistant.dialogue.turn import Outcome, Turn, done
from assistant.metrology.answer import Answer
from grammar.vocabulary import Station


@dataclass(frozen=True, slots=True)
class Correction:
    """One way to set something square.

    ``machines``: the kinds that are set so. ``plans``: the kinds of plan it makes. ``begins``:
    its first phase. ``plan``: the corrections that could be made after this answer, one for
    each axis that it sets. ``learn``: the state with what the sweep after a plan taught (the
    plan, the answer before and the one after it), and a word about it. ``learn_again``: another
    sweep of the same table tells better what the last correction came to. ``prepare``: the state
    with the plan begun. ``short``: the first phase in the short form, None for the same.
    """

    machines: tuple[MachineKind, ...]
    plans: tuple[str, ...]
    begins: Phase
    plan: Callable[[State, Answer], tuple[Plan, ...]]
    learn: Callable[[State, Plan, Answer, Answer], tuple[State, str]]
    learn_again: Callable[[State, Answer, Answer], State] = lambda state, *_: state
    prepare: Callable[[State], State] = lambda state: state
    short: Phase | None = None

    def begun(self, state: State) -> Phase:
        """The phase that it begins with in the form that is spoken."""
        return self.short if state.short and self.short is not None else self.begins


def left_out(state: State, axis: str, said: str = "") -> Turn:
    """This axis is not to be corrected: what else is there?"""
    without = replace(state, axis_left_out=(*state.axis_left_out, axis), plan=None)
    return done(without, Outcome.ADVISE, said)


def watched(state: State) -> Station:
    """The station where the dial is watched for the plan."""
    return (state.plan.step.station if state.plan else None) or "right"


def station_watched(state: State) -> Station | None:
    """The same, None without a plan that watches one."""
    return state.plan.step.station if state.plan else None


def target_shown(state: State) -> tuple[str, str]:
    """What the dial should be brought to, for the screen."""
    step = state.plan.step if state.plan else None
    if step is None or step.dial_target is None:
        return "", ""
    name = "dial target" if way_of(state.profile) == "signed" else "leaf wanted"
    return digits(step.dial_target, state.profile), f"{name}, {step.station}"
