"""Rough or wavy: what readings at neighbouring spots say about spots far apart.

Belongs here: the correlation of a surface along a line, and how far apart spots have to lie. The
stations of a sweep lie far apart, and it is their scatter that a sweep suffers from: readings that
were taken close together share the same wave and scatter too little.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import exp, sqrt
from typing import Final

import numpy as np

from assistant.metrology.least_squares import Array
from assistant.metrology.uncertainty import dof_of_guess

CORRELATION_MM: Final = 25.4
"""Distance over which the heights of a table's surface fall to 1/e of alike: an inch (judgement;
scraping and milling leave shorter waves, warp has longer ones, which residuals show)."""

# It may be half of that or twice as much.
_TIMES: Final = 2.0

# Places on a line of spots, for the means over it.
_ALONG: Final = 200


_NO_LONGER_ALIKE_MM: Final = 5 * CORRELATION_MM


def alike(apart_mm: float) -> float:
    """Correlation of the heights of two spots so far apart: exp(-distance / length), 0 to 1."""
    return exp(-apart_mm / CORRELATION_MM) if apart_mm < _NO_LONGER_ALIKE_MM else 0.0


@dataclass(frozen=True, slots=True)
class Spots:
    """What readings at spots are worth: times how much they scatter, and degrees of freedom.

    ``factor`` is the standard deviation of readings far apart over that of these.
    """

    factor: float
    dof: float


def spots_apart(count: int, span_mm: float | None) -> Spots:
    """The worth of ``count`` spots along ``span_mm``; None: far apart, n - 1.

    Whoever is asked for spots either way of a station spreads them, or puts them where the hand
    goes and some close together: as likely evenly as anywhere (judgement). With correlations R
    between spots the sample variance expects sigma^2 tr(MR) / (n - 1), M being the centring matrix;
    its variance is 2 sigma^4 tr(MRMR) / (n - 1)^2, and that of tr(MR) from one choice of spots to
    another on top. A chi-square has the same relative variance by its degrees of freedom
    (Satterthwaite). The correlation falls as exp(-distance / length); that the length is only
    judged, by two either way, costs more of them the closer the spots lie (GUM G.4.2).
    """
    if span_mm is None:
        return Spots(1.0, float(count - 1))
    return _length_judged(lambda length_mm: _with_length(count, span_mm, length_mm))


def off_line_sd(values: Sequence[float]) -> float:
    """Scatter of readings in a row, their common slope taken out: n - 2.

    A table out of square slopes along spots, a dial that drifts along what is read one after the
    other; of two readings no slope can be told.
    """
    off = _off_line(len(values)) @ np.array(values)
    return float(np.sqrt(off @ off / max(len(values) - 2, 1)))


@lru_cache(maxsize=64)
def spots_in_a_row(count: int, apart_mm: float) -> Spots:
    """The worth of ``count`` spots in a row, each ``apart_mm`` from the one before, off their line.

    As of ``spots_apart``, with the projection off the line for M; hands put the spots to within a
    third of that, which changes little (simulated).
    """
    return _length_judged(lambda length_mm: _row(count, apart_mm, length_mm))


def _length_judged(worth: Callable[[float], tuple[float, float]]) -> Spots:
    """Factor and degrees of freedom at the correlation length, which is only judged."""
    factor, dof = worth(CORRELATION_MM)
    low, high = (worth(each)[0] for each in (CORRELATION_MM / _TIMES, CORRELATION_MM * _TIMES))
    doubt = (high - low) / 2 / factor
    return Spots(factor, 1 / (1 / dof + (1 / dof_of_guess(doubt) if doubt else 0.0)))


def _row(count: int, apart_mm: float, length_mm: float) -> tuple[float, float]:
    at = np.arange(count, dtype=np.float64) * apart_mm
    off = _off_line(count) @ np.exp(-np.abs(at[:, np.newaxis] - at) / length_mm)
    mean = float(np.trace(off))
    return sqrt(max(count - 2, 1) / mean), mean**2 / float(np.trace(off @ off))


@lru_cache(maxsize=16)
def _off_line(count: int) -> Array:
    """The projection off a line through spots in a row; of two, off their mean."""
    at = np.arange(count, dtype=np.float64)
    design = np.column_stack([np.ones_like(at), at][: count - 1])
    return np.asarray(np.eye(count) - design @ np.linalg.pinv(design), dtype=np.float64)


@lru_cache(maxsize=64)
def _with_length(count: int, span_mm: float, length_mm: float) -> tuple[float, float]:
    """Factor and degrees of freedom of spots that lie evenly or anywhere on a line."""
    ways = _evenly(count, span_mm, length_mm), _anywhere(count, span_mm, length_mm)
    mean = sum(each for each, _ in ways) / 2
    variance = sum(each**2 + spread for each, spread in ways) / 2 - mean**2
    if mean <= 0:
        raise ValueError("the spots are one spot; spread them")
    return sqrt((count - 1) / mean), 2 * mean**2 / variance


def _evenly(count: int, span_mm: float, length_mm: float) -> tuple[float, float]:
    """Mean and variance of the sum of squares about the mean, for a surface of variance one."""
    at = np.linspace(0.0, span_mm, count)
    alike = np.exp(-np.abs(at[:, np.newaxis] - at) / length_mm)
    centred = alike - alike.mean(axis=0)
    return float(np.trace(centred)), 2 * float(np.trace(centred @ centred))


def _anywhere(count: int, span_mm: float, length_mm: float) -> tuple[float, float]:
    """The same of spots that are each equally likely anywhere on the line.

    ``one``, ``square``, ``shared``: means of r_ij, r_ij^2 and r_ij r_ik. All that is needed of the
    sum S of r_ij over the n (n - 1) / 2 pairs, and of tr(RR) and of the sum of squared row sums.
    """
    at = (np.arange(_ALONG) + 0.5) * span_mm / _ALONG
    alike = np.exp(-np.abs(at[:, np.newaxis] - at) / length_mm)
    one, square = float(alike.mean()), float((alike**2).mean())
    shared = float((alike.mean(axis=1) ** 2).mean())
    pairs = count * (count - 1) / 2
    total = pairs * one
    spread = pairs * (square - one**2 + 2 * (count - 2) * (shared - one**2))
    squares = count + 2 * pairs * square
    rows = count + 4 * pairs * one + 2 * pairs * (square + (count - 2) * shared)
    whole = (count + 2 * total) ** 2 + 4 * spread
    centred = squares - 2 * rows / count + whole / count**2
    return count - 1 - 2 * total / count, 2 * centred + 4 * spread / count**2
