"""The spindle before the sweep: runout, play, and whether the quill travels square.

Belongs here: checks of the machine that a table sweep takes for granted. Readings of runout are
those of a fixed indicator on a turning bar. Lengths are floats in one unit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, degrees, hypot, sqrt

import numpy as np

from assistant.metrology.least_squares import fit_linear
from assistant.metrology.plane import Station, fit_plane


@dataclass(frozen=True, slots=True)
class Runout:
    """Once-per-turn runout at one place along a bar.

    `tir`: full movement of the fitted circle, twice the eccentricity; `across`, `along`: the
    eccentricity as a vector towards 90 and 0 degrees of spindle angle. `rest_sd`: what is not once
    per turn (an untrue bar), None for three readings.
    """

    tir: float
    across: float
    along: float
    rest_sd: float | None

    @property
    def eccentricity(self) -> float:
        """Offset of the bar from the axis: half the full movement."""
        return self.tir / 2


def runout(readings: Sequence[tuple[float, float]]) -> Runout:
    """Runout from (spindle angle in degrees, reading), three or more spread round the turn.

    Minimises the squared residuals of a circle. Raises `FitError` for angles too close together.
    """
    fit = fit_plane([Station(angle, reading) for angle, reading in readings])
    return Runout(fit.tilt, fit.to_right, fit.to_back, fit.residual_sd)


@dataclass(frozen=True, slots=True)
class BarAxis:
    """How a bar sits in a turning spindle.

    `offset`: eccentricity at the near place; `lean`: change of eccentricity per unit of length
    along the bar; `direction_deg`: spindle angle to which it leans.
    """

    offset: float
    lean: float
    direction_deg: float


def bar_axis(near: Runout, far: Runout, apart: float) -> BarAxis:
    """Eccentricity against tilt of a bar, from runout at two places `apart` along it.

    The same vector at both is a bar held off centre, a growing one is a bar held at an angle.
    """
    if apart <= 0:
        raise ValueError("the two places must lie apart; measure further down the bar")
    across, along = far.across - near.across, far.along - near.along
    return BarAxis(
        near.eccentricity, hypot(across, along) / apart, degrees(atan2(across, along)) % 360
    )


def lean_limits(near_tir: float, far_tir: float, apart: float) -> tuple[float, float]:
    """Least and greatest lean per length when only the two full movements are known.

    Without angles the eccentricities may point the same way or opposite ways.
    """
    near, far = near_tir / 2, far_tir / 2
    return abs(far - near) / apart, (far + near) / apart


def play(pushed: float, pulled: float) -> float:
    """End play or side shake: the dial pushed one way less the dial pushed the other, no sign."""
    return abs(pushed - pulled)


@dataclass(frozen=True, slots=True)
class Travel:
    """Lean of the quill's travel in one direction, per unit of depth.

    Positive: the dial rises with depth. `u`: standard uncertainty; None for two readings.
    """

    lean: float
    u: float | None

    def over(self, length: float) -> float:
        """The lean over a length, in the unit of the length."""
        return self.lean * length


def quill_travel(readings: Sequence[tuple[float, float]]) -> Travel:
    """Lean of the travel from (depth, dial reading against a square's blade); two or more.

    Minimises the squared residuals of a straight line. A sweep says nothing about this.
    """
    depths = np.array([depth for depth, _ in readings], dtype=np.float64)
    dials = np.array([dial for _, dial in readings], dtype=np.float64)
    fit = fit_linear(np.column_stack([np.ones_like(depths), depths]), dials)
    spread = fit.residual_sd
    u = None if spread is None else spread * sqrt(float(fit.covariance_factor[1, 1]))
    return Travel(float(fit.coefficients[1]), u)


def without_square_error(one_way: Travel, turned: Travel) -> tuple[Travel, float]:
    """Travel freed of the square's own error, and that error per unit of length.

    The square is turned half round for the second run and the dial meets its other side, so that
    the travel counts the other way and the square's error the same way (reversal, derived).
    """
    u = None
    if one_way.u is not None and turned.u is not None:
        u = hypot(one_way.u, turned.u) / 2
    return Travel((one_way.lean - turned.lean) / 2, u), (one_way.lean + turned.lean) / 2


def travel_off_axis(
    over_depth: tuple[float, float], differences: tuple[float, float], depth_over_diameter: float
) -> tuple[float, float]:
    """How far the quill leaves the spindle's axis over a depth, (to the back, to the right).

    `over_depth`: the same against a square that stands on the table, which leans with it;
    `differences`: (front_minus_back, right_minus_left) of a sweep of the table as it stood then;
    `depth_over_diameter`: the depth in sweep diameters. Derived: with the front high the square
    leans back going up, so that a quill along the axis runs to the back going down along it.
    """
    back, right = over_depth
    front_high, right_high = differences
    return back - front_high * depth_over_diameter, right + right_high * depth_over_diameter
