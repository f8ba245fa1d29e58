"""Sweeps of one table at spots of their own: how far the surface averages out, and what it shows.

Belongs here: what the places of the stations of several sweeps make of the surface's part. What
is averaged besides is in ``combining``. The heights of two spots are alike as ``waviness`` has it.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import radians, sin, sqrt
from typing import Final

import numpy as np

from assistant.metrology.budget import difference_rows
from assistant.metrology.combining import Pair
from assistant.metrology.evidence import Swept
from assistant.metrology.least_squares import Array
from assistant.metrology.scatter import Scatter, without_rounding
from assistant.metrology.waviness import alike

_APART: Final = 0.3
"""Part of the surface that sweeps must not share, for their differences to show it (judgement)."""


def surface_of_mean(
    sweeps: Sequence[Swept], weights: Sequence[float], diameter_mm: float | None
) -> Array:
    """Covariance, 2 by 2, of the weighted mean of both differences, for a surface variance of one.

    A spot that two sweeps share has one height, spots apart are alike as ``waviness.alike`` has it
    (not at all where the ``diameter_mm`` is not known). Within a sweep the stations lie far apart.
    """
    rows = [
        weight * difference_rows(one.bearings_deg, one.shares, one.opened)
        for one, weight in zip(sweeps, weights, strict=True)
    ]
    total = np.zeros((2, 2))
    for first, one in zip(rows, sweeps, strict=True):
        for second, other in zip(rows, sweeps, strict=True):
            total += first @ _shared(one, other, diameter_mm) @ second.T
    return total


def between_spots(
    sweeps: Sequence[Swept], pairs: Sequence[Pair], diameter_mm: float | None, step: float
) -> Scatter | None:
    """One reading, surface and all, by what sweeps of one table at different spots differ.

    ``pairs``: their differences, in the same order. Two degrees of freedom for each sweep after the
    first; None where there is none, or where they share most of their spots.
    """
    count = len(sweeps)
    if count < 2:
        return None
    alone = sum(float(np.trace(surface_of_mean([one], [1.0], diameter_mm))) for one in sweeps)
    mean = float(np.trace(surface_of_mean(sweeps, [1 / count] * count, diameter_mm)))
    # E sum (p - mean p)^2 = sum of the variances less that of the mean times the number.
    expected = (alone - count * mean) / (2 * (count - 1))
    if expected < _APART * alone / (2 * count):
        return None
    table = np.array(pairs)
    variance = float(np.sum((table - table.mean(axis=0)) ** 2)) / (2 * (count - 1))
    return Scatter(without_rounding(sqrt(variance / expected), step), 2 * (count - 1))


def _shared(one: Swept, other: Swept, diameter_mm: float | None) -> Array:
    if one is other:
        return np.eye(len(_places(one)))
    return np.array([[_alike(a, b, diameter_mm) for b in _places(other)] for a in _places(one)])


def _places(one: Swept) -> list[float | None]:
    """Bearings of all that was called; where a sweep that goes on was opened is not known."""
    if one.shares is None:
        return [*one.bearings_deg]
    more: list[float | None] = [None, None] if one.opened else [one.bearings_deg[0]]
    return [*one.bearings_deg, *more]


def _alike(a: float | None, b: float | None, diameter_mm: float | None) -> float:
    if a is None or b is None:
        return 0.0
    turn = abs(a - b) % 360
    if turn == 0:
        return 1.0
    return 0.0 if diameter_mm is None else alike(diameter_mm * sin(radians(turn) / 2))
