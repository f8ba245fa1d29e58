"""What each thing that could be done next should bring: corrections, measuring, leaving it.

Belongs here: from plans and what is known of the machine to the metrology's options. What is
chosen among them is its ``choose``; how each is begun is the planner's.
"""

from collections.abc import Sequence
from dataclasses import replace
from math import hypot, sqrt
from typing import Final

from assistant.dialogue.machine import Profile
from assistant.dialogue.spots import further_deg
from assistant.dialogue.state import NOD, PACK_LENGTHWISE, Plan, State
from assistant.dialogue.sweep_answer import (
    BY_HAND,
    count_unit,
    difference_here,
    noise_with,
    region_here,
    step_of,
)
from assistant.metrology.agreement import Agreement, compare
from assistant.metrology.answer import Answer
from assistant.metrology.benefit import Choice, Option, Standing, choose, gain_of
from assistant.metrology.combining import Pair
from assistant.metrology.conformance import Covariance
from assistant.metrology.evidence import Swept
from assistant.metrology.judgement import budget_of_more
from assistant.metrology.other_spots import surface_of_mean
from assistant.metrology.response import Response
from assistant.metrology.scatter import relock_scatter

SETTLE, CORNERS, AGAIN = "settle", "corners", "again"
"""What only measures: the noise of the surface, four more stations, another sweep."""

LENGTHWISE: Final = ("shim", NOD, PACK_LENGTHWISE)
"""Plans that set front to back; the others set side to side."""

_SWEEPS: Final = {"shim": 2.0, CORNERS: 0.7, SETTLE: 0.8, AGAIN: 1.0}
_USUAL_SWEEPS: Final = 1.5
"""What each costs, in sweeps: a bolt that is loosened costs more than a tap."""

_SPOTS_DOF, _LEG_DOF = 5.0, 3.0
"""Degrees of freedom that measuring is expected to bring: five spots, four stations of their own
(one by what they miss a plane, two by how the tilt comes out again)."""

MOST_SWEEPS: Final = 3
"""Sweeps of one state of the table: beyond it a mean gains too little for the work."""

_FOUR: Final = (0.0, 90.0, 180.0, 270.0)


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
    options += [_measured(state, answer, name) for name in measures]
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

SIDES_EXCHANGED: Final = "Right and left seem exchanged. Sweep again."
"""A sweep mirrors what was expected, side to side."""

ENDS_EXCHANGED: Final = "Front and back seem exchanged. Sweep again."
"""The same front to back."""

SIGNS_EXCHANGED: Final = "All signs seem turned round. Sweep again."  # the same both ways


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
    if state.plan is not None:
        u = _u_after(state, state.plan, before)
    found = (answer.front_minus_back, answer.right_minus_left)
    told: dict[Agreement, str] = {
        "sides_exchanged": SIDES_EXCHANGED,
        "ends_exchanged": ENDS_EXCHANGED,
        "reversed": SIGNS_EXCHANGED,
    }
    return told.get(compare(expected.pair, found, u, answer.budget.tilt.dof), "")


SIDES_BEFORE: Final = "Last time right and left had changed places."
"""What a correction left is what it should have left had the sweep before it been mirrored."""

ENDS_BEFORE: Final = "Last time front and back had changed places."
"""The same front to back."""


def _u_after(state: State, plan: Plan, before: Answer) -> Pair:
    """Standard uncertainty of both differences after a correction, less what it should leave.

    The surface is not in it: the sweep before and the one after are read at the same spots.
    """
    after, now = option_of(state, before, plan).after.covariance, standing_of(before).covariance
    own = 0 if plan.kind in LENGTHWISE else 1
    base = sqrt(2) * difference_here(state)
    moved = (before.front_minus_back - plan.expected_fb, before.right_minus_left - plan.expected_rl)
    of_own = sqrt(base**2 + max(after[own][own] - now[own][own], 0.0))
    of_other = hypot(base, LEANS * moved[own])
    return (of_own, of_other) if own == 0 else (of_other, of_own)


def exchanged_before(state: State, answer: Answer) -> str:
    """What to say where the sweep before the correction mirrored its axis, and this one tells.

    The correction then went the wrong way and doubled what it was to take off.
    """
    plan, before = state.plan, state.as_left
    if plan is None or before is None or plan.given_up:
        return ""
    was = (before.front_minus_back, before.right_minus_left)
    after, u = option_of(state, before, plan).after, _u_after(state, plan, before)
    found = (answer.front_minus_back, answer.right_minus_left)
    dof = answer.budget.tilt.dof
    if plan.kind in LENGTHWISE:
        word, mirrored = ENDS_BEFORE, (after.pair[0] - 2 * was[0], after.pair[1])
    else:
        word, mirrored = SIDES_BEFORE, (after.pair[0], after.pair[1] - 2 * was[1])
    apart = compare(after.pair, found, u, dof) != "alike"
    return word if apart and compare(mirrored, found, u, dof) == "alike" else ""


LEANS: Final = 0.1
"""Part of a correction by which the other axis leans with it, as it is weighed (judgement)."""

LOOSE_FROM: Final = 3.5
"""Standard uncertainties by which an axis that nobody touched moves when something is loose."""


def came_loose(state: State, answer: Answer) -> bool:
    """Whether a correction went with a change of the other axis that it cannot have made."""
    plan, before = state.plan, state.as_left
    last = state.sweeps[-1] if state.sweeps else None
    if plan is None or before is None or plan.given_up:
        return False
    if last is not None and last.refused == EXCHANGED:
        return False
    off = answer.front_minus_back - plan.expected_fb, answer.right_minus_left - plan.expected_rl
    other = 1 if plan.kind in LENGTHWISE else 0
    return abs(off[other]) > LOOSE_FROM * _u_after(state, plan, before)[other]


def relock_variance(state: State) -> float:
    """Variance of a difference from one locking to the next, in counts."""
    noise = noise_with(state.profile, state.spindle.stays)
    known = relock_scatter(noise, count_unit(state.profile), float(step_of(state.profile)))
    return 0.0 if known is None else known.sd**2


def _measured(state: State, answer: Answer, name: str) -> Option:
    """Measuring: the same differences, known better; and how well at best, going on with it."""
    now = standing_of(answer)
    cost = _SWEEPS[name]
    if name == SETTLE:
        surer = replace(now, dof=now.dof + _SPOTS_DOF)
        return Option(name, surer, False, cost, replace(surer, covariance=_guess_halved(answer)))
    made = [(state.further_of(sweep), bool(sweep.corners)) for sweep in state.same_table]
    last, _ = made[-1]
    then = [*made[:-1], (last, True)] if name == CORNERS else [*made, (last + 1, False)]
    between = state.profile.method == "indicator" and not state.form.declined
    look = made[-1][1] or between
    further = range(last + 1, last + 1 + MOST_SWEEPS - len(made))
    most = [*made[:-1], (last, look), *((step, look) for step in further)]
    after, at_best = (_known_by(state, answer, made, sweeps) for sweeps in (then, most))
    return Option(name, after, False, cost, at_best)


def _guess_halved(answer: Answer) -> Covariance:
    """What is guessed is right to within half of itself: it may well be found half as large."""
    budget = answer.budget
    (front, across), (_, right) = budget.covariance
    saved = [
        0.75 * sum(part.u**2 for part in of_axis.components if part.assumed)
        for of_axis in (budget.front_minus_back, budget.right_minus_left)
    ]
    return ((front - saved[0], across), (across, right - saved[1]))


_Made = Sequence[tuple[int, bool]]
"""Sweeps of one table: how often the spots were moved on, and whether it was read between."""


def _known_by(state: State, answer: Answer, made: _Made, then: _Made) -> Standing:
    """How the table should be known by the sweeps ``then``, some of which are ``made``."""
    profile, now = state.profile, standing_of(answer)
    here, there = (_stations(profile, sweeps) for sweeps in (made, then))
    diameter = float(profile.sweep_diameter.to("mm"))
    before, after = (
        float(surface_of_mean(legs, [1 / len(legs)] * len(legs), diameter)[0, 0])
        for legs in (here, there)
    )
    share = len(here) / len(there)
    more = budget_of_more(answer.budget, share, False, after / before)
    fresh = len(there) - len(here) if further_deg(profile) else 0
    dof = more.tilt.dof + _LEG_DOF * fresh
    return Standing(now.pair, more.covariance, dof, now.guessed)


def _stations(profile: Profile, sweeps: _Made) -> list[Swept]:
    """Each sweep, and each one between its stations, by where it is read."""
    on = float(further_deg(profile))
    legs = []
    for further, between in sweeps:
        for middle in (0.0, 45.0) if between else (0.0,):
            at = tuple((bearing + middle + on * further) % 360 for bearing in _FOUR)
            legs.append(Swept(at, (0.0,) * len(at)))
    return legs
