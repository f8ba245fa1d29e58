"""What a job shows of its own noise while it is done: residuals, repeats, closings, relockings.

Belongs here: scatter out of sweeps. It is pooled with what was known before in ``budget``.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import sqrt
from typing import Final

import numpy as np

from assistant.metrology.f_distribution import f_quantile
from assistant.metrology.least_squares import Array
from assistant.metrology.scatter import Scatter, resolution_sd, without_rounding

FALSE_ALARMS: Final = 0.01
"""Share of good sweeps that a test of their readings calls bad."""


@dataclass(frozen=True, slots=True)
class Swept:
    """The heights of one sweep, drift taken out, in the order taken; one unit.

    ``shares``: the part of the drift that each had picked up, None for a sweep that was not closed.
    ``drift``: its return error. ``opened``: it goes on from another sweep, and the station that
    closes it is none of its own. ``moved_on``: as ``problem.Sweep`` has it, in degrees.
    """

    bearings_deg: tuple[float, ...]
    heights: tuple[float, ...]
    shares: tuple[float, ...] | None = None
    drift: float | None = None
    opened: bool = False
    moved_on: float = 0.0

    def behind(self, by_deg: float) -> Swept:
        """The same, had its spots been moved on by so much less than told, or not at all."""
        less = min(self.moved_on, by_deg)
        at = tuple(bearing - less for bearing in self.bearings_deg)
        return replace(self, bearings_deg=at, moved_on=self.moved_on - less)


@dataclass(frozen=True, slots=True)
class Misfit:
    """What sweeps of the same stations say of their readings together: residuals, in one unit.

    ``residuals`` are the mean ones of ``count`` sweeps. ``square``: what they come to in variances
    of a reading, chi-square with ``dof`` for normal readings.
    """

    residuals: tuple[float, ...]
    dof: int
    square: float
    count: int = 1

    def beyond(self, sigma: float, sigma_dof: float, rate: float = FALSE_ALARMS) -> bool:
        """Whether the stations miss a plane by more than readings with this scatter do.

        F test of the residuals' variance over that of a reading, ``sigma`` known to ``sigma_dof``
        degrees of freedom; one good sweep in a hundred is called bad.
        """
        if not self.dof or sigma <= 0:
            return False
        return self.square / self.dof > sigma**2 * f_quantile(1 - rate, self.dof, sigma_dof)


@dataclass(frozen=True, slots=True)
class Shown:
    """Scatter that the sweeps show by themselves; None or no dof where they do not.

    ``spots``: one reading, surface and all, from what misses the plane at the same stations every
    time. ``repeat``: one reading taken again at its spot, from what changes between sweeps.
    """

    spots: Scatter | None = None
    repeat: Scatter | None = None


def misfit_of(sweeps: Sequence[Swept]) -> Misfit:
    """The mean residuals of sweeps of the same stations, weighed as readings scatter.

    Where a sweep was closed, its stations share the noise of the drift that was taken out: the
    four-station saddle then has a variance of 3.5 and not of 4. The square is r' (P C P)+ r with
    the covariance C of the corrected readings and the projection P off the plane.
    """
    projection, inverse = _off_plane_of(sweeps[0])
    mean = np.mean([projection @ np.array(one.heights) for one in sweeps], axis=0)
    dof = len(mean) - 3
    square = _square(mean, inverse) if dof else 0.0
    return Misfit(tuple(float(value) for value in mean), dof, square, len(sweeps))


def repeat_scatter(sweeps: Sequence[Swept], step: float) -> Scatter | None:
    """How one reading scatters at its spot, from sweeps of the same stations; None from one.

    What a sweep misses the plane by changes from one to the next by reading alone, wherever the
    table was moved to meanwhile: (k - 1)(n - 3) degrees of freedom. So do the return errors but
    for an even drift, sqrt 2 of a reading: k - 1 more.
    """
    count = len(sweeps)
    if count < 2:
        return None
    projection, inverse = _off_plane_of(sweeps[0])
    off = np.array([projection @ np.array(one.heights) for one in sweeps])
    square = sum(_square(row, inverse) for row in off - off.mean(axis=0))
    dof = (count - 1) * (len(off[0]) - 3)
    returns = np.array([one.drift for one in sweeps if one.drift is not None])
    if len(returns) > 1:
        square += float(np.sum((returns - returns.mean()) ** 2)) / 2
        dof += len(returns) - 1
    if not dof:
        return None
    return Scatter(without_rounding(sqrt(square / dof), step), dof)


def shown_by(sweeps: Sequence[Swept], step: float, sigma: Scatter) -> Shown:
    """What sweeps, of one table or of one that was moved between them, show of their noise.

    ``sigma`` is one reading as known before. Stations that miss a plane by more than it explains
    (``Misfit.beyond``) are the table's form or a slip, and are left out. Sweeps of the same
    stations are taken together: the surface is the same each time, and counts once.
    """
    groups: dict[tuple[float, ...], list[Swept]] = defaultdict(list)
    for one in sweeps:
        groups[one.bearings_deg].append(one)
    spots: list[Scatter] = []
    repeats: list[Scatter] = []
    for group in groups.values():
        misfit = misfit_of(group)
        repeat = repeat_scatter(group, step)
        if repeat is not None:
            repeats.append(repeat)
        if misfit.dof and not misfit.beyond(sigma.sd, sigma.dof):
            variance = misfit.square / misfit.dof
            if repeat is not None:
                # The mean of several has lost most of what is redrawn each time.
                whole = repeat.sd**2 + resolution_sd(step) ** 2
                variance += whole * (1 - 1 / misfit.count)
            spots.append(Scatter(without_rounding(sqrt(variance), step), misfit.dof))
    return Shown(_together(spots), _together(repeats))


def relock_shown(pairs: Sequence[tuple[float, float]], u_reading: float) -> Scatter | None:
    """Scatter of a difference from relocking, from sweeps with relockings between; None from one.

    ``u_reading``: standard uncertainty of a difference from what is redrawn with each reading.
    Two degrees of freedom for each sweep after the first.
    """
    if len(pairs) < 2:
        return None
    table = np.array(pairs)
    variance = float(np.sum((table - table.mean(axis=0)) ** 2)) / (2 * (len(pairs) - 1))
    return Scatter(sqrt(max(variance - u_reading**2, 0.0)), 2 * (len(pairs) - 1))


def _together(parts: Sequence[Scatter]) -> Scatter | None:
    return parts[0].with_more(parts[1:]) if parts else None


def _square(residuals: Array, inverse: Array) -> float:
    # Rounding must not make a square negative.
    return max(float(residuals @ inverse @ residuals), 0.0)


def _off_plane_of(sweep: Swept) -> tuple[Array, Array]:
    """The projection off the plane, and the inverse of the covariance of what it leaves; reading
    variance one."""
    return _off_plane(sweep.bearings_deg, sweep.shares, sweep.opened)


@lru_cache(maxsize=64)
def _off_plane(
    bearings_deg: tuple[float, ...], shares: tuple[float, ...] | None, opened: bool
) -> tuple[Array, Array]:
    angles = np.radians(np.array(bearings_deg))
    design = np.column_stack([np.ones_like(angles), np.sin(angles), np.cos(angles)])
    count = len(angles)
    projection = np.eye(count) - design @ np.linalg.pinv(design)
    left = projection @ correction_of(count, shares, opened)
    return projection, np.linalg.pinv(left @ left.T, rcond=1e-9, hermitian=True)


def correction_of(count: int, shares: Sequence[float] | None, opened: bool = False) -> Array:
    """Called readings to heights less drift: n by n, or n by n + 1 with the closing one last.

    ``opened``: n by n + 2, the opening one and the closing one last.
    """
    if shares is None:
        return np.eye(count)
    part = np.array(shares, dtype=np.float64)
    if opened:
        return np.column_stack([np.eye(count), part, -part])
    matrix = np.column_stack([np.eye(count), -part])
    matrix[:, 0] += part
    return matrix
