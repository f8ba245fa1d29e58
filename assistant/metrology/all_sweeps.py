"""What all sweeps of a job say of the table as it stands.

Belongs here: one result with its budget from the findings of each sweep. The numbers behind it are
``one_surface``'s and, where the table was unlocked between repeats, ``combining``'s.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import atan2, cos, hypot, inf, sin, sqrt
from typing import Final

import numpy as np

from assistant.metrology.budget import SweepBudget
from assistant.metrology.combining import (
    Pair,
    combine_half_turn,
    combine_repeats,
    mean_budget,
    sources_redrawn,
)
from assistant.metrology.lengths import ZERO
from assistant.metrology.one_surface import Joint, Leg, joint
from assistant.metrology.one_sweep import Findings, step_of, swept_of
from assistant.metrology.problem import Problem
from assistant.metrology.scatter import Scatter, end_play_sd, resolution_sd, surface_scatter
from assistant.metrology.uncertainty import (
    Budget,
    Component,
    Origin,
    Source,
    combined,
)

_OF_READINGS: Final[frozenset[Source]] = frozenset({"surface", "reading", "resolution", "end_play"})


@dataclass(frozen=True, slots=True)
class Together:
    """All sweeps of the table as it stands.

    ``slip``: what the spindle adds once a turn, as a pair; None unless the indicator was refitted.
    ``stayed``: probability that spots last told to be moved on stayed where they were.
    """

    pair: Pair
    budget: SweepBudget
    slip: Pair | None
    stayed: float = 0.0


def put_together(problem: Problem, found: tuple[Findings, ...]) -> Together:
    """The findings of ``problem.sweeps`` as one, and what earlier sweeps showed of the surface.

    Sweeps with the indicator refitted half a turn round cancel the spindle's axial slip.
    """
    if problem.relocked:
        return _of_all_lockings(problem, found)
    rounding, lifted = resolution_sd(step_of(problem)), end_play_sd(problem.noise, problem.unit)
    known = surface_scatter(problem.noise, problem.unit, step_of(problem))
    size = problem.sweep_diameter
    fit = joint(
        _legs(problem),
        None if size is None else float(size.to("mm")),
        known,
        hypot(rounding, lifted),
        bent=any(one.off_plane for one in found) or any(problem.warp),
    )
    budget = _budget(fit, known, (rounding, lifted), found)
    # One sweep says what its readings say; drift taken out makes its stations differ in weight.
    alone = len(found) == 1 and not problem.history
    return Together(found[0].pair if alone else fit.pair, budget, fit.slip, fit.stayed)


def _legs(problem: Problem) -> list[Leg]:
    """All sweeps; those of which it is not known how the table stood count each by itself.

    What is known of the table's form was found by these readings: it is not taken out of them.
    """
    problem = replace(problem, warp=(ZERO, ZERO))
    legs = [Leg(swept_of(problem, sweep), 0, sweep.refitted) for sweep in problem.sweeps]
    for place, sweep in enumerate(problem.history):
        table = -1 - place if sweep.table is None else 1 + sweep.table
        legs.append(Leg(swept_of(problem, sweep), table, sweep.refitted))
    return legs


def _budget(
    fit: Joint, known: Scatter, exact: tuple[float, float], found: Sequence[Findings]
) -> SweepBudget:
    """The budget of the joint fit. What acts on a whole sweep is that of the least certain one."""
    worst = max((one.budget for one in found), key=lambda budget: budget.tilt.u)
    by_leaves = any(part.source == "gauge" for part in worst.tilt.components)
    closed = sum(one.drift is not None for one in found) or 1
    redrawn = sqrt(max(fit.reading**2 - exact[0] ** 2 - exact[1] ** 2, 0.0))
    seen = known.assumed and fit.seen > known.dof
    origin: Origin = "measured" if seen else known.origin

    def along(x: float, y: float, other: Budget) -> Budget:
        way = np.array([x, y])
        surface, reading = (
            sqrt(max(float(way @ part @ way), 0.0))
            for part in (fit.shares.surface, fit.shares.reading)
        )
        squares = [(fit.surface * surface) ** 2, (redrawn * reading) ** 2]
        # All are known as one: Welch-Satterthwaite is to give back the freedom of their sum.
        whole = sum(squares) + (exact[0] ** 2 + exact[1] ** 2) * reading**2
        dof = fit.dof * sum(one**2 for one in squares) / (whole**2 or inf)
        parts = [
            Component("surface", sqrt(squares[0]), dof, origin),
            Component("reading", sqrt(squares[1]), dof, origin),
            Component("resolution", 0.0 if by_leaves else exact[0] * reading),
            Component("end_play", exact[1] * reading),
        ]
        for part in other.components:
            if part.source == "drift":
                parts.append(replace(part, u=part.u / sqrt(closed)))
            elif part.source not in _OF_READINGS:
                parts.append(part)
        return Budget(tuple(part for part in parts if part.u > 0))

    front, right = along(1, 0, worst.front_minus_back), along(0, 1, worst.right_minus_left)
    size = hypot(*fit.pair)
    # A level table's direction is rounding.
    clear = size > 1e-9 * (fit.surface + fit.reading)
    way = (fit.pair[0] / size, fit.pair[1] / size) if clear else (1.0, 0.0)
    across = float(
        fit.surface**2 * fit.shares.surface[0, 1] + fit.reading**2 * fit.shares.reading[0, 1]
    )
    covariance = ((front.u**2, across), (across, right.u**2))
    return SweepBudget(front, right, along(*way, worst.tilt), covariance)


def _of_all_lockings(problem: Problem, found: tuple[Findings, ...]) -> Together:
    """The mean of sweeps between which the table was unlocked and locked again.

    Sweeps with the indicator as first fitted are averaged, so are those with it refitted, and the
    two means are then averaged with equal weight, which cancels axial slip.
    """
    if len(found) == 1:
        return Together(found[0].pair, found[0].budget, None)
    groups = [
        [
            one
            for one, sweep in zip(found, problem.sweeps, strict=True)
            if sweep.refitted == refitted
        ]
        for refitted in (False, True)
    ]
    means = [
        combine_repeats([one.pair for one in group], _worst(group), relocked=True)
        for group in groups
        if group
    ]
    if len(means) == 1:
        pair, budgets, slip = means[0].pair, means[0].budgets, None
    else:
        first, refitted = means
        turned = combine_half_turn(first.pair, refitted.pair, (0.0, 0.0), (0.0, 0.0))
        redrawn = sources_redrawn(relocked=True)
        pair, slip = turned.pair, turned.slip
        budgets = (
            mean_budget(first.budgets[0], refitted.budgets[0], redrawn),
            mean_budget(first.budgets[1], refitted.budgets[1], redrawn),
        )
    return Together(pair, _round_budget(pair, budgets), slip)


def _worst(group: list[Findings]) -> tuple[Budget, Budget]:
    """The budgets of the least certain sweep stand for all of the group."""
    worst = max(group, key=lambda one: one.budget.tilt.u).budget
    return worst.front_minus_back, worst.right_minus_left


def _round_budget(pair: Pair, budgets: tuple[Budget, Budget]) -> SweepBudget:
    """Budgets of two differences as those of a sweep, correlation between the axes left out."""
    angle = atan2(pair[1], pair[0])
    front, right = budgets
    along = [abs(cos(angle)), abs(sin(angle))] if hypot(*pair) else [1.0, 0.0]
    parts = []
    for source in dict.fromkeys(c.source for c in (*front.components, *right.components)):
        sides = [[c for c in budget.components if c.source == source] for budget in (front, right)]
        u = combined(
            [weight * c.u for weight, side in zip(along, sides, strict=True) for c in side]
        )
        parts.append(replace(min((c for side in sides for c in side), key=lambda c: c.dof), u=u))
    return SweepBudget(
        front_minus_back=front,
        right_minus_left=right,
        tilt=Budget(tuple(parts)),
        covariance=((front.u**2, 0.0), (0.0, right.u**2)),
    )
