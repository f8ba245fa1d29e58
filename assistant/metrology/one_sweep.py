"""What single sweeps say, and several of the same table together.

Belongs here: from called readings to two differences with their budget. What follows for shim, tap
and verdict is in ``solve``.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from math import atan2, cos, hypot, radians, sin, sqrt

from assistant.metrology.budget import SweepBudget, SweepEvidence, difference_factor, sweep_budget
from assistant.metrology.combining import (
    Pair,
    combine_half_turn,
    combine_repeats,
    mean_budget,
    reduced,
    sources_redrawn,
)
from assistant.metrology.drift import drift_of, shares_of, uneven_part, without_drift
from assistant.metrology.evidence import Shown, Swept, misfit_of, relock_shown, shown_by
from assistant.metrology.other_spots import between_spots, surface_of_mean
from assistant.metrology.plane import Plane, StationHeight, fit_plane
from assistant.metrology.problem import Problem, Sweep
from assistant.metrology.scatter import Scatter, finest_step, reading_scatter, resolution_sd
from assistant.metrology.stations import saddle_of
from assistant.metrology.uncertainty import Budget, combined


@dataclass(frozen=True, slots=True)
class Findings:
    """One sweep: its plane, what does not fit it, and the budgets. Job's unit.

    ``off_plane``: the stations miss the plane by more than their noise explains.
    """

    plane: Plane
    saddle: float | None
    drift: float | None
    off_plane: bool
    budget: SweepBudget

    @property
    def pair(self) -> Pair:
        """front_minus_back and right_minus_left."""
        return self.plane.front_minus_back, self.plane.right_minus_left


@dataclass(frozen=True, slots=True)
class Together:
    """All sweeps of the table as it stands.

    ``slip``: what the spindle adds once a turn, as a pair; None unless the indicator was refitted.
    """

    pair: Pair
    budget: SweepBudget
    slip: Pair | None


def find_all(problem: Problem) -> tuple[Findings, ...]:
    """What each of the problem's sweeps says; its readings are heights.

    Their scatter is known alike for all: as told, and as sweeps and history show it together.
    """
    unit, step = problem.unit, step_of(problem)
    known = reading_scatter(problem.noise, unit, step)
    swept = [swept_of(problem, sweep) for sweep in problem.sweeps]
    before = [swept_of(problem, sweep) for sweep in problem.history]
    shown = shown_by([*swept, *before], step, known, _spots_shown(problem, step))
    relock = _relock_shown(problem, swept, shown, step)
    showing = SweepEvidence(shown, relock=relock, as_locked=problem.as_locked)
    returns = [(one.drift, len(one.heights)) for one in (*swept, *before) if one.drift is not None]
    return tuple(
        _find(problem, sweep, one, known, replace(showing, uneven=uneven_part(one.drift, returns)))
        for sweep, one in zip(problem.sweeps, swept, strict=True)
    )


def swept_of(problem: Problem, sweep: Sweep) -> Swept:
    """One sweep as heights for the evidence; here exact decimals become floats."""
    called = [reading.value.to(problem.unit) for reading in sweep.readings]
    drift, opening = None, sweep.opening
    if sweep.closing is not None:
        begun = called if opening is None else [opening.to(problem.unit)]
        drift = float(drift_of(begun, sweep.closing.to(problem.unit)))
    return Swept(
        tuple(float(reading.bearing_deg) for reading in sweep.readings),
        tuple(float(height) for height in level_heights(problem, sweep)),
        None if drift is None else shares_of(sweep.turns, sweep.closed_at, sweep.begun_at),
        drift,
        opening is not None,
    )


def _find(
    problem: Problem, sweep: Sweep, swept: Swept, known: Scatter, showing: SweepEvidence
) -> Findings:
    heights = level_heights(problem, sweep)
    widths = [2 * float(reading.doubt.to(problem.unit)) for reading in sweep.readings]
    bearings = [reading.bearing_deg for reading in sweep.readings]
    plane = plane_of(sweep, heights)
    bent = saddle_of(bearings, heights)
    misfit = misfit_of([swept])
    off_plane = misfit.beyond(known.sd, known.dof)
    form = 0.0
    if off_plane and not at_other_spots(problem.sweeps):
        # Stations between would show what a bent table does to the tilt: they differ by it.
        form = sqrt(sum(value**2 for value in misfit.residuals) / len(misfit.residuals))
    budget = sweep_budget(
        problem.noise,
        problem.unit,
        step_of(problem),
        swept,
        (plane.front_minus_back, plane.right_minus_left),
        replace(showing, form=form),
        widths if any(widths) else None,
    )
    return Findings(plane, None if bent is None else float(bent), swept.drift, off_plane, budget)


def _relock_shown(
    problem: Problem, swept: Sequence[Swept], shown: Shown, step: float
) -> Scatter | None:
    """What the sweeps show of relocking: from those with the indicator as it was first fitted."""
    if not problem.relocked or shown.repeat is None:
        return None
    alike = [
        one
        for one, sweep in zip(swept, problem.sweeps, strict=True)
        if not sweep.refitted and one.bearings_deg == swept[0].bearings_deg
    ]
    again = combined([shown.repeat.sd, resolution_sd(step)])
    factor = difference_factor(swept[0].bearings_deg, swept[0].shares)
    pairs = [_pair_of(one) for one in alike]
    return relock_shown(pairs, again * sqrt(float(factor[0, 0] + factor[1, 1]) / 2))


def _spots_shown(problem: Problem, step: float) -> Scatter | None:
    """One reading by how sweeps of one table at different spots differ, the indicator fitted alike.

    By that state of the table of which there are most: others were read at the same spots again.
    """
    tables: dict[tuple[int | None, bool], list[Sweep]] = defaultdict(list)
    for sweep in () if problem.relocked else problem.sweeps:
        tables[None, sweep.refitted].append(sweep)
    for sweep in problem.history:
        if sweep.table is not None:
            tables[sweep.table, sweep.refitted].append(sweep)
    best: Scatter | None = None
    for sweeps in tables.values():
        swept = [swept_of(problem, sweep) for sweep in sweeps]
        pairs = [_pair_of(one) for one in swept]
        found = between_spots(swept, pairs, _diameter_mm(problem), step)
        if found is not None and (best is None or found.dof > best.dof):
            best = found
    return best


def _pair_of(one: Swept) -> Pair:
    plane = fit_plane(
        [StationHeight(at, high) for at, high in zip(one.bearings_deg, one.heights, strict=True)]
    )
    return plane.front_minus_back, plane.right_minus_left


def _diameter_mm(problem: Problem) -> float | None:
    size = problem.sweep_diameter
    return None if size is None else float(size.to("mm"))


def put_together(problem: Problem, found: tuple[Findings, ...]) -> Together:
    """The findings of ``problem.sweeps`` as one.

    Sweeps with the indicator as first fitted are averaged, so are those with it refitted, and the
    two means are then averaged with equal weight, which cancels axial slip.
    """
    if len(found) == 1:
        return Together(found[0].pair, found[0].budget, None)
    apart = at_other_spots(problem.sweeps)
    groups = [
        [
            one
            for one, sweep in zip(found, problem.sweeps, strict=True)
            if sweep.refitted == refitted
        ]
        for refitted in (False, True)
    ]
    means = [
        combine_repeats([one.pair for one in group], _worst(group), problem.relocked, apart)
        for group in groups
        if group
    ]
    if len(means) == 1:
        pair, budgets, slip = means[0].pair, means[0].budgets, None
    else:
        first, refitted = means
        turned = combine_half_turn(first.pair, refitted.pair, (0.0, 0.0), (0.0, 0.0))
        redrawn = sources_redrawn(problem.relocked)
        pair, slip = turned.pair, turned.slip
        budgets = (
            mean_budget(first.budgets[0], refitted.budgets[0], redrawn),
            mean_budget(first.budgets[1], refitted.budgets[1], redrawn),
        )
    budgets = _over_all_spots(problem, found, budgets, [len(group) for group in groups])
    return Together(pair, _round_budget(pair, budgets), slip)


def at_other_spots(sweeps: Sequence[Sweep]) -> bool:
    """Whether these sweeps were not all read at the same stations."""
    return len({tuple(r.bearing_deg for r in sweep.readings) for sweep in sweeps}) > 1


def _over_all_spots(
    problem: Problem,
    found: Sequence[Findings],
    budgets: tuple[Budget, Budget],
    sizes: Sequence[int],
) -> tuple[Budget, Budget]:
    """The budgets of the mean with the surface's part cut down as far as the spots differ.

    ``sizes``: sweeps as first fitted, and refitted; both groups weigh the same.
    """
    sweeps, diameter = problem.sweeps, _diameter_mm(problem)
    swept = [swept_of(problem, sweep) for sweep in sweeps]
    share = 1 / sum(size > 0 for size in sizes)
    weights = [share / sizes[sweep.refitted] for sweep in sweeps]
    mean = surface_of_mean(swept, weights, diameter)
    worst = max(range(len(found)), key=lambda k: found[k].budget.tilt.u)
    one = surface_of_mean([swept[worst]], [1.0], diameter)
    front, right = (
        reduced(budget, sqrt(float(mean[axis, axis] / one[axis, axis])), frozenset({"surface"}))
        for axis, budget in enumerate(budgets)
    )
    return front, right


def step_of(problem: Problem) -> float:
    """The finest step called, in the job's unit: as stated, or as the readings show."""
    if problem.noise.resolution is not None:
        return float(problem.noise.resolution.to(problem.unit))
    values = [reading.value for sweep in problem.sweeps for reading in sweep.readings]
    values += [sweep.closing for sweep in problem.sweeps if sweep.closing is not None]
    return float(finest_step(values).to(problem.unit))


def level_heights(problem: Problem, sweep: Sweep) -> tuple[Decimal, ...]:
    """Table heights in the order taken, drift and known warp taken out. Exact, job's unit."""
    unit = problem.unit
    called = [reading.value.to(unit) for reading in sweep.readings]
    closing = None if sweep.closing is None else sweep.closing.to(unit)
    opening = None if sweep.opening is None else sweep.opening.to(unit)
    level = without_drift(called, closing, sweep.turns, sweep.closed_at, opening)
    if not any(problem.warp):
        return level
    saddle, twist = (size.to(unit) / 2 for size in problem.warp)
    return tuple(
        height - saddle * _exact(cos(twice)) - twist * _exact(sin(twice))
        for height, twice in zip(
            level, (2 * radians(reading.bearing_deg) for reading in sweep.readings), strict=True
        )
    )


def _exact(share: float) -> Decimal:
    return round(Decimal(share), 9)


def plane_of(sweep: Sweep, heights: tuple[Decimal, ...]) -> Plane:
    """The plane through the heights; here exact decimals become floats."""
    stations = [
        StationHeight(float(reading.bearing_deg), float(height))
        for reading, height in zip(sweep.readings, heights, strict=True)
    ]
    return fit_plane(stations)


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
