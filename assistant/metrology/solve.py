"""Readings in, answer out: the order in which the pieces are used.

Belongs here: nothing but that order. The dialogue and the command line use this and the pieces
alike; the words of the warnings are in ``cautions``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import Decimal
from math import atan2, degrees
from typing import Final

from assistant.metrology import cautions
from assistant.metrology.agreement import Agreement, repeats_agree
from assistant.metrology.all_sweeps import put_together
from assistant.metrology.answer import Answer, Notice
from assistant.metrology.budget import with_pointing
from assistant.metrology.combining import sources_redrawn
from assistant.metrology.conformance import Region, scaled_tolerance
from assistant.metrology.consistency import limits
from assistant.metrology.coupling import Coupling, Move, learn_coupling, uncoupled
from assistant.metrology.drift import drift_of, shares_of
from assistant.metrology.heights import gain_of, in_heights
from assistant.metrology.judgement import judge, tolerance_region
from assistant.metrology.lengths import Length
from assistant.metrology.one_sweep import Findings, at_other_spots, find_all, step_of
from assistant.metrology.plane import Plane, plane_through
from assistant.metrology.problem import Problem, StationReading
from assistant.metrology.response import (
    Response,
    learn_positive,
    learn_turn,
    pivot_of_turn,
    prior_of_machine,
)
from assistant.metrology.scatter import difference_sd, reading_scatter
from assistant.metrology.shims import ShimPlan, fitted_now, plan_shim, steps_of
from assistant.metrology.stations import BEARING_OF
from assistant.metrology.tap import TapPlan, plan_tap
from assistant.metrology.trial_check import StepOutcome, check_step
from assistant.metrology.uncertainty import combined

# Readings that differ by less than this part of their uncertainty are one reading.
_SAME: Final = 0.01


def solve(problem: Problem) -> Answer:
    """Everything that the sweeps say: tilt, shim and tap, with warnings.

    Every ``Problem`` has an answer. Lengths of the answer are in ``problem.unit``.
    """
    unit = problem.unit
    # From here on the readings are heights of the table; what is told as called is turned back.
    gain, as_read, problem = float(gain_of(problem)), problem, in_heights(problem)
    step = step_of(problem)
    found = find_all(problem)
    main, together = found[0], put_together(problem, found)
    # The height of the main sweep, the tilt of all.
    alone = together.pair == main.pair
    plane = main.plane if alone else plane_through(*together.pair, main.plane.mean)
    station_deg, doubt = float(problem.rig.station_within_deg), problem.noise.gain_doubt
    budget = with_pointing(together.budget, together.pair, station_deg, doubt)
    judgement = judge(plane.front_minus_back, plane.right_minus_left, budget, region_of(problem))
    u_difference = difference_sd(problem.noise, unit, step)
    shim = shim_of(problem, plane, u_difference)
    pivot = pivot_over_radius(problem, u_difference)
    coupling = coupling_of(problem, shim.response, pivot, u_difference)
    sigma = reading_scatter(problem.noise, unit, step)
    closed = main.drift is not None
    bounds, bounds_read = (limits(sigma.sd / size, sigma.dof, closed) for size in (1.0, abs(gain)))
    drifts = [None if one.drift is None else one.drift / gain for one in found]
    warnings: list[Notice | None] = [
        *(cautions.about_drift(drift, bounds_read, unit) for drift in drifts),
        *(cautions.about_saddle(one.saddle, bounds, unit) for one in found),
        *(
            cautions.about_residuals(one.off_plane and one.saddle is None, one.plane, unit)
            for one in found
        ),
        cautions.about_slip(together.slip, budget, unit),
        cautions.about_repeats(repeat_apart(problem, found)),
        cautions.about_noise(budget),
        cautions.about_proof(judgement, budget, unit),
        cautions.about_pivot(pivot),
        cautions.about_trial(last_trial(problem, u_difference, sigma.dof)),
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
        stayed=together.stayed,
        tilt_to_slope=None
        if problem.sweep_diameter is None
        else 1 / float(problem.sweep_diameter.to(unit)),
        # A warning that several sweeps share is said once.
        warnings=tuple(dict.fromkeys(warning for warning in warnings if warning is not None)),
    )


def repeat_apart(problem: Problem, found: Sequence[Findings]) -> Agreement | None:
    """How the worst repeat differs from the others, beyond chance; None if all agree.

    Only sweeps with the indicator as it was first fitted: refitted, it meets the axial slip again.
    """
    pairs = tuple(
        one.pair
        for one, sweep in zip(found, problem.sweeps, strict=True)
        if sweep.refitted == problem.sweeps[0].refitted
    )
    redrawn = sources_redrawn(problem.relocked)
    if at_other_spots(problem.sweeps):
        redrawn |= {"surface"}
    first = found[0].budget
    u = tuple(
        combined([c.u for c in part.components if c.source in redrawn]) or part.u
        for part in (first.front_minus_back, first.right_minus_left)
    )
    dof = reading_scatter(problem.noise, problem.unit, step_of(problem)).dof
    told = repeats_agree(pairs, (u[0], u[1]), dof)
    return None if told is None else told[1]


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
    """The response to expect of this machine before any trial of this job."""
    if problem.shim.known is not None:
        return problem.shim.known
    return prior_of_machine(problem.sweep_diameter, problem.shim.span)


def last_trial(problem: Problem, u_difference: float, dof: float) -> StepOutcome | None:
    """What the last trial did, against all that was known before it; None without trials."""
    steps = [step.rough() for step in steps_of(problem.shim.trials, problem.unit)]
    if not steps:
        return None
    believed = learn_positive(prior_of(problem), steps[:-1], u_difference)
    return check_step(steps[-1], believed, u_difference, dof)


def shim_of(problem: Problem, plane: Plane, u_difference: float) -> ShimPlan:
    """The shim for this sweep, with the response learnt from the trials."""
    unit, shim = problem.unit, problem.shim
    steps = steps_of(shim.trials, unit)
    rough = [step.rough() for step in steps]
    response = learn_positive(prior_of(problem), rough, u_difference)
    if rough and abs(rough[-1].after - plane.front_minus_back) > _SAME * u_difference:
        # Another reading than the one that the response was learnt from.
        response = replace(response, with_reading=0.0)
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


def tap_of(problem: Problem, plane: Plane, pivot: float, gain: float) -> TapPlan:
    """The tap for this sweep, watched on the right; ``problem`` as read, the dial as called there.

    The dial went on drifting after the right was read: the target is from where it stands now.
    """
    at_right = next((r for r in problem.readings if r.station == "right"), None)
    current: Length | None = None if at_right is None else at_right.value
    if at_right is not None and at_right.no_go is not None and problem.method == "square":
        # The end that is open may change on the way: the middle counts, not the leaf that goes.
        current = (at_right.value + at_right.no_go) * Decimal("0.5") if current else current
    now = plane.height_at(float(BEARING_OF["right"])) / gain
    if current is not None:
        now = float(current.to(problem.unit)) + _drift_since(problem, at_right)
    reach = None if problem.rig.reach is None else float(problem.rig.reach.to(problem.unit))
    return plan_tap(plane.right_minus_left, now, pivot, gain=gain, reach=reach)


def _drift_since(problem: Problem, reading: StationReading | None) -> float:
    """What the dial drifted from this reading of the main sweep to its end, as called."""
    sweep = problem.sweeps[0]
    if sweep.closing is None or reading is None:
        return 0.0
    called = [each.value.to(problem.unit) for each in sweep.readings]
    drift = float(drift_of(called, sweep.closing.to(problem.unit)))
    share = shares_of(sweep.turns, sweep.closed_at)[sweep.readings.index(reading)]
    since = 0.0
    further = problem.repeats[0] if problem.repeats else None
    if further is not None and further.opening is not None and further.closing is not None:
        # It went on to other stations from there.
        since = float((further.closing - further.opening).to(problem.unit))
    return drift * max(1.0 - share, 0.0) + since


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

    Minimises as ``learn_coupling`` does; lengths in the job's unit. The main effects are those of
    ``response`` and ``pivot`` (sweep radii), of which it starts.
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
    # Almost under the watched station nothing moves there; it is taken nearer, as in learn_turn.
    prior = uncoupled(response.value, response.uncertainty, min(pivot, 0.9))
    return learn_coupling(prior, moves, u_difference)


def _over(problem: Problem, plane: Plane, of_slope: Callable[[float], float]) -> float | None:
    if problem.sweep_diameter is None:
        return None
    diameter = float(problem.sweep_diameter.to(problem.unit))
    return of_slope(plane.tilt / diameter)


def _arcsec(slope: float) -> float:
    return degrees(atan2(slope, 1.0)) * 3600
