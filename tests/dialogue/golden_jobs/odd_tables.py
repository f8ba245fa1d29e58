"""Tables whose span, pivot, roughness and lock may be anything."""

import random
from dataclasses import replace
from decimal import Decimal
from math import cos, hypot, radians, sin

from assistant.dialogue.machine import Profile
from assistant.metrology.lengths import Length
from assistant.simulation.bench import Machine

DIAMETER_IN = 10.0


def draw(seed: int, tolerance: float = 4.0) -> tuple[Machine, Profile]:
    """A machine of random span, pivot, roughness and lock, and what its owner knows of it.

    One in five is nearly square as found. The span is known for half of them, and then the
    response still differs from diameter / span by up to three tenths; so is the pivot, to a tenth
    of the radius. The owner knows the noise of the machine from earlier jobs, to a tenth of a thou.
    """
    chance = random.Random(f"study {seed}")
    tilt = chance.uniform(0.0, 3.0) if chance.random() < 0.2 else chance.uniform(3.0, 20.0)
    bearing = radians(chance.uniform(0.0, 360.0))
    span = chance.uniform(2.0, 6.0)
    pivot = chance.uniform(-0.3, 0.3)
    texture, touch = chance.uniform(0.1, 0.5), chance.uniform(0.1, 0.3)
    relock = chance.uniform(0.1, 0.8)
    profile = Profile()
    machine = Machine(
        scale=profile.scale,
        front_minus_back=tilt * cos(bearing),
        right_minus_left=tilt * sin(bearing),
        texture=texture,
        touch=touch,
        relock=relock,
        lock_pull=chance.uniform(-0.5, 0.5),
        pivot=pivot,
        hinge=chance.uniform(1.1, 1.6),
        response=DIAMETER_IN / span * chance.uniform(0.7, 1.3),
        response_scatter=0.05,
        coupling=chance.uniform(-0.15, 0.15),
        stir=0.4,
        creep=chance.uniform(-0.04, 0.04),
        seed=seed,
    )
    knows_span, knows_pivot = chance.random() < 0.5, chance.random() < 0.5
    told_pivot = pivot + chance.uniform(-0.1, 0.1) if knows_pivot else 0.0
    return machine, replace(
        profile,
        tolerance=Length.of(Decimal(str(tolerance)), "thou"),
        span=Length.of(Decimal(str(round(2 * span) / 2)), "in") if knows_span else None,
        pivot_offset=Length.of(Decimal(str(round(told_pivot * DIAMETER_IN / 2, 1))), "in"),
        reading_sd=Decimal(str(round(hypot(texture, touch), 1))),
        relock_sd=Decimal(str(round(relock, 1))),
    )
