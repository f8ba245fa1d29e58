"""What each sweep says by itself.

Belongs here: from called readings to two differences with their budget. What all sweeps say of the
table together is in ``all_sweeps``, what follows for shim, tap and verdict in ``solve``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from math import cos, radians, sin, sqrt

from assistant.metrology.budget import SweepBudget, SweepEvidence, difference_factor, sweep_budget
from assistant.metrology.combining import Pair
from assistant.metrology.drift import drift_of, shares_of, uneven_part, without_drift
from assistant.metrology.evidence import Shown, Swept, misfit_of, relock_shown, shown_by
from assistant.metrology.plane import Plane, StationHeight, fit_plane
from assistant.metrology.problem import Problem, Sweep
from assistant.metrology.scatter import Scatter, finest_step, reading_scatter, resolution_sd
from assistant.metrology.stations import saddle_of
from assistant.metrology.uncertainty import combined


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


def find_all(problem: Problem) -> tuple[Findings, ...]:
    """What each of the problem's sweeps says; its readings are heights.

    Their scatter is known alike for all: as told, and as sweeps and history show it together.
    """
    unit, step = problem.unit, step_of(problem)
    known = reading_scatter(problem.noise, unit, step)
    swept = [swept_of(problem, sweep) for sweep in problem.sweeps]
    before = [swept_of(problem, sweep) for sweep in problem.history]
    shown = shown_by([*swept, *before], step, known)
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
        float(sweep.moved_on),
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


def _pair_of(one: Swept) -> Pair:
    plane = fit_plane(
        [StationHeight(at, high) for at, high in zip(one.bearings_deg, one.heights, strict=True)]
    )
    return plane.front_minus_back, plane.right_minus_left


def at_other_spots(sweeps: Sequence[Sweep]) -> bool:
    """Whether these sweeps were not all read at the same stations."""
    return len({tuple(r.bearing_deg for r in sweep.readings) for sweep in sweeps}) > 1


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
