"""What is held to the table and how it stands: dial or lever, its tip, a square's height.

Belongs here: plain data, and what a tip does. What becomes of the readings is in ``heights``.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from math import cos, radians, sqrt
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

    ``sign``: +1 when a higher table counts up on the dial, -1 when it counts down. ``lever_deg``:
    angle between a lever (or plunger) and where it should lie, in degrees; ``tip``: its shape.
    ``square_height``: where the leaf stands above the foot of a square, along its blade.
    ``lever_within_deg``: how far off the lever's angle may be, either way (set by eye, judgement).
    ``station_within_deg``: how far round from its bearing a station may be read (judgement).
    ``reach``: what the dial shows either way; None: enough.
    """

    sign: Literal[1, -1] = 1
    lever_deg: Decimal = Decimal(0)
    tip: Tip = "ball"
    square_height: Length | None = None
    lever_within_deg: Decimal = Decimal(5)
    station_within_deg: Decimal = Decimal(5)
    reach: Length | None = None


def tip_factor(lever_deg: Decimal, tip: Tip) -> float:
    """True movement per indicated one: the cosine, which an involute tip makes up for itself.

    Raises ``ValueError`` for a lever that lies too steep to say.
    """
    if tip == "involute":
        if abs(lever_deg) > INVOLUTE_TO:
            raise ValueError(
                f"an involute tip corrects itself to about {INVOLUTE_TO} degrees, "
                f"not {lever_deg}; lay the lever flatter"
            )
        return 1.0
    return lever_factor(float(lever_deg))


def tip_doubt(rig: Rig) -> float:
    """Relative standard uncertainty of the tip's factor, from the angle of the lever.

    The cosine over the angle's limits, taken as rectangular (GUM 4.3.7), over the cosine. A
    plunger (no lever) that stands askew by so little errs by less than half a hundredth.
    """
    if rig.tip == "involute" or rig.lever_deg == 0:
        return 0.0
    angle, off = abs(float(rig.lever_deg)), float(rig.lever_within_deg)
    steep, flat = (cos(radians(min(max(angle + d, 0.0), 90.0))) for d in (off, -off))
    return (flat - steep) / 2 / sqrt(3) / cos(radians(angle))
