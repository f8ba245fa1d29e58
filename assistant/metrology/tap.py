"""Side to side: how far to tap the table, watched on the dial at one station."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

WatchedSide = Literal["right", "left"]


@dataclass(frozen=True, slots=True)
class TapPlan:
    """``change``: needed change of the table's height at the watched station, positive up.

    ``dial_target``: what the dial (or, by gauges, the gap) should read there afterwards; None when
    the station was not read. All in the unit of the readings.
    """

    watch: WatchedSide
    change: float
    dial_target: float | None


def needed_change(
    right_minus_left: float, pivot_over_radius: float = 0.0, watch: WatchedSide = "right"
) -> float:
    """Change of height at the watched station that levels the table side to side.

    The table turns about a pivot at x0 (positive right of the axis): at +radius it takes
    -(R-L)/2 * (1 - x0/radius), at -radius (R-L)/2 * (1 + x0/radius). Central pivot: half.
    """
    if watch == "right":
        change = -right_minus_left / 2 * (1 - pivot_over_radius)
    else:
        change = right_minus_left / 2 * (1 + pivot_over_radius)
    # No "-0": it would be spoken as minus zero.
    return change + 0.0


def plan_tap(
    right_minus_left: float,
    current: float | None,
    pivot_over_radius: float = 0.0,
    watch: WatchedSide = "right",
    gain: float = 1.0,
    reach: float | None = None,
) -> TapPlan:
    """Where the dial should come to at the watched station: ``current`` there plus the change.

    ``gain`` is the height of the table per unit read: -1 for gaps, which shrink as the table rises.
    ``reach``: what the dial shows either way; a target beyond it is taken there, as far as can be
    seen, and the change with it.
    """
    change = needed_change(right_minus_left, pivot_over_radius, watch)
    if current is None:
        return TapPlan(watch, change, None)
    target = current + change / gain
    if reach is not None and abs(target) > reach:
        target = reach if target > 0 else -reach
        change = (target - current) * gain
    return TapPlan(watch, change, target)
