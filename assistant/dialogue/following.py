"""A record that is played again, held to where it stood when it was made.

A later version may advise otherwise than the one that a job was done with: what was called then
answered another question. Belongs here: putting a job where its record says that it was, so that
every reading stays what it was called for. What is done there is the procedures'.
"""

from dataclasses import replace

from assistant.dialogue.job import JOB, row_of
from assistant.dialogue.messages import Heard, KeyPressed, Step
from assistant.dialogue.phases import Phase
from assistant.dialogue.planner import CORRECTIONS, correction_of
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.state import State


def placed(state: State, event: Heard | KeyPressed, told: Step | None) -> Heard | KeyPressed:
    """The event with where the job stands as it comes, and what the hands are told there.

    ``told``: what stands in the record already; only another one is put down. What is heard too
    late, and will be dropped, is left as it is.
    """
    if event.turn != state.turn:
        return event
    step = state.plan.step if state.plan else None
    return replace(event, phase=str(state.phase), told=None if step == told else step)


def followed(state: State, event: Heard | KeyPressed) -> State:
    """The state where the record of this event says that it stood; as it is where it agrees."""
    there = _at(state, event)
    if event.told is None or there.plan is None or there.plan.step == event.told:
        return there
    return replace(there, plan=replace(there.plan, step=event.told))


def _at(state: State, event: Heard | KeyPressed) -> State:
    phase = _BY_NAME.get(event.phase)
    if phase is None or phase is state.phase or state.phase is Close.CLOSED:
        return state
    here = replace(_planned(state, phase), phase=phase, pending=None, turn=event.turn)
    return replace(here, awaited=row_of(phase).station(here))


def _planned(state: State, phase: Phase) -> State:
    """With the correction that this phase belongs to; what was only told is not made elsewhere."""
    made = next((each for each in CORRECTIONS if phase in _phases_with(each.begins)), None)
    planned = correction_of(state.plan) if state.plan is not None else None
    if made is planned:
        return state
    if made is None:
        told_only = planned is not None and not state.loosened and not state.readings
        at_it = planned is not None and state.phase in _phases_with(planned.begins)
        return replace(state, plan=None) if told_only and at_it else state
    answer = state.as_left
    plans = made.plan(state, answer) if answer is not None else ()
    return made.prepare(replace(state, plan=plans[0] if plans else None))


def _phases_with(begins: Phase) -> frozenset[Phase]:
    """The phases of the procedure that has this one."""
    return next(each.phases for each in JOB.procedures if begins in each.phases)


_BY_NAME = {str(phase): phase for phase in JOB.table}
