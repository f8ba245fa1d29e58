"""The top of a table: waviness as a random field, roughness, and the form that it was left with.

Belongs here: heights over a place on the table, and the plane that a dense sweep of them has.
Places in inches from the spindle axis, x to the right and y to the back; heights in counts.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from functools import cached_property
from math import sqrt

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

DENSE = 720
"""Places round the circle from which the true plane is fitted: 0.04 in apart on ten inches."""


class RandomField:
    """A Gaussian random field: the correlation at a distance of r is exp(-(r / length)^2).

    By the spectral representation (Shinozuka 1971, from memory): a sum of waves whose wave
    vectors are drawn from the Fourier transform of the correlation, normal with a variance of
    2 / length^2 each way. Checked by Monte Carlo against that correlation.
    """

    def __init__(self, seed: str, sd: float, length_in: float, waves: int = 128) -> None:
        own = np.random.default_rng(random.Random(seed).getrandbits(63))
        self._along = own.normal(0.0, sqrt(2) / length_in, (2, waves))
        self._phase = own.uniform(0.0, 2 * np.pi, waves)
        self._height = sd * sqrt(2 / waves)

    def at(self, x: Array, y: Array) -> Array:
        """Heights at places, of any number."""
        waves = np.outer(x, self._along[0]) + np.outer(y, self._along[1]) + self._phase
        return np.asarray(self._height * np.cos(waves).sum(axis=1), dtype=np.float64)


@dataclass(frozen=True)
class Surface:
    """One table's top.

    `waviness`, `roughness`: standard deviations in counts, correlated over `wave_in` and
    `grain_in`. `saddle`: how far front and back stand over right and left on a circle of
    `radius_in`, `twist` the same of the corners back right and front left over the other two.
    `bowl`: how much lower the middle is than that circle, and `oval` the part of the bowl's
    curvature that is missing from side to side.
    """

    seed: int
    radius_in: float
    waviness: float = 0.0
    roughness: float = 0.0
    saddle: float = 0.0
    twist: float = 0.0
    bowl: float = 0.0
    oval: float = 0.0
    wave_in: float = 1.0
    grain_in: float = 0.06
    _fields: list[RandomField] = field(default_factory=list, init=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        for name, sd, length in (
            ("waviness", self.waviness, self.wave_in),
            ("roughness", self.roughness, self.grain_in),
        ):
            if sd > 0:
                self._fields.append(RandomField(f"{name} {self.seed}", sd, length))

    def heights(self, x: Array, y: Array) -> Array:
        """Of the surface over its nominal plane, at places in inches."""
        u, v = x / self.radius_in, y / self.radius_in
        form = self.saddle / 2 * (v * v - u * u) + self.twist * u * v
        form = form + self.bowl * (v * v + (1 - self.oval) * u * u)
        return np.asarray(form + sum(each.at(x, y) for each in self._fields), dtype=np.float64)

    def height(self, bearing_deg: float, radius_in: float) -> float:
        """At one place, by its bearing clockwise from the back."""
        angle = np.radians(np.array([bearing_deg]))
        found = self.heights(radius_in * np.sin(angle), radius_in * np.cos(angle))
        return float(found[0])

    @cached_property
    def plane(self) -> tuple[float, float]:
        """front_minus_back and right_minus_left of the least squares plane over the circle."""
        angle = 2 * np.pi * np.arange(DENSE) / DENSE
        x, y = self.radius_in * np.sin(angle), self.radius_in * np.cos(angle)
        return plane_of(x, y, self.heights(x, y), 2 * self.radius_in)

    @cached_property
    def bent(self) -> float:
        """How far the circle is bent beside its plane: opposite sides together against the other
        two, whichever way round they stand most; or the gap under a straight edge if that is more.
        """
        angle = 2 * np.pi * np.arange(DENSE) / DENSE
        heights = self.heights(self.radius_in * np.sin(angle), self.radius_in * np.cos(angle))
        twice = np.mean(heights * np.exp(2j * angle))
        return max(4 * float(abs(twice)), self.gap)

    @cached_property
    def gap(self) -> float:
        """Under a straight edge through the middle, the larger of both ways; never below zero."""
        ends = self.radius_in * np.array([0.0, 0.0, 0.0, 1.0, -1.0])
        across = self.radius_in * np.array([0.0, 1.0, -1.0, 0.0, 0.0])
        middle, back, front, right, left = self.heights(ends, across)
        return max(0.0, float((back + front) / 2 - middle), float((right + left) / 2 - middle))


def plane_of(x: Array, y: Array, heights: Array, diameter_in: float) -> tuple[float, float]:
    """front_minus_back and right_minus_left, over the diameter, of the least squares plane."""
    design = np.column_stack([np.ones(len(x)), x, y])
    _, per_right, per_back = np.linalg.lstsq(design, heights, rcond=None)[0]
    return -float(per_back) * diameter_in, float(per_right) * diameter_in
