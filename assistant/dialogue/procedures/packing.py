"""Setting both axes by shims under the low side: a vise, a box table, anything on plain feet.

It is the shim at a tilt bolt twice over, one axis at a time: under the back what is above a
bolt, and likewise under the left. The response begins at sweep diameter over the distance of
the shims (similar triangles).
"""

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Final

from assistant.dialogue.answer_words import lesson_words
from assistant.dialogue.corrections import Correction, left_out
from assistant.dialogue.facts import Packing, PackTrial
from assistant.dialogue.formatting import SPOKEN_STEP, rounded, signed_digits
from assistant.dialogue.messages import Heard, Step
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.sweep import back_to_sweep
from assistant.dialogue.rows import Procedure, Row
from assistant.dialogue.spoken import spoken
from assistant.dialogue.state import FRONT_BACK, PACK_LENGTHWISE, PACK_SIDES, SIDES, Plan, State
from assistant.dialogue.sweep_answer import (
    count_unit,
    difference_here,
    from_last_job,
    moved_by_hand,
    noise_of,
    poorly_known,
)
from assistant.dialogue.turn import Outcome, Turn, go
from assistant.dialogue.wording import NO_RESPONSE, WRONG_WAY
from assistant.metrology.answer import Answer
from assistant.metrology.response import Response, learn_positive, prior_response
from assistant.metrology.response import TrialStep as TrialStep
from assistant.metrology.scatter import difference_sd
from assistant.metrology.shims import ShimPlan, plan_shim
from assistant.metrology.trial_check import check_step
from grammar.meaning import Shim
from grammar.numerals import number_words
from grammar.vocabulary import Station


class Feet(Phase):
    """The hands at the feet: bolts eased, shims put under the low side, bolted down again."""

    UNBOLT = "unbolt"
    PACK = "shim under"
    BOLT_DOWN = "bolt down"


PACKS = (PACK_LENGTHWISE, PACK_SIDES)

ENDS: dict[str, tuple[Station, Station]] = {
    PACK_LENGTHWISE: ("back", "front"),
    PACK_SIDES: ("left", "right"),
}
"""The sides under which a shim counts as positive, and as negative."""

AXES = {PACK_LENGTHWISE: FRONT_BACK, PACK_SIDES: SIDES}

# -- words -------------------------------------------------------------------------------

UNBOLT: Final = "Ease the bolts. Pry, fingers out. Done?"
"""A heavy base comes down on whatever is under it."""

BOLT_DOWN: Final = "Bolt down evenly, crosswise. Say locked."
"""Bolts pulled one after the other bend what lies hollow."""


@spoken
def under(leaves: Sequence[Decimal], total: Decimal, side: Station, other: Station | None) -> str:
    """The whole shim that should be under one side; ``other``: the side to take one out of."""
    stack = " and ".join(number_words(leaf) for leaf in leaves)
    made_of = f": {stack}" if len(leaves) > 1 else ""
    put = f"{number_words(total)} under the {side}{made_of}. Done?"
    return f"{other.capitalize()} out. {put[0].upper()}{put[1:]}" if other else f"Shim {put}"


@spoken
def out(side: Station) -> str:
    """The best shim under this axis is none."""
    return f"Take the shim at the {side} out. Done?"


@spoken
def is_under(total: Decimal, side: Station) -> str:
    """Read back what the person says is in."""
    return f"Shim {number_words(total)} under the {side}." if total else "No shim."


# -- the hands ---------------------------------------------------------------------------


def _pack_asked(state: State) -> str:
    plan = state.plan
    step = plan.step if plan else None
    if plan is None or step is None or step.station is None:
        return BOLT_DOWN
    if not step.total:
        return out(step.station)
    plus, minus = ENDS[plan.kind]
    over = plan.shim_before and (plan.shim_before > 0) != (step.station == plus)
    other = (minus if step.station == plus else plus) if over else None
    return under(step.leaves, step.total, step.station, other)


def _left_out(state: State, _: Heard) -> Turn:
    packs = state.plan is not None and state.plan.kind in PACKS
    return left_out(state, AXES[state.plan.kind] if state.plan and packs else FRONT_BACK)


def _packed_as_told(state: State, _: Heard) -> Turn:
    total = (state.plan.step.total if state.plan else None) or Decimal(0)
    return go(_with(state, total), Feet.BOLT_DOWN)


def _called(state: State, shim: Shim) -> Turn:
    """The person says what is really in, under the side that was told."""
    side = (state.plan.step.station if state.plan else None) or "back"
    return go(_with(state, shim.total), Feet.BOLT_DOWN, is_under(shim.total, side))


def _back(state: State, _: Heard) -> Turn:
    """ "Disregard" while bolting down: the shim counts as it was before."""
    if state.plan is None:
        return go(state, Feet.UNBOLT)
    return go(fitted_with(state, state.plan.kind, state.plan.shim_before), Feet.PACK)


def _with(state: State, total: Decimal) -> State:
    plan = state.plan
    if plan is None:
        return state
    negative = plan.step.station == ENDS[plan.kind][1]
    return fitted_with(state, plan.kind, -total if negative else total)


def fitted_with(state: State, kind: str, signed: Decimal) -> State:
    """The state with this signed shim in, under the axis of that kind of plan."""
    packing = state.packing
    if kind == PACK_LENGTHWISE:
        return replace(state, packing=replace(packing, under_back=signed))
    return replace(state, packing=replace(packing, under_left=signed))


def _shows(state: State) -> tuple[str, str]:
    step = state.plan.step if state.plan else None
    if step is None or step.total is None:
        return "", ""
    return signed_digits(step.total).lstrip("+"), f"shim under the {step.station}"


# -- the plan ----------------------------------------------------------------------------


def axis_misfit(answer: Answer, kind: str) -> float:
    """The difference that this axis has to lose: front minus back, or right minus left."""
    return answer.front_minus_back if kind == PACK_LENGTHWISE else answer.right_minus_left


def fitted(state: State, kind: str) -> Decimal:
    """The signed shim that is in."""
    packing = state.packing
    return packing.under_back if kind == PACK_LENGTHWISE else packing.under_left


def trials_of(state: State, kind: str) -> tuple[PackTrial, ...]:
    """What shims under this axis did in this job."""
    packing = state.packing
    return packing.lengthwise if kind == PACK_LENGTHWISE else packing.sides


def _scatter(state: State) -> float:
    profile = state.profile
    return difference_sd(noise_of(profile), count_unit(profile), float(profile.scale.step))


def response_of(state: State, kind: str) -> Response:
    """What a shim of one does to the difference of its axis."""
    profile = state.profile
    ratio = None if profile.span is None else float(profile.sweep_diameter / profile.span)
    steps = [
        TrialStep(float(done.shim_before), done.before, float(done.shim_after), done.after)
        for done in trials_of(state, kind)
    ]
    guess = prior_response(ratio)
    return learn_positive(from_last_job(state, kind, guess) or guess, steps, _scatter(state))


def _next(state: State, answer: Answer) -> tuple[Plan, ...]:
    """A shim for each axis."""
    plans = (_plan(state, answer, kind) for kind in PACKS)
    return tuple(plan for plan in plans if plan is not None)


def _plan(state: State, answer: Answer, kind: str) -> Plan | None:
    wrong, response = axis_misfit(answer, kind), response_of(state, kind)
    if AXES[kind] in state.axis_left_out or response.value <= 0:
        return None
    now = fitted(state, kind)
    profile = state.profile
    planned = plan_shim(wrong, response, profile.stock, profile.max_leaves, now, _scatter(state))
    total, leaves = _total(planned, now, bool(profile.stock))
    expected = wrong - response.value * float(total - now)
    if total == now:
        return None
    plus, minus = ENDS[kind]
    # Taken out altogether it is taken out where it is.
    side = plus if (total or now) > 0 else minus
    step = Step("shim", station=side, total=abs(total), leaves=leaves)
    fb, rl = answer.front_minus_back, answer.right_minus_left
    lengthwise = kind == PACK_LENGTHWISE
    pair = (expected, rl) if lengthwise else (fb, expected)
    return Plan(kind, step, *pair, now, response=response)


def _total(planned: ShimPlan, now: Decimal, stocked: bool) -> tuple[Decimal, tuple[Decimal, ...]]:
    """The signed total that should be in, and its leaves; by a guessed response it holds back."""
    careful = sum(planned.next_leaves, Decimal(0)) != abs(now)
    leaves = planned.next_leaves if poorly_known(planned.response) and careful else planned.leaves
    total = sum(leaves, Decimal(0))
    if not stocked and planned.total is not None:
        total = rounded(planned.total, SPOKEN_STEP)
    return (total if planned.place == "above" else -total), leaves


# -- what it did -------------------------------------------------------------------------


def _learn(state: State, plan: Plan, before: Answer, answer: Answer) -> tuple[State, str]:
    """A shim under one side: what it did to the difference of its axis."""
    learnt, told = _packed(state, plan, before, answer)
    if told is None:
        expected = plan.expected_fb if plan.kind == PACK_LENGTHWISE else plan.expected_rl
        was, now = axis_misfit(before, plan.kind), axis_misfit(answer, plan.kind)
        told = lesson_words(expected, now, moved_by_hand(state, was - expected), state.profile)
    return replace(state, packing=learnt), told


def _learn_again(state: State, before: Answer, answer: Answer) -> State:
    return replace(state, packing=_packed_again(state.packing, before, answer))


def _packed(state: State, plan: Plan, before: Answer, answer: Answer) -> tuple[Packing, str | None]:
    """The trials with the one that this sweep completes; None: say how it went."""
    kind, packing = plan.kind, state.packing
    now_in = fitted(state, kind)
    if now_in == plan.shim_before:
        return packing, ""
    was, now, u = axis_misfit(before, kind), axis_misfit(answer, kind), difference_here(state)
    step = TrialStep(float(plan.shim_before), was, float(now_in), now)
    known = response_of(state, kind)
    match check_step(step, known, u):
        case "none":
            return packing, NO_RESPONSE
        case "wrong_way":
            return packing, WRONG_WAY
        case _:
            trials = (*trials_of(state, kind), PackTrial(plan.shim_before, now_in, was, now))
    if kind == PACK_LENGTHWISE:
        learnt = replace(packing, lengthwise=trials)
    else:
        learnt = replace(packing, sides=trials)
    return learnt, "" if len(trials) == 1 and poorly_known(known) else None


def _packed_again(packing: Packing, before: Answer, answer: Answer) -> Packing:
    """Another sweep of the same table tells better what the last shims came to."""

    def better(trials: tuple[PackTrial, ...], kind: str) -> tuple[PackTrial, ...]:
        if not trials or trials[-1].after != axis_misfit(before, kind):
            return trials
        return (*trials[:-1], replace(trials[-1], after=axis_misfit(answer, kind)))

    return replace(
        packing,
        lengthwise=better(packing.lengthwise, PACK_LENGTHWISE),
        sides=better(packing.sides, PACK_SIDES),
    )


def packing_told(state: State) -> tuple[tuple[Station, Decimal], ...]:
    """What is in, side by side, without the sides that have none."""
    inside = ((kind, fitted(state, kind)) for kind in PACKS)
    return tuple((ENDS[kind][0 if total > 0 else 1], abs(total)) for kind, total in inside if total)


CORRECTION = Correction(("packed",), PACKS, Feet.UNBOLT, _next, _learn, _learn_again)

PROCEDURE = Procedure(
    (
        Row(
            Feet.UNBOLT,
            "LOOSE",
            UNBOLT,
            {
                "done": Feet.PACK,
                "skip": _left_out,
                "finish": Outcome.FINISH,
                "disregard": back_to_sweep,
            },
            weighty=("skip", "finish"),
            loose=True,
            step=Step("loosen", what="hold-down bolts"),
            left="correct",
            how="Half a turn on each bolt.",
        ),
        Row(
            Feet.PACK,
            "SHIM",
            _pack_asked,
            {"done": _packed_as_told, "disregard": Feet.UNBOLT},
            on_shim=_called,
            loose=True,
            step=lambda state: state.plan.step if state.plan else None,
            shows=_shows,
            left="correct",
            how="Flat and clean, close to the bolt.",
        ),
        Row(
            Feet.BOLT_DOWN,
            "LOCK",
            BOLT_DOWN,
            {"locked": Outcome.MEASURE, "disregard": _back},
            readings=True,
            loose=True,
            step=Step("tighten", what="hold-down bolts"),
            left="tighten",
            how="A little on each bolt in turn.",
        ),
    ),
)
