"""A mill to practise on: the head nods and tilts over a fixed table, the dial rides on it.

Belongs here: what a head does that a hung table does not. Heights are those of the table
under the dial as the head stands, so that the geometry is the bench's: ``hinge`` is how far
behind the spindle axis the head nods, ``pivot`` how far to the right it tilts, in radii.
"""

import random
from dataclasses import replace
from math import cos, radians, sin

from assistant.dialogue.machine import Profile
from assistant.records.machines.presets import preset
from assistant.simulation.bench import Bench, ImpossibleMove, Machine
from grammar.vocabulary import Station


class HeadBench(Bench):
    """A head on bolts. ``pulls``: what tightening adds to front minus back, right minus left."""

    def __init__(self, machine: Machine, pulls: tuple[float, float] = (0.0, 0.0)) -> None:
        super().__init__(machine)
        self.pulls = pulls
        self.snug: Station | None = None

    def loosen(self, watch: Station) -> None:
        """The bolts of the axis that is watched there to snug; the other axis is stirred."""
        if self.snug is None:
            stirred = self._chance.gauss(0.0, self.machine.stir)
            if watch == "front":
                self._sides += stirred
            else:
                self._found += stirred
        self.snug = watch
        self._moved = True

    def move(self, watch: Station, change: float) -> None:
        """Move the axis until the dial there has changed by so much.

        Raises ``ImpossibleMove`` while its bolts are tight.
        """
        if self.snug != watch:
            raise ImpossibleMove(f"nothing moves at the {watch} while its bolts are tight")
        if watch == "front":
            self._found += 2 * change / (1 + self.machine.hinge)
        else:
            self._sides += 2 * change / (1 - self.machine.pivot)

    def lock_all(self) -> None:
        """Everything tight: the head goes where its bolts pull it."""
        super().lock_all()
        self.snug = None

    @property
    def front_minus_back(self) -> float:
        """Of the table to the head, as it stands now."""
        pull = 0.0 if self.snug == "front" else self.pulls[0]
        return self._found + pull + self._scatter[0]

    @property
    def right_minus_left(self) -> float:
        """Of the table to the head, as it stands now."""
        pull = 0.0 if self.snug == "right" else self.pulls[1]
        return self._sides + pull + self._scatter[1]


def draw_mill(seed: int) -> tuple[HeadBench, Profile]:
    """A mill of no particular make, three to twelve thou out, and what its owner knows of it.

    Where it nods is told only roughly: six to twelve inches for the eight of the profile.
    """
    chance = random.Random(f"mill {seed}")
    profile = preset("knee mill", "inch")
    assert profile is not None
    profile = replace(profile, name="mill")
    tilt, bearing = chance.uniform(3.0, 12.0), radians(chance.uniform(0.0, 360.0))
    machine = Machine(
        scale=profile.scale,
        front_minus_back=tilt * cos(bearing),
        right_minus_left=tilt * sin(bearing),
        texture=0.05,
        touch=0.05,
        relock=chance.uniform(0.03, 0.1),
        hinge=chance.uniform(1.2, 2.4),
        pivot=chance.uniform(-0.1, 0.1),
        stir=0.1,
        creep=chance.uniform(-0.01, 0.01),
        seed=seed,
    )
    pulls = (chance.uniform(-1.5, 1.5), chance.uniform(-1.5, 1.5))
    return HeadBench(machine, pulls), profile
