"""Where the dial is read: names, bearings, and what four stations say about flatness.

Bearings are degrees clockwise from the back, seen from above with the operator at the front;
x is to the right, y to the back.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Final, Literal, TypeGuard

StationName = Literal["back", "right", "front", "left"]

BEARING_OF: Final[dict[StationName, Decimal]] = {
    "back": Decimal(0),
    "right": Decimal(90),
    "front": Decimal(180),
    "left": Decimal(270),
}

NAME_AT: Final[dict[Decimal, StationName]] = {deg: name for name, deg in BEARING_OF.items()}

OPPOSITE: Final[dict[StationName, StationName]] = {
    "back": "front", "front": "back", "left": "right", "right": "left",
}  # fmt: skip


def is_station(name: str) -> TypeGuard[StationName]:
    """Whether ``name`` is one of the four named stations."""
    return name in BEARING_OF


def turned(bearing_deg: Decimal) -> Decimal:
    """The same bearing in [0, 360)."""
    # Decimal's remainder keeps the sign of the dividend, unlike that of int.
    rest = bearing_deg % 360
    return rest + 360 if rest < 0 else rest


def label_of(bearing_deg: Decimal) -> str:
    """The station's name, or its bearing in words where it has none."""
    bearing = turned(bearing_deg)
    return NAME_AT.get(bearing) or f"{bearing.normalize():f} degrees"


def saddle(heights: Mapping[StationName, Decimal]) -> Decimal:
    """front + back - right - left of the heights: zero for any plane at any tilt.

    What is left is a mis-heard reading, a slipped dial or a table that is not flat. A dished table
    does not show in it.
    """
    return heights["front"] + heights["back"] - heights["right"] - heights["left"]


def saddle_of(bearings_deg: Sequence[Decimal], heights: Sequence[Decimal]) -> Decimal | None:
    """The saddle of four stations at right angles, whichever way round; None for any others.

    The two stations on the axis nearer to front and back count positive (45 degrees goes with the
    axis that starts at the back's right), so that named stations give front + back - right - left.
    """
    if len(bearings_deg) != 4:
        return None
    ordered = sorted(
        (turned(bearing), height) for bearing, height in zip(bearings_deg, heights, strict=True)
    )
    first = ordered[0][0]
    if any(bearing - first != 90 * k for k, (bearing, _) in enumerate(ordered)):
        return None
    along = ordered[0][1] + ordered[2][1]
    across = ordered[1][1] + ordered[3][1]
    return along - across if first <= 45 else across - along
