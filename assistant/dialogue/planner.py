"""Which correction next, or stop: the choice after every sweep, and what a correction taught."""

from dataclasses import replace
from math import hypot
from typing import Final

from assistant.dialogue.corrections import Correction
from assistant.dialogue.formatting import amount, spoken_step, tolerance_words
from assistant.dialogue.messages import Effect
from assistant.dialogue.procedures import head, packing, pin, repeat, shim, tap, touch
from assistant.dialogue.procedures.close import BEYOND, NOT_WORTH_CHASING, Close, within
from assistant.dialogue.procedures.form import Form
from assistant.dialogue.procedures.lock import Lock
from assistant.dialogue.spoken import spoken
from assistant.dialogue.state import NOD, PACK_LENGTHWISE, Plan, State
from assistant.dialogue.turn import Outcome, Turn, done, go
from assistant.dialogue.wording import UNDECIDED
from assistant.metrology.answer import Answer

CORRECTIONS: tuple[Correction, ...] = (
    shim.CORRECTION,
    tap.CORRECTION,
    head.CORRECTION,
    packing.CORRECTION,
)
"""In the order in which they are made. The shim goes before the tap because loosening the tilt
bolt disturbs the sides, too."""

SETTLE_HINT: Final = "Say settle: does the dial repeat?"
"""Too close to call, and the noise was only assumed."""

TRIAL_SHIM: Final = "A trial shim first."  # how much a shim moves the table is not known yet


@spoken
def should_leave(left: str) -> str:
    """What a correction should leave of what it corrects, without sign."""
    return f"Should leave about {left}."


# -- what now ----------------------------------------------------------------------------


def advise(state: State, said: str, *effects: Effect) -> Turn:
    """Choose the next step from the last usable answer: finish, sweep again, or correct."""
    answer = state.as_left
    if state.profile.method == "touch":
        return _by_touch(state, said)
    if answer is None:
        return go(state, Lock.LOCK, said, *effects)
    if state.form.due:
        asked = replace(state, form=replace(state.form, due=False, corners=()))
        return go(asked, Form.FORM, said, *effects)
    if answer.verdict == "within":
        word = within(tolerance_words(state.profile))
        ends = Close.CLOSE if state.short else Close.DECIDE
        return go(state, ends, f"{said} {word}", *effects)
    reason = repeat.why_again(state, answer, next_plan(state, answer))
    if reason:
        return go(state, repeat.Repeat.AGAIN, f"{said} {reason}".strip(), *effects)
    return correct(state, said, *effects)


def correct(state: State, said: str, *effects: Effect) -> Turn:
    """The next correction that is worth making, or the offer to finish if there is none."""
    answer = state.as_left
    plan = next_plan(state, answer) if answer else None
    if plan is None:
        word = _why_no_step(state, answer)
        return go(replace(state, plan=None), Close.DECIDE, f"{said} {word}", *effects)
    return correct_now(replace(state, plan=plan), said, *effects)


def correct_now(state: State, said: str, *effects: Effect) -> Turn:
    """Begin the correction that is planned; a locating pin comes out before the first."""
    if pin.due(state):
        return go(state, pin.Pin.PIN, said, *effects)
    correction = made_by(state.plan) if state.plan else tap.CORRECTION
    words = f"{said} {_should_leave(state)}".strip()
    return go(correction.prepare(state), correction.begun(state), words, *effects)


def _should_leave(state: State) -> str:
    """What the planned correction should leave on its axis; that a trial shim is one."""
    plan, answer = state.plan, state.as_left
    if plan is None or answer is None or state.profile.method == "touch":
        return ""
    response = answer.shim.response if plan.kind == "shim" else None
    if plan.kind in packing.PACKS:
        response = packing.response_of(state, plan.kind)
    if response is not None and not response.trials and shim.poorly_known(response):
        return TRIAL_SHIM
    lengthwise = plan.kind in ("shim", NOD, PACK_LENGTHWISE)
    left = plan.expected_fb if lengthwise else plan.expected_rl
    return should_leave(amount(left, spoken_step(state.profile)))


def _why_no_step(state: State, answer: Answer | None) -> str:
    if answer is None or answer.verdict == "beyond":
        return BEYOND
    if answer.verdict == "undecided":
        hint = "" if state.profile.surface else f" {SETTLE_HINT}"
        return f"{UNDECIDED} {NOT_WORTH_CHASING}{hint}"
    return NOT_WORTH_CHASING


def _by_touch(state: State, said: str) -> Turn:
    """The same by touch, where nothing is measured and no tolerance proven."""
    if not state.touch.rounds:
        return done(state, Outcome.MEASURE, said)
    plan, word = touch.plan_by_touch(state)
    planned = replace(state, plan=plan)
    if plan is None:
        told = " ".join(part for part in (said, word, touch.NO_PROOF) if part)
        return go(planned, Close.DECIDE, told)
    return go(planned, made_by(plan).begun(planned), said)


# -- which correction --------------------------------------------------------------------


def made_by(plan: Plan) -> Correction:
    """The correction that a plan belongs to."""
    return next(each for each in CORRECTIONS if plan.kind in each.plans)


def next_plan(state: State, answer: Answer) -> Plan | None:
    """The correction to make: the first in order, unless a later one alone ends the job.

    It still is the first where a known response tells that it leaves less.
    """
    machine = state.profile.kind
    asked = (each.plan(state, answer) for each in CORRECTIONS if machine in each.machines)
    plans = [plan for plan in asked if plan is not None]
    if not plans:
        return None
    first, *others = plans
    enough = answer.judgement.accept_up_to or 0.0
    for other in others:
        left = _left(other)
        if left <= enough and not (state.shims.trials and _left(first) < left):
            return other
    return first


def _left(plan: Plan) -> float:
    return hypot(plan.expected_fb, plan.expected_rl)


# -- learning from the correction that was made ------------------------------------------


def learnt(state: State, answer: Answer) -> tuple[State, str]:
    """The state with the trial that this sweep completes; how the correction went."""
    plan, before = state.plan, state.as_left
    if before is None or (plan is None and state.came_back):
        return state, ""
    if plan is not None and plan.given_up:
        return state, ""
    if plan is not None:
        return made_by(plan).learn(state, plan, before, answer)
    again = state
    for each in CORRECTIONS:
        if state.profile.kind in each.machines:
            again = each.learn_again(again, before, answer)
    return (state, "") if again == state else (again, "")
