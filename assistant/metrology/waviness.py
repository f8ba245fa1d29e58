"""Rough or wavy: what readings at neighbouring spots say about spots far apart.

Belongs here: the correlation of a surface along a line, and how far apart spots have to lie. The
stations of a sweep lie far apart, and it is their scatter that a sweep suffers from: readings that
were taken close together share the same wave and scatter too little.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, sqrt
from typing import Final

import numpy as np

from assistant.metrology.uncertainty import dof_of_guess

CORRELATION_MM: Final = 25.4
"""Distance over which the heights of a table's surface fall to 1/e of alike: an inch (judgement;
scraping and milling leave shorter waves, warp has longer ones, which residuals show)."""

# It may be half of that or twice as much.
_TIMES: Final = 2.0


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
    """The worth of ``count`` spots spread evenly over ``span_mm``; None: far apart, n - 1.

    With correlations R between spots the sample variance expects sigma^2 tr(MR) / (n - 1), M being
    the centring matrix, and has tr(MR)^2 / tr(MRMR) degrees of freedom (Satterthwaite). The
    correlation falls as exp(-distance / length); that the length is only judged, by two either
    way, costs more of them the closer the spots lie (GUM G.4.2).
    """
    if span_mm is None:
        return Spots(1.0, float(count - 1))
    factor, dof = _with_length(count, span_mm, CORRELATION_MM)
    low, high = (
        _with_length(count, span_mm, length)[0]
        for length in (CORRELATION_MM / _TIMES, CORRELATION_MM * _TIMES)
    )
    doubt = (high - low) / 2 / factor
    return Spots(factor, 1 / (1 / dof + (1 / dof_of_guess(doubt) if doubt else 0.0)))


def _with_length(count: int, span_mm: float, length_mm: float) -> tuple[float, float]:
    at = np.linspace(0.0, span_mm, count)
    alike = np.exp(-np.abs(at[:, np.newaxis] - at) / length_mm)
    centred = alike - alike.mean(axis=0)
    trace = float(np.trace(centred))
    if trace <= 0:
        raise ValueError("the spots are one spot; spread them")
    return sqrt((count - 1) / trace), trace**2 / float(np.trace(centred @ centred))
