"""Which correction next, or stop: the choice after every sweep, and what a correction taught."""

from dataclasses import replace
from typing import Final

from assistant.dialogue.corrections import Correction
from assistant.dialogue.facts import Reread
from assistant.dialogue.formatting import amount, spoken_step, tolerance_words
from assistant.dialogue.messages import Effect
from assistant.dialogue.procedures import head, noise, packing, pin, repeat, shim, tap, touch
from assistant.dialogue.procedures.close import BEYOND, NOT_WORTH_CHASING, Close, within
from assistant.dialogue.procedures.form import Form, can_look, read_corners
from assistant.dialogue.procedures.lock import Lock
from assistant.dialogue.spoken import spoken
from assistant.dialogue.state import NOD, PACK_LENGTHWISE, Plan, State
from assistant.dialogue.sweep_answer import poorly_known
from assistant.dialogue.turn import Outcome, Turn, done, go
from assistant.dialogue.weighing import (
    AGAIN,
    CORNERS,
    MOST_SWEEPS,
    SETTLE,
    best_plan,
    choice_of,
)
from assistant.dialogue.wording import UNDECIDED
from assistant.metrology.answer import Answer
from assistant.metrology.benefit import Choice
from assistant.metrology.uncertainty import Source

CORRECTIONS: tuple[Correction, ...] = (
    shim.CORRECTION,
    tap.CORRECTION,
    head.CORRECTION,
    packing.CORRECTION,
)
"""Of two that bring the same the first is made: loosening the tilt bolt disturbs the sides, too."""

NOISE_GUESSED: Final = "The roughness is only guessed."  # before it is measured in passing

FOUR_MORE: Final = "Four more between, to be surer."  # before the corners are read for the tilt

JUST_WITHIN: Final = "Just within."  # proven, but another sweep would make it surer

LIKELY: Final = "Likely within, not proven."
"""More likely within tolerance than not, and nothing that could be done would prove it."""

NOTHING_HELPS: Final = "No step left would surely help."  # out of tolerance, and yet

ANOTHER_MAY_TELL: Final = "Another sweep may tell."  # one was not wanted

SAME_SPOTS: Final = "Those look like the same spots."  # read as if they were not moved on
OTHER_SPOTS_TELL: Final = "Other spots would tell."  # the same at the end

STAYED_LIKELY = 0.8
"""From this probability on it is said: of 190 jobs of people who moved on one was told so (classes
rough, ordinary, quiet and metric of ``tests.benchmarks.study``)."""

ROUGH_HIDES: Final = "The table is too rough to tell."
"""Sweeps at other spots were made, or would not be enough."""

STEADIER_WOULD_TELL: Final = "A steadier dial would tell."  # it drifts, or does not come back
FINER_WOULD_TELL: Final = "A finer dial would tell."  # its step makes most of the doubt

_TELLS: Final[dict[Source, str]] = {
    "surface": ROUGH_HIDES,
    "form": ROUGH_HIDES,
    "drift": STEADIER_WOULD_TELL,
    "reading": STEADIER_WOULD_TELL,
    "end_play": STEADIER_WOULD_TELL,
    "sweeps": STEADIER_WOULD_TELL,
    "resolution": FINER_WOULD_TELL,
    "indicator": FINER_WOULD_TELL,
    "gauge": FINER_WOULD_TELL,
}
"""What a doubt is mostly of, and what would end it."""

MOST_IN_A_JOB = 10
"""Sweeps after which nothing is corrected any more: what has not helped so far will not."""

MOST_TO_PROVE = 12
"""Sweeps up to which the table as it was left may still be swept again."""

ONE_MORE = 1
"""Sweeps more for a correction, where the table would be left out and worse than it was found."""

AS_LAST_TIME: Final = "Reckoned by last time."  # a shim's effect was learnt at an earlier job

TRIAL_SHIM: Final = "A trial shim first."  # how much a shim moves the table is not known yet


@spoken
def should_leave(left: str) -> str:
    """What a correction should leave of what it corrects, without sign."""
    return f"Should leave about {left}."


# -- what now ----------------------------------------------------------------------------


def advise(state: State, said: str, *effects: Effect) -> Turn:
    """Choose the next step from the last usable answer, by what it should bring."""
    answer = state.as_left
    if state.profile.method == "touch":
        return _by_touch(state, said)
    if answer is None:
        return go(state, Lock.LOCK, said, *effects)
    if state.form.due:
        asked = replace(state, form=replace(state.form, due=False, corners=()))
        return go(asked, Form.FORM, said, *effects)
    if shim.to_be_checked(state):
        return shim.once_more(state, said, *effects)
    plans, measures = plans_of(state, answer), _measures(state)
    if len(state.sweeps) >= MOST_IN_A_JOB:
        plans = plans if _left_worse(state, answer) else ()
    choice = choice_of(state, answer, plans, measures)
    if choice.option is None:
        return _leave(state, choice, said, *effects)
    return _do(state, answer, choice.option.name, plans, said, *effects)


def _left_worse(state: State, answer: Answer) -> bool:
    """Whether an end now would leave the table proven out, and worse than it was found."""
    found = state.as_found
    if found is None or len(state.sweeps) >= MOST_IN_A_JOB + ONE_MORE:
        return False
    return answer.verdict == "beyond" and answer.tilt > found.tilt


def _do(
    state: State, answer: Answer, name: str, plans: tuple[Plan, ...], said: str, *effects: Effect
) -> Turn:
    """Begin what was chosen."""
    if name == SETTLE:
        turn = noise.in_passing(state, f"{said} {NOISE_GUESSED}".strip())
    elif name == CORNERS:
        turn = read_corners(state, f"{said} {FOUR_MORE}".strip())
    elif name == AGAIN:
        word = JUST_WITHIN if answer.verdict == "within" else UNDECIDED
        if answer.stayed >= STAYED_LIKELY:
            word = f"{word} {SAME_SPOTS}"
        turn = go(state, repeat.Repeat.AGAIN, f"{said} {word}".strip())
    else:
        plan = next(each for each in plans if each.kind == name)
        return correct_now(replace(state, plan=plan), said, *effects)
    return replace(turn, effects=(*effects, *turn.effects))


def _leave(state: State, choice: Choice, said: str, *effects: Effect) -> Turn:
    """Nothing is to be done: say how it stands, and offer the end."""
    word, ends = UNDECIDED, Close.DECIDE
    if choice.reason == "proven":
        word = within(tolerance_words(state.profile))
        ends = Close.CLOSE if state.short else Close.DECIDE
    elif choice.reason == "good_enough":
        word = f"{LIKELY} {_would_tell(state)}".strip()
    elif choice.reason == "cannot_tell":
        word = f"{UNDECIDED} {_would_tell(state)}".strip()
    elif choice.reason == "cannot_help":
        word = f"{BEYOND} {NOTHING_HELPS}"
    return go(replace(state, plan=None), ends, f"{said} {word}".strip(), *effects)


def _would_tell(state: State) -> str:
    """What would end the doubt that a job is left with; nothing where no one thing would."""
    answer = state.as_left
    if answer is not None and answer.stayed >= STAYED_LIKELY:
        return OTHER_SPOTS_TELL
    if state.again.declined or state.form.declined:
        return ANOTHER_MAY_TELL
    largest = answer.budget.tilt.largest if answer is not None else None
    return _TELLS.get(largest.source, "") if largest is not None else ""


def _measures(state: State) -> tuple[str, ...]:
    """What could be measured now that was not, and was not declined.

    Whoever knows the job asks for more stations or for settling, and is not sent there.
    """
    found = []
    if not state.short and not state.measuring.asked and not state.profile.surface:
        found.append(SETTLE)
    last = state.sweeps[-1] if state.sweeps else None
    read_on = can_look(state) and not state.form.declined and not state.short
    if read_on and last is not None and not last.corners:
        found.append(CORNERS)
    few = len(state.same_table) < MOST_SWEEPS and len(state.sweeps) < MOST_TO_PROVE
    if not state.again.declined and few:
        found.append(AGAIN)
    return tuple(found)


def correct(state: State, said: str, *effects: Effect) -> Turn:
    """The correction that should bring most, asked for whatever the verdict; or the end."""
    answer = state.as_left
    plan = next_plan(state, answer) if answer else None
    if plan is None:
        beyond = answer is None or answer.verdict == "beyond"
        word = BEYOND if beyond else NOT_WORTH_CHASING
        return go(replace(state, plan=None), Close.DECIDE, f"{said} {word}".strip(), *effects)
    return correct_now(replace(state, plan=plan), said, *effects)


def correct_now(state: State, said: str, *effects: Effect) -> Turn:
    """Begin the correction that is planned; a locating pin comes out before the first."""
    if pin.due(state):
        return go(state, pin.Pin.PIN, said, *effects)
    correction = correction_of(state.plan) if state.plan else tap.CORRECTION
    state = replace(state, reread=Reread())
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
    if response is not None and not response.trials and poorly_known(response):
        return TRIAL_SHIM
    lengthwise = plan.kind in ("shim", NOD, PACK_LENGTHWISE)
    left = plan.expected_fb if lengthwise else plan.expected_rl
    words = should_leave(amount(left, spoken_step(state.profile)))
    by_last_time = response is not None and not response.trials and state.last is not None
    return f"{AS_LAST_TIME} {words}" if by_last_time else words


def _by_touch(state: State, said: str) -> Turn:
    """The same by touch, where nothing is measured and no tolerance proven."""
    if not state.touch.rounds:
        return done(state, Outcome.MEASURE, said)
    plan, word = touch.plan_by_touch(state)
    planned = replace(state, plan=plan)
    if plan is None:
        told = " ".join(part for part in (said, word, touch.NO_PROOF) if part)
        return go(planned, Close.DECIDE, told)
    return go(planned, correction_of(plan).begun(planned), said)


# -- which correction --------------------------------------------------------------------


def correction_of(plan: Plan) -> Correction:
    """The correction that a plan belongs to."""
    return next(each for each in CORRECTIONS if plan.kind in each.plans)


def plans_of(state: State, answer: Answer) -> tuple[Plan, ...]:
    """Every correction that could be made to this machine after this answer."""
    machine = state.profile.kind
    return tuple(
        plan
        for each in CORRECTIONS
        if machine in each.machines
        for plan in each.plan(state, answer)
    )


def next_plan(state: State, answer: Answer) -> Plan | None:
    """The correction that should bring most; None where none brings anything."""
    return best_plan(state, answer, plans_of(state, answer))


# -- learning from the correction that was made ------------------------------------------


def learnt(state: State, answer: Answer) -> tuple[State, str]:
    """The state with the trial that this sweep completes; how the correction went."""
    plan, before = state.plan, state.as_left
    if before is None or (plan is None and state.came_back):
        return state, ""
    if plan is not None and plan.given_up:
        return state, ""
    if plan is not None:
        return correction_of(plan).learn(state, plan, before, answer)
    made = next((one.before.plan for one in reversed(state.usable_sweeps) if one.before.plan), None)
    if made is None or made.given_up:
        return state, ""
    # The readings of another axis may be the same by chance: only the last correction is meant.
    again = correction_of(made).learn_again(state, before, answer)
    return (state, "") if again == state else (again, "")
