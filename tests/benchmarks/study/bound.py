"""What the best possible method could know of a rough table: the bound for the study's figures.

    python -m tests.benchmarks.study.bound

Belongs here: an oracle that knows how the surface scatters, how it is correlated and how readings
repeat, and makes the best linear use of every reading (generalised least squares). The plus or
minus of 95 % that it would state of a difference, in thou, by how often it reads the table.
"""

from __future__ import annotations

import sys
from math import hypot, sqrt

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.study.surface import DENSE

Array = NDArray[np.float64]

WAVINESS = (0.85, 1.2, 1.7, 2.2)
"""Thou; the rough machines have 1.2 to 2.2."""

REPEAT = hypot(0.2, 0.05, 0.5 / sqrt(12), 0.3)
"""Of a reading at its spot: touch, wandering, the dial's half thou, and two degrees late."""

RADIUS_IN = 5.0

PLANS: dict[str, tuple[float, ...]] = {
    "one sweep": (0.0,),
    "and four between": (0.0, 45.0),
    "an inch further": (0.0, 45.0, 11.459),
    "and between": (0.0, 45.0, 11.459, 56.459),
    "another inch": (0.0, 45.0, 11.459, 56.459, 22.918, 67.918),
}
"""By how many degrees each round of four stations is turned."""


def kernel(apart: Array, waviness: float) -> Array:
    """Covariance of heights of the study's surface, an inch of correlation, so far apart."""
    chord = 2 * RADIUS_IN * np.sin(apart / 2)
    return np.asarray(waviness**2 * np.exp(-(chord**2)), dtype=np.float64)


def plus_or_minus(turned: tuple[float, ...], waviness: float, repeat: float = REPEAT) -> float:
    """1.96 standard deviations of front_minus_back, by the best linear estimate."""
    circle = 2 * np.pi * np.arange(DENSE) / DENSE
    alike = kernel(circle, waviness)
    mean, once = float(alike.mean()), 2 * float((alike * np.cos(circle)).mean())
    at = np.radians([turn + station for turn in turned for station in (0, 90, 180, 270)])
    apart = at[:, np.newaxis] - at
    whole = kernel(apart, waviness) - mean - once * np.cos(apart) + repeat**2 * np.eye(len(at))
    design = np.column_stack([np.ones_like(at), np.sin(at) / 2, -np.cos(at) / 2])
    covariance = np.linalg.inv(design.T @ np.linalg.solve(whole, design))
    return 1.96 * sqrt(float(covariance[2, 2]))


def table() -> str:
    """A line for each plan, a column for each waviness."""
    width = max(map(len, PLANS))
    head = " " * width + "".join(f"{waviness:>8g}" for waviness in WAVINESS)
    lines = [
        f"{name:<{width}}" + "".join(f"{plus_or_minus(turned, w):>8.2f}" for w in WAVINESS)
        for name, turned in PLANS.items()
    ]
    return "\n".join([head, *lines])


if __name__ == "__main__":
    sys.stdout.write(f"{table()}\n")
