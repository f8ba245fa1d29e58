"""Readings in, answer out: the order in which the pieces are used.

Belongs here: nothing but that order. The dialogue and the command line use this and the pieces
alike; the words of the warnings are in `cautions`.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from math import atan2, degrees

from assistant.metrology import cautions
from assistant.metrology.answer import Answer, Notice
from assistant.metrology.budget import Misfit, SweepBudget, sweep_budget
from assistant.metrology.conformance import Region, scaled_tolerance
from assistant.metrology.consistency import limits
from assistant.metrology.drift import drift_of, without_drift
from assistant.metrology.judgement import judge, tolerance_region
from assistant.metrology.lengths import Length
from assistant.metrology.plane import Plane, Station, fit_plane
from assistant.metrology.problem import Problem
from assistant.metrology.response import Response, learn_response, prior_response
from assistant.metrology.scatter import difference_sd, finest_step, reading_sd
from assistant.metrology.shims import ShimPlan, fitted_now, plan_shim, steps_of
from assistant.metrology.stations import BEARING_OF, saddle_of
from assistant.metrology.tap import Tap, plan_tap
from assistant.metrology.trial_check import StepOutcome, check_step


def solve(problem: Problem) -> Answer:
    """Everything that one sweep says: tilt, shim and tap, with warnings.

    Every `Problem` has an answer. Lengths of the answer are in `problem.unit`.
    """
    unit = problem.unit
    step = step_of(problem)
    sigma = reading_sd(problem.noise, unit, step)
    heights = level_heights(problem)
    plane = plane_of(problem, heights)
    bent = saddle_of([reading.bearing_deg for reading in problem.readings], heights)
    saddle = None if bent is None else float(bent)
    called = [reading.value.to(unit) for reading in problem.readings]
    closing = None if problem.closing is None else problem.closing.to(unit)
    drift = None if closing is None else float(drift_of(called, closing))
    bounds = limits(sigma)
    off_plane = _off_plane(plane, saddle, sigma)
    budget = budget_of(problem, plane, drift, off_plane)
    judgement = judge(plane.front_minus_back, plane.right_minus_left, budget, region_of(problem))
    u_difference = difference_sd(problem.noise, unit, step)
    shim = shim_of(problem, plane, u_difference)
    warnings: list[Notice | None] = [
        cautions.about_drift(drift, bounds, unit),
        cautions.about_saddle(saddle, bounds, unit),
        cautions.about_residuals(off_plane and saddle is None, plane, unit),
        cautions.about_noise(budget),
        cautions.about_proof(judgement, budget, unit),
        cautions.about_pivot(pivot_over_radius(problem)),
        cautions.about_trial(last_trial(problem, u_difference)),
        *cautions.about_shim(shim, plane.front_minus_back, problem.shim, unit),
    ]
    return Answer(
        unit=unit,
        front_minus_back=plane.front_minus_back,
        right_minus_left=plane.right_minus_left,
        tilt=plane.tilt,
        high_bearing_deg=plane.high_bearing_deg,
        mean=-plane.mean + 0.0 if problem.method == "gap" else plane.mean,
        saddle=saddle,
        drift=drift,
        angle_arcsec=_over(problem, plane, _arcsec),
        mm_per_300mm=_over(problem, plane, lambda slope: 300 * slope),
        thou_per_foot=_over(problem, plane, lambda slope: 12000 * slope),
        residuals=plane.residuals,
        shim=shim,
        tap=tap_of(problem, plane),
        budget=budget,
        judgement=judgement,
        warnings=tuple(warning for warning in warnings if warning is not None),
    )


def step_of(problem: Problem) -> float:
    """The finest step called, in the job's unit: as stated, or as the readings show."""
    if problem.noise.resolution is not None:
        return float(problem.noise.resolution.to(problem.unit))
    values = [reading.value.to(problem.unit) for reading in problem.readings]
    if problem.closing is not None:
        values.append(problem.closing.to(problem.unit))
    return float(finest_step(values))


def level_heights(problem: Problem) -> tuple[Decimal, ...]:
    """Table heights in the order taken: drift taken out, gaps turned over. Exact, job's unit."""
    unit = problem.unit
    called = [reading.value.to(unit) for reading in problem.readings]
    closing = None if problem.closing is None else problem.closing.to(unit)
    level = without_drift(called, closing)
    return tuple(-value for value in level) if problem.method == "gap" else level


def plane_of(problem: Problem, heights: tuple[Decimal, ...]) -> Plane:
    """The plane through the heights; here exact decimals become floats."""
    stations = [
        Station(float(reading.bearing_deg), float(height))
        for reading, height in zip(problem.readings, heights, strict=True)
    ]
    return fit_plane(stations)


def budget_of(problem: Problem, plane: Plane, drift: float | None, off_plane: bool) -> SweepBudget:
    """The uncertainty budgets of this sweep."""
    return sweep_budget(
        problem.noise,
        problem.unit,
        step_of(problem),
        [float(reading.bearing_deg) for reading in problem.readings],
        (plane.front_minus_back, plane.right_minus_left),
        drift,
        Misfit(plane.residuals, plane.dof, off_plane),
    )


def region_of(problem: Problem) -> Region | None:
    """The tolerance over the sweep diameter; None without one."""
    if problem.tolerance is None:
        return None
    tolerance = float(problem.tolerance.to(problem.unit))
    if problem.tolerance_over is not None and problem.sweep_diameter is not None:
        ratio = float(problem.sweep_diameter / problem.tolerance_over)
        tolerance = scaled_tolerance(tolerance, 1.0, ratio)
    return tolerance_region(tolerance, problem.front_may_be)


def prior_of(problem: Problem) -> Response:
    """The response to expect of this machine before any trial."""
    span = problem.shim.span
    if problem.sweep_diameter is None or span is None:
        return prior_response(None)
    return prior_response(float(problem.sweep_diameter / span))


def last_trial(problem: Problem, u_difference: float) -> StepOutcome | None:
    """What the last trial did, against all that was known before it; None without trials."""
    steps = [step.rough() for step in steps_of(problem.shim.trials, problem.unit)]
    if not steps:
        return None
    believed = learn_response(prior_of(problem), steps[:-1], u_difference)
    return check_step(steps[-1], believed, u_difference)


def shim_of(problem: Problem, plane: Plane, u_difference: float) -> ShimPlan:
    """The shim for this sweep, with the response learnt from the trials."""
    unit, shim = problem.unit, problem.shim
    steps = steps_of(shim.trials, unit)
    rough = [step.rough() for step in steps]
    response = learn_response(prior_of(problem), rough, u_difference)
    fitted = (
        fitted_now(steps, Decimal(plane.front_minus_back))
        if shim.fitted is None
        else shim.fitted.to(unit)
    )
    stock = tuple(leaf.to(unit) for leaf in shim.stock)
    return plan_shim(plane.front_minus_back, response, stock, shim.max_leaves, fitted, u_difference)


def tap_of(problem: Problem, plane: Plane) -> Tap:
    """The tap for this sweep, watched on the right; the dial as it was called there."""
    current: Length | None = next((r.value for r in problem.readings if r.station == "right"), None)
    return plan_tap(
        plane.right_minus_left,
        _reading_at_right(problem, plane) if current is None else float(current.to(problem.unit)),
        pivot_over_radius(problem),
        gap=problem.method == "gap",
    )


def pivot_over_radius(problem: Problem) -> float:
    """Where the table pivots side to side, in sweep radii to the right of the axis."""
    if problem.sweep_diameter is None:
        return 0.0
    return 2 * float(problem.pivot_offset / problem.sweep_diameter)


def _off_plane(plane: Plane, saddle: float | None, sigma: float) -> bool:
    """Whether the stations miss the plane by more than their noise explains."""
    if saddle is not None:
        return abs(saddle) > limits(sigma).saddle
    # Three standard deviations: with a handful of stations, about one good sweep in a hundred.
    return plane.dof > 0 and max(abs(residual) for residual in plane.residuals) > 3 * sigma


def _reading_at_right(problem: Problem, plane: Plane) -> float:
    """What the dial would read there, by the plane."""
    height = plane.height_at(float(BEARING_OF["right"]))
    return -height if problem.method == "gap" else height


def _over(problem: Problem, plane: Plane, of_slope: Callable[[float], float]) -> float | None:
    if problem.sweep_diameter is None:
        return None
    diameter = float(problem.sweep_diameter.to(problem.unit))
    return of_slope(plane.tilt / diameter)


def _arcsec(slope: float) -> float:
    return degrees(atan2(slope, 1.0)) * 3600
