"""The uncertainty budget of one sweep: what each source adds to a difference over the diameter.

Belongs here: the sources and how each reaches the result. The rules for combining them are in
`uncertainty`, the scatter of single readings in `scatter`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, sqrt

import numpy as np

from assistant.metrology.least_squares import Array
from assistant.metrology.lengths import Length, Unit
from assistant.metrology.problem import Noise
from assistant.metrology.scatter import (
    SIDE_STATION_SHARE,
    end_play_sd,
    relock_scatter,
    resolution_sd,
    surface_scatter,
)
from assistant.metrology.uncertainty import (
    Budget,
    Component,
    Source,
    combined,
    pooled,
    rectangular,
)

Covariance = tuple[tuple[float, float], tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Misfit:
    """What the sweep itself says about its readings: residuals, in the job's unit.

    `beyond`: they are larger than the noise of readings can make them, so that the form of the
    table shows.
    """

    residuals: tuple[float, ...]
    dof: int
    beyond: bool = False

    @property
    def square_sum(self) -> float:
        return sum(residual * residual for residual in self.residuals)


@dataclass(frozen=True, slots=True)
class SweepBudget:
    """The budgets of one sweep.

    `front_minus_back` and `right_minus_left` are of the two differences, `tilt` along the tilt
    found, all in the job's unit. `covariance` is of the two differences.
    """

    front_minus_back: Budget
    right_minus_left: Budget
    tilt: Budget
    covariance: Covariance


def sweep_budget(
    noise: Noise,
    unit: Unit,
    step: float,
    bearings_deg: Sequence[float],
    differences: tuple[float, float],
    drift: float | None,
    misfit: Misfit,
    widths: Sequence[float] | None = None,
) -> SweepBudget:
    """Everything known about the noise of one sweep, as budgets.

    `step` is the resolution, `differences` are (front_minus_back, right_minus_left), `drift` the
    return error when the sweep was closed. `widths`: by leaves, from what goes to what does not,
    for each reading; they stand in for the resolution. Sources act on each reading (surface,
    resolution, form) and go through the fit, or act on the difference as a whole (relock, lock
    pull, indicator, drift) and are the same whichever way it points.
    """
    of_readings = _of_readings(noise, unit, step, misfit)
    sigma = combined([component.u for component in of_readings])
    of_differences = _of_differences(noise, unit, step, drift, sigma)
    closed = drift is not None
    factor = difference_factor(bearings_deg, closed)
    common = combined([component.u for component in of_differences]) ** 2
    gauged = np.zeros((2, 2))
    if widths is not None:
        of_readings = [part for part in of_readings if part.source != "resolution"]
        gauged = difference_factor(bearings_deg, closed, [width**2 / 12 for width in widths])
        sigma = combined([component.u for component in of_readings])

    def along(x: float, y: float) -> Budget:
        way = np.array([x, y])
        scaled = Budget(tuple(of_readings)).scaled(sqrt(float(way @ factor @ way))).components
        by_gauge = sqrt(max(float(way @ gauged @ way), 0.0))
        gauge = (Component("gauge", by_gauge),) if widths is not None else ()
        return Budget(scaled + gauge + tuple(of_differences))

    tilt = sqrt(differences[0] ** 2 + differences[1] ** 2)
    worst = (1.0, 0.0) if factor[0, 0] >= factor[1, 1] else (0.0, 1.0)
    direction = (differences[0] / tilt, differences[1] / tilt) if tilt else worst
    covariance = sigma**2 * factor + gauged + common * np.eye(2)
    return SweepBudget(
        front_minus_back=along(1, 0),
        right_minus_left=along(0, 1),
        tilt=along(*direction),
        covariance=(
            (float(covariance[0, 0]), float(covariance[0, 1])),
            (float(covariance[1, 0]), float(covariance[1, 1])),
        ),
    )


def difference_factor(
    bearings_deg: Sequence[float], closed: bool, variances: Sequence[float] | None = None
) -> Array:
    """Covariance, 2 by 2, of (front_minus_back, right_minus_left) for a reading variance of one.

    `variances`: those of the readings where they differ; the closing one is then taken as sure.

    Goes through the plane fit, and through the drift correction if the sweep was `closed`: the
    first station then has two readings, and each share of the drift carries noise of both.
    """
    count = len(bearings_deg)
    angles = np.radians(np.array(bearings_deg, dtype=np.float64))
    design = np.column_stack([np.ones(count), np.sin(angles), np.cos(angles)])
    to_differences = np.array([[0.0, 0.0, -2.0], [0.0, 2.0, 0.0]]) @ np.linalg.pinv(design)
    if closed:
        share = np.arange(count) / count
        correction = np.column_stack([np.eye(count), -share])
        correction[:, 0] += share
        to_differences = to_differences @ correction
    if variances is not None:
        of_all = np.array([*variances, *([0.0] if closed else [])])
        to_differences = to_differences * np.sqrt(of_all)
    return np.asarray(to_differences @ to_differences.T, dtype=np.float64)


def _of_readings(noise: Noise, unit: Unit, step: float, misfit: Misfit) -> list[Component]:
    surface = surface_scatter(noise, unit, step)
    sd, dof = surface.sd, surface.dof
    rounding = resolution_sd(step)
    lifted = end_play_sd(noise, unit)
    if misfit.dof and not misfit.beyond:
        # Readings about one spot and readings about the plane scatter alike: one estimate of both.
        without = sqrt(max(misfit.square_sum / misfit.dof - rounding**2 - lifted**2, 0.0))
        sd, dof = pooled([(sd, dof), (without, misfit.dof)])
    found = [Component("surface", sd, dof, surface.assumed), Component("resolution", rounding)]
    if lifted > 0:
        found.append(Component("end_play", lifted))
    if misfit.beyond:
        # The table is not flat: a station may be off its plane by what these stations are off it.
        found.append(Component("form", sqrt(misfit.square_sum / len(misfit.residuals))))
    return found


def _of_differences(
    noise: Noise, unit: Unit, step: float, drift: float | None, sigma: float
) -> list[Component]:
    found: list[Component] = []

    def add(source: Source, u: float, dof: float = inf) -> None:
        if u > 0:
            found.append(Component(source, u, dof))

    relock = relock_scatter(noise, unit, step)
    if relock is not None:
        add("relock", relock.sd, relock.dof)
    # The pull of the hand lies anywhere from snug to hard; it moves a side station like relocking.
    add("lock_pull", rectangular(_size(noise.lock_pull, unit) / 2) / SIDE_STATION_SHARE)
    add("indicator", rectangular(_size(noise.indicator_limit, unit)))
    if drift is not None:
        # Half a turn apart, an even drift differs by half of it and any other by none or by all.
        # What the two readings of the first station differ by chance is no drift.
        real = sqrt(max(drift**2 - 2 * sigma**2, 0.0))
        add("drift", rectangular(real / 2))
    return found


def _size(length: Length | None, unit: Unit) -> float:
    return 0.0 if length is None else float(length.to(unit))
