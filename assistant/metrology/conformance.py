"""Is it within tolerance? Probabilities after JCGM 106, decisions after ISO 14253-1.

Belongs here: regions of tolerance, the probability that the true tilt lies in one, guard bands. A
result with degrees of freedom nu is taken as a (multivariate) t about the estimate.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import inf, isinf, sqrt
from typing import Final, Literal

import numpy as np

from assistant.metrology.least_squares import Array
from assistant.metrology.t_distribution import t_quantile

Verdict = Literal["within", "beyond", "undecided"]
Covariance = tuple[tuple[float, float], tuple[float, float]]

# Default conformance probability of ISO 14253-1:2017, by public summaries of it.
CONFORMANCE: Final = 0.95
# Rays of the integral over directions, enough for four digits at the edges of a region. Half a
# step off the axes, where a ray would run along the straight side of a half disc.
_RAYS: Final = 720
_ANGLES: Final = 2 * np.pi * (np.arange(_RAYS) + 0.5) / _RAYS
_COS: Final = np.cos(_ANGLES)
_SIN: Final = np.sin(_ANGLES)

# Of a probability, and of a tilt as part of the limit: beyond what is ever shown.
_EXACT: Final = 1e-12


@dataclass(frozen=True, slots=True)
class Disc:
    """Tilt of at most ``limit``, whichever way it points."""

    limit: float


@dataclass(frozen=True, slots=True)
class HalfDisc:
    """Tilt of at most ``limit`` with the front on one side only: high (or level), or low."""

    limit: float
    front: Literal["high", "low"]


Region = Disc | HalfDisc


def guard_band(u: float, dof: float = inf, probability: float = CONFORMANCE) -> float:
    """How far inside (or outside) one limit a value must lie to be proven: t * u, one-sided.

    1.645 u at 95 % for many degrees of freedom. ISO 14253-1 (from public summaries).
    """
    return t_quantile(probability, dof) * u


def decide(probability: float, required: float = CONFORMANCE) -> Verdict:
    """Proven within, proven beyond, or neither."""
    if probability >= required:
        return "within"
    return "beyond" if probability <= 1 - required else "undecided"


def scaled_tolerance(
    tolerance: float, stated_over: float, diameter: float, least: float = 0.0
) -> float:
    """A tolerance stated over one length, in proportion over another, but ``least`` at least."""
    return max(tolerance * diameter / stated_over, least)


def region_probability(
    region: Region, front_minus_back: float, right_minus_left: float, covariance: Covariance,
    dof: float = inf,
) -> float:  # fmt: skip
    """Probability that the true pair of differences lies in the region.

    Polar coordinates about the estimate, whitened by the covariance: along each ray the
    probability beyond r is (1 + r^2/nu)^(-nu/2), exp(-r^2/2) for the normal; the region being
    convex, each ray crosses it once.
    """
    first, (across, second) = _root(covariance)
    along = (first[0] * _COS, across * _COS + second * _SIN)
    enters, leaves = _crossing(region, (front_minus_back, right_minus_left), along)
    shares = _beyond(enters, dof) - _beyond(np.maximum(leaves, enters), dof)
    return min(float(np.mean(shares)), 1.0)


def proving_limits(
    limit: float, covariance: Covariance, direction: tuple[float, float], dof: float = inf,
    required: float = CONFORMANCE,
) -> tuple[float | None, float]:  # fmt: skip
    """Largest tilt that is proven within ``limit`` in this direction, and smallest proven beyond.

    The first is None when the uncertainty is so large that not even a level table proves itself.
    """
    length = sqrt(direction[0] ** 2 + direction[1] ** 2) or 1.0
    unit = (direction[0] / length, direction[1] / length) if any(direction) else (1.0, 0.0)

    def inside(tilt: float) -> float:
        return region_probability(Disc(limit), tilt * unit[0], tilt * unit[1], covariance, dof)

    sd = sqrt(max(covariance[0][0], covariance[1][1]))
    far = limit + 2 * guard_band(sd, dof, required) + sd
    accept = None
    if inside(0.0) >= required:
        accept = _falls_to(required, inside, 0.0, limit)
    return accept, _falls_to(1 - required, inside, 0.0, far)


def _falls_to(level: float, value: Callable[[float], float], low: float, high: float) -> float:
    """Where a falling function comes down to ``level``: ``low`` if it lies there below it already,
    ``high`` if it does not come down so far.

    Regula falsi with the Illinois rule (M. Dowell and P. Jarratt, BIT 11, 1971, pages 168 to 174):
    a dozen calls where halving needs forty.
    """
    above, below = value(low) - level, value(high) - level
    if above <= 0:
        return low
    if below >= 0:
        return high
    least, kept = _EXACT * high, ""
    while high - low > least:
        at = (low * below - high * above) / (below - above)
        found = value(at) - level
        if abs(found) < _EXACT:
            return at
        if found > 0:
            low, above = at, found
            below, kept = (below / 2 if kept == "high" else below), "high"
        else:
            high, below = at, found
            above, kept = (above / 2 if kept == "low" else above), "low"
    return low


def _beyond(distance: Array, dof: float) -> Array:
    """Probability of lying farther out than this along a ray, in standard deviations."""
    square = distance * distance
    if isinf(dof):
        return np.exp(-square / 2)
    return np.exp(-dof / 2 * np.log1p(square / dof))


def _root(covariance: Covariance) -> Covariance:
    """Lower triangular root (Cholesky) of a 2 by 2 covariance."""
    (a, b), (_, d) = covariance
    if a <= 0 or d <= 0:
        raise ValueError("the covariance has no spread; a difference is never exact")
    first = sqrt(a)
    return ((first, 0.0), (b / first, sqrt(max(d - b * b / a, 0.0))))


def _crossing(
    region: Region, start: tuple[float, float], along: tuple[Array, Array]
) -> tuple[Array, Array]:
    """Where rays from ``start`` enter and leave the region, in lengths of ``along``.

    A ray that misses it leaves no later than it enters.
    """
    match region:
        case Disc(limit):
            return _through_disc(limit, start, along)
        case HalfDisc(limit, front):
            disc = _through_disc(limit, start, along)
            sides = (0.0, inf) if front == "high" else (-inf, 0.0)
            half = _between(*sides, start[0], along[0])
            return np.maximum(disc[0], np.maximum(half[0], 0.0)), np.minimum(disc[1], half[1])


def _through_disc(
    limit: float, start: tuple[float, float], along: tuple[Array, Array]
) -> tuple[Array, Array]:
    a = along[0] ** 2 + along[1] ** 2
    b = start[0] * along[0] + start[1] * along[1]
    c = start[0] ** 2 + start[1] ** 2 - limit**2
    # A ray that misses the disc touches it at its nearest, where it enters and leaves at once.
    half = np.sqrt(np.maximum(b * b - a * c, 0.0))
    return np.maximum((-b - half) / a, 0.0), (-b + half) / a


def _between(low: float, high: float, at: float, step: Array) -> tuple[Array, Array]:
    # The rays lie off the axes, so that no step is zero unless the covariance is singular.
    step = np.where(step == 0, 1e-300, step)
    one, two = (low - at) / step, (high - at) / step
    return np.minimum(one, two), np.maximum(one, two)
