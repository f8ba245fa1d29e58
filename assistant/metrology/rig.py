"""What is held to the table and how it stands: dial or lever, its tip, a square's height.

Belongs here: plain data, and what a tip does. What becomes of the readings is in `heights`.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Final, Literal

from assistant.metrology.dial import lever_factor
from assistant.metrology.lengths import Length

Tip = Literal["ball", "involute"]

# An involute tip makes up for its own angle as far as this (makers' leaflets say about 20 degrees,
# older tables 30).
INVOLUTE_TO: Final = Decimal(20)


@dataclass(frozen=True, slots=True)
class Rig:
    """How the readings were made.

    `sign`: +1 when a higher table counts up on the dial, -1 when it counts down. `lever_deg`: angle
    between a lever (or plunger) and where it should lie, in degrees; `tip`: its shape.
    `square_height`: where the leaf stands above the foot of a square, along its blade.
    """

    sign: Literal[1, -1] = 1
    lever_deg: Decimal = Decimal(0)
    tip: Tip = "ball"
    square_height: Length | None = None


def tip_factor(lever_deg: Decimal, tip: Tip) -> float:
    """True movement per indicated one: the cosine, which an involute tip makes up for itself.

    Raises `ValueError` for a lever that lies too steep to say.
    """
    if tip == "involute":
        if abs(lever_deg) > INVOLUTE_TO:
            raise ValueError(
                f"an involute tip corrects itself to about {INVOLUTE_TO} degrees, "
                f"not {lever_deg}; lay the lever flatter"
            )
        return 1.0
    return lever_factor(float(lever_deg))
