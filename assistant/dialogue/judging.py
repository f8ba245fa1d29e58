"""The answer of a sweep in words, and the next thing to do about it."""

from dataclasses import replace
from decimal import Decimal
from math import hypot, sqrt

from assistant.dialogue import prompts
from assistant.dialogue.amounts import (
    SPOKEN_STEP,
    amount,
    rounded,
    spoken_step,
    tolerance_words,
)
from assistant.dialogue.asking import Out, go
from assistant.dialogue.findings import ShimTrial, TapDone
from assistant.dialogue.head_planning import MOVES, begin, next_move, taught
from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Result, Step
from assistant.dialogue.packing_plan import (
    PACK_LENGTHWISE,
    PACKS,
    budget_of,
    next_packing,
    off,
    packed,
    packed_again,
)
from assistant.dialogue.phases import Phase
from assistant.dialogue.prompts import machines
from assistant.dialogue.reckoning import answer_of, reading_gain
from assistant.dialogue.repeating import moved_on, why_again
from assistant.dialogue.state import (
    FRONT_BACK,
    SIDES,
    Plan,
    State,
    shim_in_place,
)
from assistant.dialogue.touching import plan_by_touch
from assistant.metrology.answer import Answer
from assistant.metrology.judgement import as_expected, stands_out
from assistant.metrology.response import Step as TrialStep
from assistant.metrology.trial_check import check_step
from assistant.metrology.uncertainty import Budget, Source
from grammar.vocabulary import Station

SOURCES: dict[Source, str] = {
    "surface": "the surface",
    "resolution": "the dial",
    "relock": "the lock",
    "lock_pull": "the lock",
    "indicator": "the dial",
    "drift": "drift",
    "form": "the table's form",
    "response": "the shim",
    "leaves": "the leaves",
    "gauge": "the gauges",
    "sweeps": "between the sweeps",
    "end_play": "end play",
}
"""The sources of a budget as they are spoken of."""


def judge(state: State, said: str) -> Out:
    """A sweep is complete and fits: keep it with its answer, say it, and go on."""
    answer = answer_of(state, state.readings)
    learned, lesson = _learn(state, answer)
    if learned is not state:
        # What this sweep taught of shim or pivot changes what it asks for next.
        answer = answer_of(learned, state.readings)
    sweep = state.as_sweep(answer)
    again = moved_on(state.again, state.plan is not None)
    kept = replace(learned.kept(sweep), plan=None, again=again, tap_reading=None)
    several = len(kept.same_table) > 1
    unsure = uncertainty_words(answer, state.profile) if state.as_found is None or several else ""
    axes = axes_words(answer, state.profile)
    words = " ".join(part for part in (said, lesson, axes, unsure) if part)
    return advise(kept, words, Result(sweep.number, answer))


def advise(state: State, said: str, *effects: Result) -> Out:
    """Choose the next step from the last usable answer: finish, sweep again, shim or tap."""
    answer = state.as_left
    if state.profile.method == "touch":
        return plan_by_touch(state, said)
    if answer is None:
        return go(state, Phase.LOCK, said, *effects)
    if state.form.due:
        asked = replace(state, form=replace(state.form, due=False, corners=()))
        return go(asked, Phase.FORM, said, *effects)
    if answer.verdict == "within":
        word = prompts.within(tolerance_words(state.profile))
        return go(state, Phase.DECIDE, f"{said} {word}", *effects)
    reason = why_again(state, answer, next_plan(state, answer))
    if reason:
        return go(state, Phase.AGAIN, f"{said} {reason}".strip(), *effects)
    return correct(state, said, *effects)


def correct(state: State, said: str, *effects: Result) -> Out:
    """The next correction that is worth making, or the offer to finish if there is none."""
    answer = state.as_left
    plan = next_plan(state, answer) if answer else None
    if plan is None:
        word = _why_no_step(state, answer)
        return go(replace(state, plan=None), Phase.DECIDE, f"{said} {word}", *effects)
    return correct_now(replace(state, plan=plan), said, *effects)


def correct_now(state: State, said: str, *effects: Result) -> Out:
    """Begin the correction that is planned; a locating pin comes out before the first."""
    if state.profile.kind == "pinned" and not state.pin_out:
        return go(state, Phase.PIN, said, *effects)
    kind = state.plan.kind if state.plan else ""
    if kind in MOVES:
        return go(replace(state, moving=begin(state)), Phase.SNUG_UP, said, *effects)
    if kind in PACKS:
        return go(state, Phase.UNBOLT, said, *effects)
    return go(state, Phase.LOOSEN if kind == "shim" else Phase.EASE, said, *effects)


def _why_no_step(state: State, answer: Answer | None) -> str:
    if answer is None or answer.verdict == "beyond":
        return prompts.BEYOND
    if answer.verdict == "undecided":
        hint = "" if state.profile.surface else f" {prompts.SETTLE_HINT}"
        return f"{prompts.UNDECIDED} {prompts.NOT_WORTH_CHASING}{hint}"
    return prompts.NOT_WORTH_CHASING


def uncertainty_words(answer: Answer, profile: Profile) -> str:
    """The uncertainty in one breath, with its source when one makes up most of it."""
    budget = answer.budget.tilt
    most = max(budget.components, key=lambda part: part.u)
    source = SOURCES[most.source] if budget.share(most) > 0.5 else ""
    return prompts.plus_or_minus(amount(budget.expanded(), spoken_step(profile)), source)


def axes_words(answer: Answer, profile: Profile) -> str:
    """Both axes in words; what is inside the noise is said so, never called zero."""
    budget = answer.budget
    axes: tuple[tuple[float, Budget, Station, Station, str], ...] = (
        (answer.front_minus_back, budget.front_minus_back, "front", "back", FRONT_BACK),
        (answer.right_minus_left, budget.right_minus_left, "right", "left", SIDES),
    )
    if not any(stands_out(value, part) for value, part, *_ in axes):
        return prompts.BOTH_INSIDE_NOISE
    words = []
    for value, part, positive, negative, axis in axes:
        if stands_out(value, part):
            high = positive if value > 0 else negative
            words.append(prompts.high_side(high, amount(value, spoken_step(profile))))
        else:
            words.append(prompts.axis_inside_noise(axis))
    return " ".join(words)


# -- what to do next ---------------------------------------------------------------------


def next_plan(state: State, answer: Answer) -> Plan | None:
    """The correction to make: the one that alone ends the job, else the shim first.

    The shim goes first because loosening the tilt bolt disturbs the sides, too. A head or a
    free table is moved on either axis instead.
    """
    if state.profile.kind in ("head", "free"):
        return next_move(state, answer)
    if state.profile.kind == "packed":
        return next_packing(state, answer)
    shim = _shim_plan(state, answer)
    tap = _tap_plan(state, answer)
    if shim is None or tap is None:
        return shim or tap
    enough = answer.judgement.accept_up_to or 0.0
    after_tap, after_shim = (hypot(plan.expected_fb, plan.expected_rl) for plan in (tap, shim))
    sure = bool(state.trials)
    if after_tap <= enough and not (sure and after_shim < after_tap):
        return tap
    return shim


def _shim_plan(state: State, answer: Answer) -> Plan | None:
    off = answer.front_minus_back
    response = answer.shim.response
    if FRONT_BACK in state.axis_left_out or not stands_out(off, answer.budget.front_minus_back):
        return None
    if response.value <= 0:
        return None
    total, leaves = _shim_total(state, answer)
    change = total - state.shim
    if change == 0:
        return None
    expected = off - response.value * float(change)
    if state.trials and abs(expected) >= abs(off):
        return None
    place = shim_in_place(total)
    step = Step("shim", place=place.place, total=place.total, leaves=leaves)
    tipped = answer.coupling.shim_on_sides * float(change) if answer.coupling else 0.0
    return Plan("shim", step, expected, answer.right_minus_left + tipped, state.shim)


def _shim_total(state: State, answer: Answer) -> tuple[Decimal, tuple[Decimal, ...]]:
    """The signed total that should be in, and the leaves that make it."""
    plan = answer.shim
    response = plan.response
    # A guessed response holds back: a trial that hardly showed would ask for far too much.
    poorly_known = response.uncertainty > response.value / 3
    careful = sum(plan.next_leaves, Decimal(0)) != abs(state.shim)
    leaves = plan.next_leaves if poorly_known and careful else plan.leaves
    total = sum(leaves, Decimal(0))
    if not state.profile.stock and plan.total is not None:
        total = rounded(plan.total, SPOKEN_STEP)
    return (total if plan.place == "above" else -total), leaves


def _tap_plan(state: State, answer: Answer) -> Plan | None:
    off = answer.right_minus_left
    if SIDES in state.axis_left_out or not stands_out(off, answer.budget.right_minus_left):
        return None
    if answer.tap.dial_target is None or answer.tap.change == 0:
        return None
    target = rounded(answer.tap.dial_target, state.profile.scale.step)
    change = rounded(answer.tap.change, state.profile.scale.step)
    step = Step("tap", station=answer.tap.watch, change=change, dial_target=target)
    nodded = answer.coupling.tap_on_front * float(change) if answer.coupling else 0.0
    return Plan("tap", step, answer.front_minus_back + nodded, 0.0, state.shim)


# -- learning from the correction that was made ------------------------------------------


def _learn(state: State, answer: Answer) -> tuple[State, str]:
    """Add the trial that this sweep completes; say how the correction went."""
    plan, before = state.plan, state.as_left
    if before is None:
        return state, ""
    if plan is None and state.came_back:
        return state, ""
    if plan is None:
        return _learn_again(state, before, answer), ""
    if plan.kind in MOVES:
        return _learn_move(state, plan, before, answer)
    if plan.kind in PACKS:
        return _learn_packing(state, plan, before, answer)
    if plan.kind == "tap":
        return _learn_tap(state, plan, before, answer)
    if state.shim == plan.shim_before:
        return state, ""
    u = answer.budget.front_minus_back.u
    was, now = before.front_minus_back, answer.front_minus_back
    sides = before.right_minus_left, answer.right_minus_left
    trial = ShimTrial(plan.shim_before, state.shim, was, now, *sides)
    learned = replace(state, trials=(*state.trials, trial))
    step = TrialStep(float(plan.shim_before), was, float(state.shim), now)
    match check_step(step, before.shim.response, u):
        case "none" | "too_small" if abs(was - plan.expected_fb) > 4 * sqrt(2) * u:
            # Not a trial: learnt from, it would ask for a shim many times too thick.
            return state, prompts.NO_RESPONSE
        case "wrong_way":
            # Nor this: the shim sits on the wrong side, or something else moved.
            return state, prompts.WRONG_WAY
        case _ if not state.trials:
            # The first trial is made to learn the response; there was no real expectation.
            return learned, ""
        case _:
            return learned, _lesson_words(plan.expected_fb, now, u, was, state.profile)


def _learn_again(state: State, before: Answer, answer: Answer) -> State:
    """Another sweep of the same table tells better what the last shim and tap came to."""
    trials, taps = state.trials, state.taps
    if trials and trials[-1].after == before.front_minus_back:
        now = answer.front_minus_back, answer.right_minus_left
        trials = (*trials[:-1], replace(trials[-1], after=now[0], side_after=now[1]))
    if taps and taps[-1].after == before.right_minus_left:
        now = answer.front_minus_back, answer.right_minus_left
        taps = (*taps[:-1], replace(taps[-1], after=now[1], front_after=now[0]))
    packing = packed_again(state.packing, before, answer)
    if (trials, taps, packing) == (state.trials, state.taps, state.packing):
        return state
    return replace(state, trials=trials, taps=taps, packing=packing)


def _learn_tap(state: State, plan: Plan, before: Answer, answer: Answer) -> tuple[State, str]:
    """A tap shows where the table pivots: how far both sides went for what the dial did."""
    part, was, now = (
        answer.budget.right_minus_left,
        before.right_minus_left,
        answer.right_minus_left,
    )
    words = _lesson_words(plan.expected_rl, now, part.u, was, state.profile)
    step = plan.step
    if state.tap_reading is None or step.dial_target is None or step.change is None:
        return state, words
    # The dial stood at target less change when the tapping began, as far as the dial shows it.
    gain = reading_gain(state.profile)
    change = (state.tap_reading - step.dial_target) * gain + step.change
    if not change:
        return state, words
    fronts = before.front_minus_back, answer.front_minus_back
    return replace(state, taps=(*state.taps, TapDone(change, was, now, *fronts))), words


def _learn_packing(state: State, plan: Plan, before: Answer, answer: Answer) -> tuple[State, str]:
    """A shim under one side: what it did to the difference of its axis."""
    learnt, told = packed(state, plan, before, answer)
    if told is None:
        expected = plan.expected_fb if plan.kind == PACK_LENGTHWISE else plan.expected_rl
        was, now = off(before, plan.kind), off(answer, plan.kind)
        told = _lesson_words(expected, now, budget_of(answer, plan.kind).u, was, state.profile)
    return replace(state, packing=learnt), told


def _learn_move(state: State, plan: Plan, before: Answer, answer: Answer) -> tuple[State, str]:
    """A move of head or table: what it did to the difference, for what the dial did."""
    front = plan.kind == "nod"
    part = answer.budget.front_minus_back if front else answer.budget.right_minus_left
    was, expected, now = (
        (before.front_minus_back, plan.expected_fb, answer.front_minus_back)
        if front
        else (before.right_minus_left, plan.expected_rl, answer.right_minus_left)
    )
    moved = state.moving.reading is not None or state.moving.tight is not None
    noise = 2 * sqrt(2) * part.u
    if moved and abs(was - expected) > 2 * noise and abs(was - now) <= noise:
        # Not a move: learnt from, it would ask for one many times too far.
        return state, machines.MOVE_NOT_HELD
    learnt = replace(state, moving=taught(state, plan, before, answer))
    return learnt, _lesson_words(expected, now, part.u, was, state.profile) if moved else ""


def _lesson_words(expected: float, got: float, u: float, before: float, profile: Profile) -> str:
    # A correction by hand repeats to about a quarter of itself (common practice, no source).
    if as_expected(got, expected, u, hypot(u, abs(before - expected) / 8)):
        return prompts.AS_EXPECTED
    step = spoken_step(profile)
    return prompts.not_as_expected(rounded(expected, step), rounded(got, step))


def tilt_words(answer: Answer | None, profile: Profile) -> str:
    """The tilt of an answer as it is spoken, never called zero; nothing without an answer."""
    if answer is None:
        return ""
    if answer.inside_noise:
        return prompts.INSIDE_NOISE
    return amount(answer.tilt, spoken_step(profile))
