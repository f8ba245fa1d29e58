"""The table as a plane: least squares through the stations of one sweep.

Belongs here: the fit and what follows from it about the tilt. Lengths are floats in one unit, that
of the heights given; everything is over the sweep's diameter, so no radius is needed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import atan2, ceil, cos, degrees, hypot, log10, radians, sin

import numpy as np

from assistant.metrology.least_squares import Array, FitError, fit_linear

# Slopes from stations crowded on one side carry many times the noise of a reading. Beyond this
# variance (four stations round the circle have 0.5) an answer would be a guess.
_MAX_SLOPE_VARIANCE = 25.0

_CROWDED = "the stations lie too close together; spread them round the table"

__all__ = ["FitError", "Plane", "StationHeight", "fit_plane", "plane_through", "shows_tilt"]


@dataclass(frozen=True, slots=True)
class StationHeight:
    """One height at a bearing; both floats, degrees and the unit of the fit."""

    bearing_deg: float
    height: float


@dataclass(frozen=True, slots=True)
class Plane:
    """height = mean + to_right * x + to_back * y, with x and y in sweep radii.

    ``covariance_factor`` is 3 by 3, in the order (mean, to_right, to_back), for a reading variance
    of one. ``residuals`` are in the order of the stations.
    """

    mean: float
    to_right: float
    to_back: float
    residuals: tuple[float, ...]
    covariance_factor: tuple[tuple[float, ...], ...]
    dof: int
    residual_sd: float | None

    @property
    def front_minus_back(self) -> float:
        """Front less back over the diameter; positive: front high."""
        return -2 * self.to_back

    @property
    def right_minus_left(self) -> float:
        """Right less left over the diameter; positive: right high."""
        return 2 * self.to_right

    @property
    def tilt(self) -> float:
        """The largest difference over the diameter, whichever way it points."""
        return 2 * hypot(self.to_right, self.to_back)

    @property
    def high_bearing_deg(self) -> float | None:
        """Bearing of the high side in [0, 360); None for a plane with no tilt."""
        if self.to_right == 0 and self.to_back == 0:
            return None
        bearing = degrees(atan2(self.to_right, self.to_back)) % 360
        # A bearing a rounding error below zero comes back from % as 360 itself.
        return 0.0 if bearing >= 360 else bearing

    def height_at(self, bearing_deg: float) -> float:
        """Height of the plane on the sweep circle."""
        angle = radians(bearing_deg)
        return self.mean + self.to_right * sin(angle) + self.to_back * cos(angle)


def fit_plane(stations: Sequence[StationHeight]) -> Plane:
    """The plane minimising the sum of squared height residuals; three stations or more.

    Raises ``FitError`` for fewer than three and for stations too crowded to show a tilt. For four
    at right angles the differences equal the plain ones and the residuals are +-saddle/4.
    """
    if len(stations) < 3:
        raise FitError(f"a plane needs three stations, not {len(stations)}; call more")
    design = _design([station.bearing_deg for station in stations])
    fit = fit_linear(design, np.array([station.height for station in stations], dtype=np.float64))
    factor = fit.covariance_factor
    if max(factor[1, 1], factor[2, 2]) > _MAX_SLOPE_VARIANCE:
        raise FitError(_CROWDED)
    mean, to_right, to_back = (float(value) for value in fit.coefficients)
    scale = max(abs(station.height) for station in stations)
    return Plane(
        mean=_clean(mean, scale),
        to_right=_clean(to_right, scale),
        to_back=_clean(to_back, scale),
        residuals=tuple(_clean(float(value), scale) for value in fit.residuals),
        covariance_factor=tuple(tuple(float(value) for value in row) for row in factor),
        dof=fit.dof,
        residual_sd=fit.residual_sd if fit.dof else None,
    )


def shows_tilt(bearings_deg: Sequence[float]) -> bool:
    """Whether ``fit_plane`` accepts these bearings."""
    return _shows_tilt(tuple(sorted(bearings_deg)))


# Every problem that is put asks it of the same few stations.
@lru_cache(maxsize=256)
def _shows_tilt(bearings_deg: tuple[float, ...]) -> bool:
    try:
        fit_plane([StationHeight(bearing, 0.0) for bearing in bearings_deg])
    except FitError:
        return False
    return True


def plane_through(front_minus_back: float, right_minus_left: float, mean: float = 0.0) -> Plane:
    """A plane with the given differences over the diameter, as if read at four stations."""
    return Plane(
        mean=mean,
        to_right=right_minus_left / 2,
        to_back=-front_minus_back / 2,
        residuals=(),
        covariance_factor=((0.25, 0.0, 0.0), (0.0, 0.5, 0.0), (0.0, 0.0, 0.5)),
        dof=0,
        residual_sd=None,
    )


def _design(bearings_deg: Sequence[float]) -> Array:
    angles = np.radians(np.array(bearings_deg, dtype=np.float64))
    return np.column_stack([np.ones_like(angles), np.sin(angles), np.cos(angles)])


def _clean(value: float, scale: float) -> float:
    """The value without the solver's rounding, twelve digits below the largest height.

    A level table has no high side, and six thou print as 6.
    """
    if scale == 0:
        return 0.0
    # Adding zero turns minus zero into zero.
    return round(value, 12 - ceil(log10(scale))) + 0.0
