"""Where things turn: the side-to-side pivot learnt from taps, and mill heads.

Belongs here: pivots beyond the simple tap of `tap`. Lengths are floats in one unit, pivots in sweep
radii.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import Literal

Coaching = Literal["more", "back", "there"]


@dataclass(frozen=True, slots=True)
class Pivot:
    """Pivot in sweep radii from the axis, positive right, with its standard uncertainty."""

    over_radius: float
    uncertainty: float


def learn_pivot(right_change: float, left_change: float, u_reading: float) -> Pivot | None:
    """The pivot about which the table turned, from what both sides did; None if it did not turn.

    At +-radius the heights change by phi (radius - x0) and -phi (radius + x0), so that
    x0 / radius = -(right + left) / (right - left). `u_reading` is of one reading; each change has
    two.
    """
    turn = right_change - left_change
    if abs(turn) <= 2 * 2 * u_reading:
        return None
    pivot = -(right_change + left_change) / turn
    # dp/dright = -(1 + p) / turn, dp/dleft = -(1 - p) / turn.
    u_change = sqrt(2) * u_reading
    spread = u_change / abs(turn) * sqrt((1 + pivot) ** 2 + (1 - pivot) ** 2)
    return Pivot(pivot, spread)


def coach(reading: float, target: float, before: float, step: float) -> tuple[Coaching, float]:
    """How a tap is going: more, back or there, and by how much of the dial.

    There: within half the dial's `step` of the target. Back: the target was passed.
    """
    left = target - reading
    if abs(left) <= step / 2:
        return "there", 0.0
    passed = left * (target - before) < 0
    return ("back" if passed else "more"), abs(left)


def nod_change(front_minus_back: float, pivot_behind_over_radius: float) -> float:
    """Change of the reading at the front that brings a mill head square front to back.

    The indicator rides on the head, whose nod turns about a pivot behind the spindle axis: front
    and back readings both change, by phi (d + radius) and phi (d - radius), their difference by
    2 phi radius. Needed at the front: -(F - B)/2 * (1 + d/radius).
    """
    return -front_minus_back / 2 * (1 + pivot_behind_over_radius) + 0.0


def tilt_change(right_minus_left: float, pivot_over_radius: float = 0.0) -> float:
    """Change of the reading at the right that brings a mill head square side to side.

    A tilting head turns about a pivot above the table; only the sideways distance from the pivot
    counts, as for a table that is tapped. Pivot above the axis: half the difference.
    """
    return -right_minus_left / 2 * (1 - pivot_over_radius) + 0.0
