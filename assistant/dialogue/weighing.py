"""What each thing that could be done next should bring: corrections, measuring, leaving it.

Belongs here: from plans and what is known of the machine to the metrology's options. What is
chosen among them is its ``choose``; how each is begun is the planner's.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from assistant.dialogue.machine import Profile
from assistant.dialogue.methods import method_of
from assistant.dialogue.spots import SPOTS, further_deg, spots_further
from assistant.dialogue.state import NOD, PACK_LENGTHWISE, CompletedSweep, Plan, State
from assistant.dialogue.sweep_answer import (
    BY_HAND,
    count_unit,
    noise_with,
    region_here,
    step_of,
)
from assistant.metrology.answer import Answer
from assistant.metrology.benefit import Choice, Option, Standing, choose, gain_of
from assistant.metrology.conformance import Covariance
from assistant.metrology.evidence import Swept
from assistant.metrology.judgement import budget_of_more
from assistant.metrology.one_surface import Leg, Shares, shares_of_more
from assistant.metrology.response import Response
from assistant.metrology.scatter import relock_scatter
from assistant.metrology.uncertainty import Budget
from assistant.metrology.waviness import spots_in_a_row

SETTLE, CORNERS, AGAIN = "settle", "corners", "again"
"""What only measures: the noise of the surface, four more stations, another sweep."""

LENGTHWISE: Final = ("shim", NOD, PACK_LENGTHWISE)
"""Plans that set front to back; the others set side to side."""

_SWEEPS: Final = {"shim": 2.0, CORNERS: 0.7, SETTLE: 0.8, AGAIN: 1.0}
_USUAL_SWEEPS: Final = 1.5
"""What each costs, in sweeps: a bolt that is loosened costs more than a tap."""

_LEG_DOF: Final = 3.0
"""Degrees of freedom that four stations of their own are expected to bring: one by what they miss a
plane, two by how the tilt comes out again."""

MOST_SWEEPS: Final = 4
"""Sweeps of one state of the table: beyond it a mean gains too little for the work."""

_FOUR: Final = (0.0, 90.0, 180.0, 270.0)


def standing_of(answer: Answer) -> Standing:
    """How the table stands by this answer."""
    budget = answer.budget
    pair = (answer.front_minus_back, answer.right_minus_left)
    return Standing(pair, budget.covariance, budget.tilt.dof)


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
    there = Standing((plan.expected_fb, plan.expected_rl), after, now.dof)
    return Option(plan.kind, there, True, _SWEEPS.get(plan.kind, _USUAL_SWEEPS))


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
        surer = replace(now, dof=now.dof + _spots_dof(state.profile))
        return Option(name, surer, False, cost, replace(surer, covariance=_guess_halved(answer)))
    made = [_made(state, sweep) for sweep in state.same_table]
    last, turned = made[-1], made[-1].refitted != state.refit_due
    next_one = _Made(last.further + 1, False, turned)
    then = [*made, next_one] if name == AGAIN else [*made[:-1], replace(last, between=True)]
    look = last.between or (state.profile.method == "indicator" and not state.form.declined)
    further = range(last.further + 1, last.further + 1 + MOST_SWEEPS - len(made))
    more = [_Made(step, look, turned) for step in further]
    most = [*made[:-1], replace(last, between=look), *more]
    after, at_best = (_known_by(state, answer, made, sweeps) for sweeps in (then, most))
    return Option(name, after, False, cost, at_best)


def _spots_dof(profile: Profile) -> float:
    """Degrees of freedom that the spots asked for are expected to bring."""
    apart = spots_further(profile)
    return SPOTS - 1.0 if apart is None else spots_in_a_row(SPOTS, float(apart.to("mm"))).dof


def _guess_halved(answer: Answer) -> Covariance:
    """What is guessed is right to within half of itself: it may well be found half as large."""
    budget = answer.budget
    (front, across), (_, right) = budget.covariance
    saved = [
        0.75 * sum(part.u**2 for part in of_axis.components if part.assumed)
        for of_axis in (budget.front_minus_back, budget.right_minus_left)
    ]
    return ((front - saved[0], across), (across, right - saved[1]))


@dataclass(frozen=True, slots=True)
class _Made:
    """A sweep: how often its spots were moved on, whether it was read between, how the bar sat."""

    further: int
    between: bool
    refitted: bool


def _made(state: State, sweep: CompletedSweep) -> _Made:
    refitted = sweep.before.again.refitted
    return _Made(state.further_of(sweep), bool(sweep.corners), refitted)


def _known_by(
    state: State, answer: Answer, made: Sequence[_Made], then: Sequence[_Made]
) -> Standing:
    """How the table should be known by the sweeps ``then``, some of which are ``made``."""
    profile, now = state.profile, standing_of(answer)
    diameter = float(profile.sweep_diameter.to("mm"))
    before = _before(state)
    here, there = (
        [*before, *(leg for one in every for leg in _legs(profile, one))] for every in (made, then)
    )
    front = answer.budget.front_minus_back
    redrawn = _redrawn(front, shares_of_more(here, diameter, 0.2))
    old, new = (shares_of_more(legs, diameter, redrawn) for legs in (here, there))
    more = budget_of_more(
        answer.budget,
        float(new.reading[0, 0] / old.reading[0, 0]),
        False,
        float(new.surface[0, 0] / old.surface[0, 0]),
    )
    fresh = len(there) - len(here) if further_deg(profile) else 0
    dof = more.tilt.dof + _LEG_DOF * fresh
    return Standing(now.pair, more.covariance, dof)


def _redrawn(budget: Budget, shares: Shares) -> float:
    """The part of a reading's variance that is redrawn each time, by what both bring."""
    surface = sum(c.u**2 for c in budget.components if c.source == "surface")
    reading = sum(
        c.u**2 for c in budget.components if c.source in ("reading", "resolution", "end_play")
    )
    one, other = surface / shares.surface[0, 0], reading / shares.reading[0, 0]
    return float(min(max(other / ((one + other) or 1.0), 0.01), 0.99))


def _before(state: State) -> list[Leg]:
    """Where the table was read before it was moved, and how often it was moved."""
    here, table, legs = {sweep.number for sweep in state.same_table}, 0, []
    for sweep in state.usable_sweeps:
        table += state.moved_before(sweep)
        if sweep.number not in here:
            legs += _legs(state.profile, _made(state, sweep), table + 1)
    return legs


def _legs(profile: Profile, made: _Made, table: int = 0) -> list[Leg]:
    """A sweep, and the one between its stations, by where they are read."""
    on = float(further_deg(profile))
    shares = (0.0, 0.25, 0.5, 0.75) if method_of(profile).closes else None
    legs = []
    for middle in (0.0, 45.0) if made.between else (0.0,):
        at = tuple((bearing + middle + on * made.further) % 360 for bearing in _FOUR)
        legs.append(Leg(Swept(at, (0.0,) * len(at), shares), table, made.refitted))
    return legs
