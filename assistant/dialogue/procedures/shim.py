"""Front to back by a shim at the tilt bolt: how much, in the person's own words, what it did."""

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from math import copysign, sqrt
from typing import Final

from assistant.dialogue.answer_words import lesson_words
from assistant.dialogue.corrections import Correction, left_out
from assistant.dialogue.facts import ShimTrial
from assistant.dialogue.formatting import SPOKEN_STEP, rounded, signed_digits
from assistant.dialogue.machine import SHIMMED
from assistant.dialogue.messages import Effect, Heard, Step
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.sweep import back_to_sweep
from assistant.dialogue.returns import LOOSE_SOMEWHERE
from assistant.dialogue.rows import Procedure, Row
from assistant.dialogue.spoken import spoken
from assistant.dialogue.state import FRONT_BACK, Plan, State, shim_in_place
from assistant.dialogue.sweep_answer import difference_here, poorly_known
from assistant.dialogue.turn import Outcome, Turn, ask, go
from assistant.dialogue.wording import NO_RESPONSE, WRONG_WAY
from assistant.metrology.answer import Answer
from assistant.metrology.causes import LOOKED_AT, did_nothing
from assistant.metrology.response import TrialStep as TrialStep
from assistant.metrology.trial_check import check_step, left_uncertainty
from grammar.meaning import Place, Shim
from grammar.numerals import number_words


class Bolt(Phase):
    """The hands at the tilt bolt."""

    LOOSEN = "loosen"
    SHIM = "shim"
    TIGHTEN = "tighten"
    BOTH = "loosen and shim"
    STILL = "bolt still tight"


# -- words -------------------------------------------------------------------------------
LOOSEN: Final = "Hold the table. Loosen the tilt bolt. Done?"  # before the shim


@spoken
def shim(
    leaves: Sequence[Decimal], total: Decimal, place: Place, there: Decimal = Decimal(0)
) -> str:
    """What should be in afterwards; ``there`` is in now, at the same place, negative at the other.

    The whole and what to add to it are both said: "three" could be meant either way.
    """
    stack = f". Leaves {' and '.join(map(number_words, leaves))}" if len(leaves) > 1 else ""
    if there < 0:
        other = "below" if place == "above" else "above"
        return (
            f"Take out what is {other}. Shim {number_words(total)} {place} the bolt{stack}. Done?"
        )
    if there == 0:
        return f"Shim {number_words(total)} {place} the bolt{stack}. Fingers clear. Done?"
    if there == total:
        return f"{number_words(total).capitalize()} is in {place} the bolt. Done? Or call another."
    change = f"Add {number_words(total - there)}."
    if total < there:
        change = f"Take out {number_words(there - total)}."
    return f"{number_words(total).capitalize()} in all {place} the bolt{stack}. {change} Done?"


SHIM_OUT: Final = "Take the shim out. Done?"  # the best shim is none


@spoken
def shim_is(total: Decimal, place: Place | None) -> str:
    """Read back what the person says is in."""
    if total == 0 or place is None:
        return "No shim."
    return f"Shim {number_words(total)} {place}."


SHIM_WHERE: Final = "Above or below the bolt?"  # a shim was called without its side
TIGHTEN: Final = "Tighten the bolt. Lock all. Say locked."  # after the shim

TIGHT: Final = "Bolt tight, all locked?"  # the same in the short form


@spoken
def loosen_and(shim_words: str) -> str:
    """Bolt and shim in one, for who knows the job."""
    return f"Hold the table. Loosen the bolt. {shim_words}"


STILL_TIGHT: Final = "Bolt still tight?"
"""The shim is left out in the short form, where the bolt may have been loosened already."""

SEIZED_FRONT: Final = "Front to back won't move. Seized, or pinned? Leave it."
"""A shim did nothing, nor did it after its clamping was checked."""

LOOSE_FROM = 5.0
"""Standard deviations of a difference by which tightening once more moves what was loose."""

LEAST_SHARE = 0.25
"""Part of what was expected that a shim must do at least to count, once it was checked."""

CHECKS = 1
"""How often the clamping of a shim that did nothing is checked."""


# -- the hands ---------------------------------------------------------------------------

LOOSEN_BOLT: Final = Step("loosen", what="tilt bolt")


def _shim_asked(state: State) -> str:
    step = state.plan.step if state.plan else None
    if step is None or not step.total or step.place is None:
        return SHIM_OUT
    there = state.shims.total if step.place == "above" else -state.shims.total
    return shim(step.leaves, step.total, step.place, there)


def _both_asked(state: State) -> str:
    return loosen_and(_shim_asked(state))


def _both_steps(state: State) -> tuple[Step, ...]:
    """Both at once: whoever plays the hands knows the shim before it is said to be in."""
    return (LOOSEN_BOLT, state.plan.step) if state.plan else (LOOSEN_BOLT,)


def _shim_done(state: State, _: Heard) -> Turn:
    """The shim is in as it was told."""
    step = state.plan.step if state.plan else None
    if step is None or step.total is None:
        return go(state, Bolt.TIGHTEN)
    total = -step.total if step.place == "below" else step.total
    return go(_with(state, total), Bolt.TIGHTEN)


def _shim_called(state: State, called: Shim) -> Turn:
    """The person says what is really in; that is what the trial will be weighed by."""
    place = called.place
    if place is None and called.total:
        planned = state.plan.step.place if state.plan else None
        place = planned or shim_in_place(state.shims.total).place
        if place is None:
            return ask(state, SHIM_WHERE)
    total = -called.total if place == "below" else called.total
    return go(_with(state, total), Bolt.TIGHTEN, shim_is(called.total, place))


def _with(state: State, total: Decimal) -> State:
    return replace(state, shims=replace(state.shims, total=total))


def _taken_out_again(state: State, heard: Heard) -> Turn:
    """ "Disregard" while tightening: the shim counts as it was before.

    Where only its clamping is checked it is the sweep that is meant.
    """
    if to_be_checked(state) and state.plan == _last_plan(state):
        return back_to_sweep(state, heard)
    before = state.shims.total if state.plan is None else state.plan.shim_before
    return go(_with(state, before), Bolt.BOTH if state.short else Bolt.SHIM)


def _withheld(state: State) -> tuple[str, ...]:
    """What another shim did is swept first, whatever comes then."""
    return ("skip", "finish") if state.shim_unswept else ()


def _tighten_first(state: State, _: Heard) -> Turn:
    """The shim is not wanted, but the bolt was loosened for it: tighten, and sweep again."""
    without = (*state.axis_left_out, FRONT_BACK)
    return go(replace(state, axis_left_out=without, loosened=True), Bolt.TIGHTEN)


def _shows(state: State) -> tuple[str, str]:
    step = state.plan.step if state.plan else None
    if step is None or step.total is None:
        return "", ""
    total = signed_digits(step.total).lstrip("+")
    return total, f"shim {step.place} the bolt" if step.place else "shim"


# -- the plan ----------------------------------------------------------------------------


def _plan(state: State, answer: Answer) -> tuple[Plan, ...]:
    off = answer.front_minus_back
    response = answer.shim.response
    if FRONT_BACK in state.axis_left_out or response.value <= 0:
        return ()
    total, leaves = _shim_total(state, answer)
    change = total - state.shims.total
    if change == 0:
        return ()
    expected = off - response.value * float(change)
    place = shim_in_place(total)
    step = Step("shim", place=place.place, total=place.total, leaves=leaves)
    tipped = answer.coupling.shim_on_sides * float(change) if answer.coupling else 0.0
    sides, now_in = answer.right_minus_left + tipped, state.shims.total
    return (Plan("shim", step, expected, sides, now_in, response=response),)


def _shim_total(state: State, answer: Answer) -> tuple[Decimal, tuple[Decimal, ...]]:
    """The signed total that should be in, and the leaves that make it."""
    plan = answer.shim
    # A guessed response holds back: a trial that hardly showed would ask for far too much.
    careful = sum(plan.next_leaves, Decimal(0)) != abs(state.shims.total)
    leaves = plan.next_leaves if poorly_known(plan.response) and careful else plan.leaves
    total = sum(leaves, Decimal(0))
    if not state.profile.stock and plan.total is not None:
        total = rounded(plan.total, SPOKEN_STEP)
    return (total if plan.place == "above" else -total), leaves


def _learn(state: State, plan: Plan, before: Answer, answer: Answer) -> tuple[State, str]:
    """What the shim did to front minus back, unless it says nothing."""
    if state.shims.total == plan.shim_before:
        return state, ""
    checked = state.shims.did_nothing > 0
    if checked and len(state.usable_sweeps) > 1:
        # The sweep before this one was read with the same shim in: it goes by the one before that.
        before = state.usable_sweeps[-2].answer
    known = before.shim.response
    u = difference_here(state)
    was, now = before.front_minus_back, answer.front_minus_back
    sides = before.right_minus_left, answer.right_minus_left
    trial = ShimTrial(plan.shim_before, state.shims.total, was, now, *sides)
    step = TrialStep(float(plan.shim_before), was, float(state.shims.total), now)
    found = check_step(step, known, u)
    # The same shim, and yet it stands elsewhere.
    elsewhere = checked and abs(now - state.usable_sweeps[-1].answer.front_minus_back)
    loose = elsewhere > LOOSE_FROM * u
    if found == "none" and not loose:
        # Thin ones may not show.
        added = float(state.shims.total - plan.shim_before)
        effect, spread = (was - now) * copysign(1, added), known.uncertainty / known.value
        odds = did_nothing(effect, known.value * abs(added), spread, sqrt(2) * u)
        found = "none" if odds >= LOOKED_AT else "too_small"
    share = (was - now) / (was - plan.expected_fb)
    if found == "wrong_way" or (found == "none" and not (checked and share > LEAST_SHARE)):
        # No trial: learnt from, it would ask for a shim many times too thick.
        if loose:
            # It was loose, and starts over from here.
            return replace(state, shims=replace(state.shims, did_nothing=0)), LOOSE_SOMEWHERE
        return _did_nothing(state, wrong=found == "wrong_way")
    shims = replace(state.shims, trials=(*state.shims.trials, trial), did_nothing=0)
    learned = replace(state, shims=shims)
    if not state.shims.trials and poorly_known(known):
        # The first trial is made to learn the response; there was no real expectation.
        return learned, ""
    change = float(state.shims.total - plan.shim_before)
    forecast = left_uncertainty(known, change, u)
    return learned, lesson_words(plan.expected_fb, now, forecast, state.profile)


def _did_nothing(state: State, *, wrong: bool) -> tuple[State, str]:
    """The clamping is checked first; after that this axis is left as it is, and the cause told."""
    times = state.shims.did_nothing + 1
    counted = replace(state, shims=replace(state.shims, did_nothing=times, wrong_way=wrong))
    if times <= CHECKS:
        return counted, WRONG_WAY if wrong else NO_RESPONSE
    return replace(counted, axis_left_out=(*state.axis_left_out, FRONT_BACK)), SEIZED_FRONT


def to_be_checked(state: State) -> bool:
    """Whether the last shim did nothing, so that its clamping is to be looked at."""
    return 0 < state.shims.did_nothing <= CHECKS and _last_plan(state) is not None


def once_more(state: State, said: str, *effects: Effect) -> Turn:
    """The same shim tightened once more, to be weighed as what it should have done.

    Where it went the wrong way it is told in full again: it may sit on the other side.
    """
    again = replace(state, plan=_last_plan(state))
    begins = CORRECTION.begun(state) if state.shims.wrong_way else Bolt.TIGHTEN
    return go(again, begins, said, *effects)


def _last_plan(state: State) -> Plan | None:
    plan = state.usable_sweeps[-1].before.plan if state.usable_sweeps else None
    made = plan is not None and plan.kind == "shim" and not plan.given_up
    return plan if made else None


def _learn_again(state: State, before: Answer, answer: Answer) -> State:
    trials = state.shims.trials
    if not trials or trials[-1].after != before.front_minus_back:
        return state
    now = answer.front_minus_back, answer.right_minus_left
    better = replace(trials[-1], after=now[0], side_after=now[1])
    return replace(state, shims=replace(state.shims, trials=(*trials[:-1], better)))


CORRECTION = Correction(
    SHIMMED, ("shim",), Bolt.LOOSEN, _plan, _learn, _learn_again, short=Bolt.BOTH
)

PROCEDURE = Procedure(
    (
        Row(
            Bolt.LOOSEN,
            "LOOSE",
            LOOSEN,
            {
                "done": Bolt.SHIM,
                "skip": lambda state, _: left_out(state, FRONT_BACK),
                "finish": Outcome.FINISH,
                "disregard": back_to_sweep,
            },
            weighty=("skip", "finish"),
            loose=True,
            withheld=_withheld,
            step=LOOSEN_BOLT,
            left="correct",
            how="Jack under the table. A half turn will do.",
        ),
        Row(
            Bolt.SHIM,
            "SHIM",
            _shim_asked,
            {"done": _shim_done, "skip": Bolt.TIGHTEN, "disregard": Bolt.LOOSEN},
            weighty=("skip",),
            on_shim=_shim_called,
            loose=True,
            step=lambda state: state.plan.step if state.plan else None,
            shows=_shows,
            left="correct",
            how="Beside the bolt, between table and arm.",
        ),
        Row(
            Bolt.TIGHTEN,
            "LOCK",
            TIGHTEN,
            {"locked": Outcome.MEASURE, "disregard": _taken_out_again},
            readings=True,
            loose=True,
            step=Step("tighten", what="tilt bolt and locks"),
            short=TIGHT,
            left="tighten",
            how="As tight as it was, then every lock.",
        ),
        Row(
            Bolt.BOTH,
            "SHIM",
            _both_asked,
            {
                "done": _shim_done,
                "skip": Bolt.STILL,
                "finish": Outcome.FINISH,
                "disregard": back_to_sweep,
            },
            weighty=("finish",),
            on_shim=_shim_called,
            loose=True,
            withheld=_withheld,
            step=_both_steps,
            shows=_shows,
            left="correct",
            how="A half turn will do. Shim beside the bolt.",
        ),
        Row(
            Bolt.STILL,
            "TIGHT?",
            STILL_TIGHT,
            {
                "yes": lambda state, _: left_out(state, FRONT_BACK),
                "no": _tighten_first,
                "disregard": Bolt.BOTH,
            },
            loose=True,
            how="No if you loosened it.",
            left="tighten",
        ),
    ),
)
