"""One machine at several heights and swings of its table.

Belongs here: comparing sweeps taken at different places, and the setting that serves them all.
Lengths are floats in one unit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot


@dataclass(frozen=True, slots=True)
class Position:
    """A sweep at a named height or swing."""

    name: str
    front_minus_back: float
    right_minus_left: float


@dataclass(frozen=True, slots=True)
class Survey:
    """What sweeps at several places say together.

    ``worst``: the place with the largest tilt. ``shift``: what to add to front_minus_back and
    right_minus_left everywhere so that the worst place is as good as can be; ``best_tilt``: the
    largest tilt that is left then, which no setting of the table can remove.
    """

    worst: str
    shift: tuple[float, float]
    best_tilt: float


def survey(places: Sequence[Position]) -> Survey:
    """The smallest circle round all pairs of differences: its centre is the common error.

    One adjustment moves every place alike. The circle is found among those through two or three of
    the points, of which one must be it.
    """
    if not places:
        raise ValueError("there is no sweep to compare; give one at least")
    points = [(place.front_minus_back, place.right_minus_left) for place in places]
    centre, radius = _smallest_circle(points)
    worst = max(places, key=lambda p: hypot(p.front_minus_back, p.right_minus_left))
    return Survey(worst.name, (-centre[0] + 0.0, -centre[1] + 0.0), radius)


Point = tuple[float, float]


def _smallest_circle(points: Sequence[Point]) -> tuple[Point, float]:
    centres: list[Point] = [points[0]] if len(set(points)) == 1 else []
    for i, a in enumerate(points):
        for j, b in enumerate(points[:i]):
            centres.append(((a[0] + b[0]) / 2, (a[1] + b[1]) / 2))
            centres += [c for d in points[:j] if (c := _through(a, b, d)) is not None]
    reach = {c: max(hypot(p[0] - c[0], p[1] - c[1]) for p in points) for c in centres}
    centre = min(reach, key=lambda c: reach[c])
    return centre, reach[centre]


def _through(a: Point, b: Point, c: Point) -> Point | None:
    """Centre of the circle through three points; None when they lie on a line."""
    bx, by, cx, cy = b[0] - a[0], b[1] - a[1], c[0] - a[0], c[1] - a[1]
    twice = 2 * (bx * cy - by * cx)
    if abs(twice) < 1e-12:
        return None
    bb, cc = bx * bx + by * by, cx * cx + cy * cy
    return a[0] + (cy * bb - by * cc) / twice, a[1] + (bx * cc - cx * bb) / twice
