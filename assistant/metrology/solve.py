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
from assistant.metrology.conformance import Region, scaled_tolerance
from assistant.metrology.consistency import limits
from assistant.metrology.coupling import Coupling, Move, learn_coupling, uncoupled
from assistant.metrology.heights import gain_of, in_heights
from assistant.metrology.judgement import judge, tolerance_region
from assistant.metrology.lengths import Length
from assistant.metrology.one_sweep import find, put_together, step_of
from assistant.metrology.plane import Plane, plane_through
from assistant.metrology.problem import Problem
from assistant.metrology.response import (
    Response,
    learn_response,
    learn_turn,
    pivot_of_turn,
    prior_response,
)
from assistant.metrology.scatter import difference_sd, reading_sd
from assistant.metrology.shims import ShimPlan, fitted_now, plan_shim, steps_of
from assistant.metrology.stations import BEARING_OF
from assistant.metrology.tap import Tap, plan_tap
from assistant.metrology.trial_check import StepOutcome, check_step


def solve(problem: Problem) -> Answer:
    """Everything that the sweeps say: tilt, shim and tap, with warnings.

    Every `Problem` has an answer. Lengths of the answer are in `problem.unit`.
    """
    unit = problem.unit
    # From here on the readings are heights of the table; what is told as called is turned back.
    gain, as_read, problem = float(gain_of(problem)), problem, in_heights(problem)
    step = step_of(problem)
    found = tuple(find(problem, sweep) for sweep in problem.sweeps)
    main, together = found[0], put_together(problem, found)
    # The height of the main sweep, the tilt of all.
    plane = main.plane if len(found) == 1 else plane_through(*together.pair, main.plane.mean)
    budget = together.budget
    judgement = judge(plane.front_minus_back, plane.right_minus_left, budget, region_of(problem))
    u_difference = difference_sd(problem.noise, unit, step)
    shim = shim_of(problem, plane, u_difference)
    pivot = pivot_over_radius(problem, u_difference)
    coupling = coupling_of(problem, shim.response, pivot, u_difference)
    sigma = reading_sd(problem.noise, unit, step)
    bounds, bounds_read = limits(sigma), limits(sigma / abs(gain))
    drifts = [None if one.drift is None else one.drift / gain for one in found]
    warnings: list[Notice | None] = [
        *(cautions.about_drift(drift, bounds_read, unit) for drift in drifts),
        *(cautions.about_saddle(one.saddle, bounds, unit) for one in found),
        *(
            cautions.about_residuals(one.off_plane and one.saddle is None, one.plane, unit)
            for one in found
        ),
        cautions.about_slip(together.slip, budget, unit),
        cautions.about_noise(budget),
        cautions.about_proof(judgement, budget, unit),
        cautions.about_pivot(pivot),
        cautions.about_trial(last_trial(problem, u_difference)),
        cautions.about_coupling(coupling),
        *cautions.about_shim(shim, plane.front_minus_back, problem.shim, unit),
    ]
    return Answer(
        unit=unit,
        front_minus_back=plane.front_minus_back,
        right_minus_left=plane.right_minus_left,
        tilt=plane.tilt,
        high_bearing_deg=plane.high_bearing_deg,
        mean=plane.mean / gain + 0.0,
        saddle=main.saddle,
        drift=drifts[0],
        angle_arcsec=_over(problem, plane, _arcsec),
        mm_per_300mm=_over(problem, plane, lambda slope: 300 * slope),
        thou_per_foot=_over(problem, plane, lambda slope: 12000 * slope),
        residuals=main.plane.residuals,
        shim=shim,
        tap=tap_of(as_read, plane, pivot, gain),
        budget=budget,
        judgement=judgement,
        axial_slip=together.slip,
        coupling=coupling,
        # A warning that several sweeps share is said once.
        warnings=tuple(dict.fromkeys(warning for warning in warnings if warning is not None)),
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
    return plan_shim(
        plane.front_minus_back,
        response,
        stock,
        shim.max_leaves,
        fitted,
        u_difference,
        float(shim.leaf_tolerance.to(unit)),
    )


def tap_of(problem: Problem, plane: Plane, pivot: float, gain: float) -> Tap:
    """The tap for this sweep, watched on the right; `problem` as read, the dial as called there."""
    at_right = next((r for r in problem.readings if r.station == "right"), None)
    current: Length | None = None if at_right is None else at_right.value
    if at_right is not None and at_right.no_go is not None and problem.method == "square":
        # The end that is open may change on the way: the middle counts, not the leaf that goes.
        current = (at_right.value + at_right.no_go) * Decimal("0.5") if current else current
    return plan_tap(
        plane.right_minus_left,
        plane.height_at(float(BEARING_OF["right"])) / gain
        if current is None
        else float(current.to(problem.unit)),
        pivot,
        gain=gain,
    )


def pivot_over_radius(problem: Problem, u_difference: float) -> float:
    """Where the table pivots side to side, in sweep radii to the right of the axis.

    As told, and as the taps show if there were any that turned the table the right way.
    """
    told = 0.0
    if problem.sweep_diameter is not None:
        told = 2 * float(problem.pivot_offset / problem.sweep_diameter)
    if not problem.taps:
        return told
    unit = problem.unit
    taps = [
        (float(tap.change.to(unit)), float(tap.before.to(unit)), float(tap.after.to(unit)))
        for tap in problem.taps
    ]
    turn = learn_turn(told, taps, u_difference).value
    return pivot_of_turn(turn) if turn > 0 else told


def coupling_of(
    problem: Problem, response: Response, pivot: float, u_difference: float
) -> Coupling:
    """What shim and tap do to the other axis, learnt from trials and taps that tell both.

    Minimises as `learn_coupling` does; lengths in the job's unit. The main effects are those of
    `response` and `pivot` (sweep radii), of which it starts.
    """
    unit = problem.unit
    moves = []
    for trial, step in zip(problem.shim.trials, steps_of(problem.shim.trials, unit), strict=True):
        if trial.side_before is not None and trial.side_after is not None:
            added = float(step.shim_after - step.shim_before)
            sides = float((trial.side_after - trial.side_before).to(unit))
            moves.append(Move(added, 0.0, float(step.after - step.before), sides))
    for tap in problem.taps:
        if tap.front_before is not None and tap.front_after is not None:
            front = float((tap.front_after - tap.front_before).to(unit))
            turned = float((tap.after - tap.before).to(unit))
            moves.append(Move(0.0, float(tap.change.to(unit)), front, turned))
    # Almost under the watched station nothing moves there; as for `learn_turn`, it is taken nearer.
    prior = uncoupled(response.value, response.uncertainty, min(pivot, 0.9))
    return learn_coupling(prior, moves, u_difference)


def _over(problem: Problem, plane: Plane, of_slope: Callable[[float], float]) -> float | None:
    if problem.sweep_diameter is None:
        return None
    diameter = float(problem.sweep_diameter.to(problem.unit))
    return of_slope(plane.tilt / diameter)


def _arcsec(slope: float) -> float:
    return degrees(atan2(slope, 1.0)) * 3600
