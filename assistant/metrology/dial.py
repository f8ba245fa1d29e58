"""What a dial shows and what it means: faces, sign, and the angle of a lever.

Belongs here: from face to reading. Values on the face are exact; factors are floats.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from math import cos, radians


@dataclass(frozen=True, slots=True)
class FaceReading:
    """A value read off a face that counts one way round; ``rival``: the next best, one turn away.

    ``ambiguous``: both lie within what was thought possible; ask.
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
    """The signed reading of a face that counts 0 to ``per_turn``: 97 of 100 is minus 3.

    Nearest to ``expected``, the reading being thought to lie ``within`` of it (half a turn if
    None). ``turns`` of the counter hand, positive the way the numbers rise, settles it. Raises
    ``ValueError`` for a number that is not on the face.

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


def lever_factor(angle_deg: float) -> float:
    """True movement per indicated one, for a lever (or plunger) this far off the work: cos."""
    if not 0 <= abs(angle_deg) < 90:
        raise ValueError(f"an angle of {angle_deg} degrees cannot measure; lay the lever flatter")
    return cos(radians(angle_deg))
