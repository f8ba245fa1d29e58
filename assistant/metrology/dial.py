"""What a dial shows and what it means: faces, sign, and the angle of a lever.

Belongs here: from face to reading. Values on the face are exact; factors are floats.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from math import cos, radians
from typing import Final, Literal


@dataclass(frozen=True, slots=True)
class FaceReading:
    """A value read off a face that counts one way round; `rival`: the next best, one turn away.

    `ambiguous`: both lie within what was thought possible; ask.
    """

    value: Decimal
    rival: Decimal
    ambiguous: bool


def on_continuous(
    shown: Decimal,
    per_turn: Decimal,
    expected: Decimal = Decimal(0),
    within: Decimal | None = None,
    turns: int | None = None,
) -> FaceReading:
    """The signed reading of a face that counts 0 to `per_turn`: 97 of 100 is minus 3.

    Nearest to `expected`, the reading being thought to lie `within` of it (half a turn if None).
    `turns` of the counter hand, positive the way the numbers rise, settles it. Raises `ValueError`
    for a number that is not on the face.

    >>> on_continuous(Decimal(97), Decimal(100)).value
    Decimal('-3')
    """
    if not 0 <= shown < per_turn:
        raise ValueError(f"{shown} is not on a dial of {per_turn}; it shows 0 up to {per_turn}")
    if turns is not None:
        value = shown + turns * per_turn
        return FaceReading(value, value - per_turn, False)
    reach = per_turn / 2 if within is None else within
    whole = ((expected - shown) / per_turn).to_integral_value()
    near = sorted(
        (shown + (whole + k) * per_turn for k in (-1, 0, 1)), key=lambda v: (abs(v - expected), v)
    )
    return FaceReading(near[0], near[1], abs(near[1] - expected) <= reach)


def on_balanced(
    shown: Decimal, side: Literal["plus", "minus"], turns: int, per_turn: Decimal
) -> Decimal:
    """The reading of a face that counts both ways from zero, after `turns` whole turns outward.

    The counter hand of a balanced dial counts turns; the side is that of the numbers read.
    """
    if not 0 <= shown <= per_turn / 2 or turns < 0:
        raise ValueError(f"{shown} is not on a balanced dial of {per_turn}")
    size = shown + turns * per_turn
    return size if side == "plus" else -size


def lever_factor(angle_deg: float) -> float:
    """True movement per indicated one, for a lever (or plunger) this far off the work: cos."""
    if not 0 <= abs(angle_deg) < 90:
        raise ValueError(f"an angle of {angle_deg} degrees cannot measure; lay the lever flatter")
    return cos(radians(angle_deg))


# A leaf that moves the dial by less than half of itself has slipped, or the tip was not on it.
_LEAST: Final = 0.5


@dataclass(frozen=True, slots=True)
class SignTest:
    """What a leaf under the tip did to the dial.

    `sign`: +1 when a higher table counts up, -1 when it counts down. `factor`: true movement per
    indicated one (a lever's cosine, if it is below one).
    """

    sign: Literal[1, -1]
    factor: float


def sign_test(before: Decimal, with_leaf: Decimal, leaf: Decimal) -> SignTest | None:
    """Sign and factor of a rig from one leaf slipped under the tip; None when it hardly moved."""
    if leaf <= 0:
        raise ValueError("the leaf has no thickness; use one of known thickness")
    moved = with_leaf - before
    if abs(moved) < leaf * Decimal(_LEAST):
        return None
    return SignTest(1 if moved > 0 else -1, float(leaf / abs(moved)))
