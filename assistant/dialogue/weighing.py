"""What each thing that could be done next should bring: corrections, measuring, leaving it.

Belongs here: from plans and what is known of the machine to the metrology's options. What is
chosen among them is its ``choose``; how each is begun is the planner's.
"""

from collections.abc import Sequence
from math import sqrt
from typing import Final

from assistant.dialogue.state import NOD, PACK_LENGTHWISE, Plan, State
from assistant.dialogue.sweep_answer import (
    BY_HAND,
    count_unit,
    noise_with,
    region_here,
    step_of,
)
from assistant.metrology.agreement import Agreement, compare
from assistant.metrology.answer import Answer
from assistant.metrology.benefit import Choice, Option, Standing, choose, gain_of
from assistant.metrology.budget import SweepBudget, difference_factor
from assistant.metrology.conformance import Covariance
from assistant.metrology.judgement import budget_of_more
from assistant.metrology.response import Response
from assistant.metrology.scatter import relock_scatter

SETTLE, CORNERS, AGAIN = "settle", "corners", "again"
"""What only measures: the noise of the surface, four more stations, another sweep."""

LENGTHWISE: Final = ("shim", NOD, PACK_LENGTHWISE)
"""Plans that set front to back; the others set side to side."""

_SWEEPS: Final = {"shim": 2.0, CORNERS: 0.7, SETTLE: 0.8, AGAIN: 1.0}
_USUAL_SWEEPS: Final = 1.5
"""What each costs, in sweeps: a bolt that is loosened costs more than a tap."""

_SPOTS_DOF, _CORNERS_DOF = 5.0, 5.0
"""Degrees of freedom that measuring is expected to bring."""

MOST_SWEEPS: Final = 3
"""Sweeps of one state of the table: beyond it a mean gains too little for the work."""

_FOUR: Final = (0.0, 90.0, 180.0, 270.0)
_EIGHT: Final = (*_FOUR, 45.0, 135.0, 225.0, 315.0)
_EIGHT_SHARES: Final = tuple(turn / 9 for turn in (0, 1, 2, 3, 5, 6, 7, 8))
_AT_STATIONS: Final = ("surface", "reading", "resolution", "end_play", "form")


def standing_of(answer: Answer) -> Standing:
    """How the table stands by this answer."""
    budget = answer.budget
    pair = (answer.front_minus_back, answer.right_minus_left)
    guessed = any(part.assumed and part.u > 0 for part in budget.tilt.components)
    return Standing(pair, budget.covariance, budget.tilt.dof, guessed)


def choice_of(
    state: State, answer: Answer, plans: Sequence[Plan], measures: Sequence[str]
) -> Choice:
    """The best of these plans and ways of measuring, or to leave the table; by its benefit."""
    options = [option_of(state, answer, plan) for plan in plans]
    options += [_measured(answer, name, len(state.same_table)) for name in measures]
    return choose(standing_of(answer), region_here(state.profile), options)


def best_plan(state: State, answer: Answer, plans: Sequence[Plan]) -> Plan | None:
    """The plan that should bring most, whatever the verdict; None where none brings anything."""
    now, region = standing_of(answer), region_here(state.profile)
    gains = [(gain_of(now, option_of(state, answer, plan), region), plan) for plan in plans]
    gain, plan = max(gains, key=lambda each: each[0], default=(0.0, None))
    return plan if gain > 0 else None


def option_of(state: State, answer: Answer, plan: Plan) -> Option:
    """A correction: where the table should stand after it, and how surely."""
    now = standing_of(answer)
    lengthwise = plan.kind in LENGTHWISE
    moved = now.pair[0] - plan.expected_fb if lengthwise else now.pair[1] - plan.expected_rl
    response = plan.response or Response(1.0, BY_HAND)
    change = moved / response.value
    spread = (response.uncertainty * change) ** 2 - 2 * change * response.with_reading
    relock = relock_variance(state)
    (front, across), (_, right) = now.covariance
    fresh = max(spread, 0.0) + relock
    after: Covariance = (
        (front + (fresh if lengthwise else relock), across),
        (across, right + (relock if lengthwise else fresh)),
    )
    there = Standing((plan.expected_fb, plan.expected_rl), after, now.dof, now.guessed)
    return Option(plan.kind, there, True, _SWEEPS.get(plan.kind, _USUAL_SWEEPS))


EXCHANGED = "exchanged"
"""Why a sweep was set aside: it is the mirror image of what was expected."""

SIDES_EXCHANGED: Final = "Right and left changed places? Sweep again."
"""A sweep mirrors what was expected, side to side."""

ENDS_EXCHANGED: Final = "Front and back changed places? Sweep again."
"""The same front to back."""

SIGNS_EXCHANGED: Final = "All signs turned round? Sweep again."  # the same both ways


def exchanged(state: State, answer: Answer) -> str:
    """What to say to a sweep that mirrors the one before it, or what a correction was to leave.

    Nothing where it does not, where there is none before, or where the last was set aside for it:
    what is read twice stands.
    """
    last, before = state.sweeps[-1] if state.sweeps else None, state.as_left
    given_up = state.plan is not None and state.plan.given_up
    if (
        before is None
        or given_up
        or state.came_back
        or (last is not None and last.refused == EXCHANGED)
    ):
        return ""
    if state.plan is None:
        expected = Standing(
            (before.front_minus_back, before.right_minus_left), before.budget.covariance
        )
    else:
        expected = option_of(state, before, state.plan).after
    again = answer.budget.covariance
    u = (
        sqrt(expected.covariance[0][0] + again[0][0]),
        sqrt(expected.covariance[1][1] + again[1][1]),
    )
    found = (answer.front_minus_back, answer.right_minus_left)
    told: dict[Agreement, str] = {
        "sides_exchanged": SIDES_EXCHANGED,
        "ends_exchanged": ENDS_EXCHANGED,
        "reversed": SIGNS_EXCHANGED,
    }
    return told.get(compare(expected.pair, found, u, answer.budget.tilt.dof), "")


def relock_variance(state: State) -> float:
    """Variance of a difference from one locking to the next, in counts."""
    noise = noise_with(state.profile, state.spindle.stays)
    known = relock_scatter(noise, count_unit(state.profile), float(step_of(state.profile)))
    return 0.0 if known is None else known.sd**2


def _measured(answer: Answer, name: str, made: int) -> Option:
    """Measuring: the same differences, known better."""
    now = standing_of(answer)
    if name == SETTLE:
        after = Standing(now.pair, now.covariance, now.dof + _SPOTS_DOF)
    elif name == CORNERS:
        after = Standing(now.pair, _by_eight(answer.budget), now.dof + _CORNERS_DOF)
    else:
        more = budget_of_more(answer.budget, made / (made + 1), relocked=False)
        after = Standing(now.pair, more.covariance, more.tilt.dof, now.guessed)
    return Option(name, after, False, _SWEEPS[name])


def _by_eight(budget: SweepBudget) -> Covariance:
    """What four more stations between the four leave of the covariance."""
    four = difference_factor(_FOUR, (0.0, 0.25, 0.5, 0.75))
    eight = difference_factor(_EIGHT, _EIGHT_SHARES)
    (front, across), (_, right) = budget.covariance
    left = []
    for axis, (whole, part) in enumerate(
        ((front, budget.front_minus_back), (right, budget.right_minus_left))
    ):
        of_stations = sum(c.u**2 for c in part.components if c.source in _AT_STATIONS)
        saved = of_stations * (1 - float(eight[axis, axis] / four[axis, axis]))
        left.append(max(whole - saved, 1e-6))
    return ((left[0], across), (across, left[1]))
