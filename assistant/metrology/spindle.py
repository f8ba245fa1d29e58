"""The spindle before the sweep: how far a bar may lean, and whether the quill travels square.

Belongs here: checks of the machine that a table sweep takes for granted. Lengths are floats in one
unit.
"""

from __future__ import annotations


def lean_limits(near_tir: float, far_tir: float, apart: float) -> tuple[float, float]:
    """Least and greatest lean per length when only the two full movements are known.

    Without angles the eccentricities may point the same way or opposite ways.
    """
    near, far = near_tir / 2, far_tir / 2
    return abs(far - near) / apart, (far + near) / apart


def travel_off_axis(
    over_depth: tuple[float, float], differences: tuple[float, float], depth_over_diameter: float
) -> tuple[float, float]:
    """How far the quill leaves the spindle's axis over a depth, (to the back, to the right).

    ``over_depth``: the same against a square that stands on the table, which leans with it;
    ``differences``: (front_minus_back, right_minus_left) of a sweep of the table as it stood then;
    ``depth_over_diameter``: the depth in sweep diameters. Derived: with the front high the square
    leans back going up, so that a quill along the axis runs to the back going down along it.
    """
    back, right = over_depth
    front_high, right_high = differences
    return back - front_high * depth_over_diameter, right + right_high * depth_over_diameter
