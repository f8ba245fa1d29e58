"""Uncertainty after the GUM (JCGM 100): evaluating, combining, expanding.

Belongs here: the general rules. Which components a sweep has is in ``budget``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, sqrt
from typing import Literal

from assistant.metrology.t_distribution import coverage_factor

Source = Literal[
    "surface", "resolution", "relock", "lock_pull", "indicator", "drift", "form", "response",
    "leaves", "gauge", "sweeps", "end_play", "reading", "station", "lever",
]  # fmt: skip
"""``surface`` is the same at every visit of a spot, ``reading`` redrawn each time; ``station``
is how far round from its bearing one was read."""

Origin = Literal["measured", "remembered", "assumed"]
"""Where a figure comes from: this job, an earlier one, or nowhere."""


@dataclass(frozen=True, slots=True)
class Component:
    """One contribution: its source, standard uncertainty in the result, degrees of freedom."""

    source: Source
    u: float
    dof: float = inf
    origin: Origin = "measured"

    @property
    def assumed(self) -> bool:
        """Whether it was taken for want of data."""
        return self.origin == "assumed"


@dataclass(frozen=True, slots=True)
class Budget:
    """Components that add in squares; a budget always has one at least that is above zero."""

    components: tuple[Component, ...]

    @property
    def u(self) -> float:
        """Combined standard uncertainty. GUM 5.1.2."""
        return combined([component.u for component in self.components])

    @property
    def dof(self) -> float:
        """Effective degrees of freedom, Welch-Satterthwaite."""
        return effective_dof([(component.u, component.dof) for component in self.components])

    def factor(self, probability: float = 0.95) -> float:
        """Coverage factor t for the effective degrees of freedom, not truncated. GUM G.4.1."""
        return coverage_factor(self.dof, probability)

    def expanded(self, probability: float = 0.95) -> float:
        """Half width of the interval with this probability."""
        return self.factor(probability) * self.u

    def share(self, component: Component) -> float:
        """Part of the combined variance that is this component's."""
        return component.u**2 / self.u**2 if self.u else 0.0

    @property
    def largest(self) -> Component | None:
        """The component that is worth improving first."""
        return max(self.components, key=lambda component: component.u, default=None)

    def scaled(self, factor: float) -> Budget:
        """The same budget for a result that is ``factor`` times as large."""
        return Budget(
            tuple(Component(c.source, abs(factor) * c.u, c.dof, c.origin) for c in self.components)
        )


def combined(uncertainties: Sequence[float]) -> float:
    """Root of the sum of squares of independent contributions. GUM 5.1.2."""
    return sqrt(sum(u * u for u in uncertainties))


def effective_dof(contributions: Sequence[tuple[float, float]]) -> float:
    """Welch-Satterthwaite for pairs of standard uncertainty and degrees of freedom. GUM G.4.1.

    Infinite when no contribution has finite degrees of freedom.
    """
    total = sum(u * u for u, _ in contributions)
    # A degree of freedom below one (a guess worth less than one reading) is allowed, zero is not.
    weight = sum(u**4 / dof for u, dof in contributions if dof != inf)
    return total**2 / weight if weight > 0 else inf


@dataclass(frozen=True, slots=True)
class Sample:
    """A type A evaluation: mean, standard deviation of one, of the mean, degrees of freedom."""

    mean: float
    sd: float
    sd_of_mean: float
    dof: int


def evaluate_sample(values: Sequence[float]) -> Sample:
    """Mean and scatter of two or more independent readings. GUM 4.2."""
    count = len(values)
    if count < 2:
        raise ValueError(f"scatter needs two readings or more, not {count}")
    mean = sum(values) / count
    sd = sqrt(sum((value - mean) ** 2 for value in values) / (count - 1))
    return Sample(mean, sd, sd / sqrt(count), count - 1)


def rectangular(half_width: float) -> float:
    """Standard uncertainty of anything equally likely within +-half_width. GUM 4.3.7."""
    return half_width / sqrt(3)


def dof_of_guess(relative_uncertainty: float) -> float:
    """Degrees of freedom of a standard uncertainty known to within this part of itself.

    nu = 1 / (2 r^2). GUM G.4.2.
    """
    return 1 / (2 * relative_uncertainty**2)


def pooled(parts: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Standard deviations of the same scatter, each with its dof, as one and its dof. GUM H.3.6.

    An infinite dof outweighs all others.
    """
    sure = [sd for sd, dof in parts if dof == inf]
    if sure:
        return sure[0], inf
    dof = sum(nu for _, nu in parts)
    return sqrt(sum(nu * sd * sd for sd, nu in parts) / dof), dof
