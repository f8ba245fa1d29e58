"""What a tilt means at the work: the lean of a hole, where the drill comes out, and angles.

Belongs here: numbers for words; the words are elsewhere.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN
from math import atan, degrees

from assistant.metrology.lengths import Length


@dataclass(frozen=True, slots=True)
class Lean:
    """A tilt at the work.

    ``slope``: rise per run, no unit. ``exit_offset_mm``: how far from its mark a hole of the given
    depth comes out. ``towards_deg``: bearing of the exit from the entry, the low side of the table;
    None for a level one.
    """

    slope: float
    exit_offset_mm: float
    towards_deg: float | None

    @property
    def angle_deg(self) -> float:
        """The angle between spindle and square, in degrees."""
        return degrees(atan(self.slope))

    @property
    def thou_per_foot(self) -> float:
        """Thousandths of an inch in twelve inches."""
        return self.slope * 12000

    @property
    def mm_per_300mm(self) -> float:
        """Millimetres in three hundred."""
        return self.slope * 300


def lean_of(
    tilt: Length | float, sweep_diameter: Length, depth: Length, high_bearing_deg: float | None
) -> Lean:
    """The lean of a hole of this depth, from a tilt over the sweep diameter.

    A float tilt is in millimetres. The drill goes straight down through work that lies on the
    slope: its exit lies downhill of the foot of the square line.
    """
    tilt_mm = tilt if isinstance(tilt, float) else float(tilt.mm)
    return lean_of_slope(tilt_mm / float(sweep_diameter.mm), depth, high_bearing_deg)


def lean_of_slope(slope: float, depth: Length, high_bearing_deg: float | None) -> Lean:
    """The same from the slope of the table: rise per run, no unit."""
    towards = None if high_bearing_deg is None else (high_bearing_deg + 180) % 360
    return Lean(slope, slope * float(depth.mm), towards)


def degrees_minutes_seconds(angle_deg: float) -> tuple[int, int, int]:
    """An angle from zero up as whole degrees, minutes and seconds, rounded to the second."""
    if angle_deg < 0:
        raise ValueError("the angle is negative; give its size")
    seconds = round(angle_deg * 3600)
    return seconds // 3600, seconds // 60 % 60, seconds % 60


def nearest_fraction(length: Length, largest_bottom: int = 64) -> tuple[int, int, int]:
    """An inch size as whole, top and bottom of its nearest fraction (bottom a power of two).

    >>> nearest_fraction(Length.of("0.39", "in"))
    (0, 25, 64)
    """
    if largest_bottom < 1 or largest_bottom & (largest_bottom - 1):
        raise ValueError(f"{largest_bottom} is not a power of two; use 16, 32 or 64")
    parts = int((abs(length).to("in") * largest_bottom).to_integral_value(ROUND_HALF_EVEN))
    whole, top = divmod(parts, largest_bottom)
    bottom = largest_bottom
    while top and top % 2 == 0:
        top, bottom = top // 2, bottom // 2
    return whole, top, bottom if top else 1
