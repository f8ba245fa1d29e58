"""How much one reading and one difference scatter, from noise readings or by default.

Belongs here: standard deviations with their degrees of freedom, before they meet in a budget.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import inf, sqrt
from typing import Final

from assistant.metrology.lengths import Length, Unit
from assistant.metrology.problem import Noise

# Half a thou on a table as it comes from the factory: judgement, no source. Known to within half of
# itself, which is worth two degrees of freedom (GUM G.4.2: nu = (du/u)^-2 / 2).
DEFAULT_READING_SD: Final = Length.of("0.5", "thou")
DEFAULT_DOF: Final = 2.0

# Column of a drill press in sweep radii behind the spindle axis: judgement, no source.
_HINGE: Final = 1.3

SIDE_STATION_SHARE: Final = sqrt(1 + _HINGE**2) / 2
"""What the right or left station moves, for each unit by which the differences scatter."""

# The steps that dials are read in, as parts of a count.
_STEPS: Final = tuple(Decimal(text) for text in ("1", "0.5", "0.25", "0.1", "0.05", "0.02", "0.01"))


@dataclass(frozen=True, slots=True)
class Scatter:
    """A standard deviation, its degrees of freedom, and whether it was only assumed."""

    sd: float
    dof: float
    assumed: bool = False


def sample_sd(values: Sequence[float]) -> float:
    """Standard deviation of a sample (n - 1); two values at least. GUM 4.2.2."""
    count = len(values)
    if count < 2:
        raise ValueError(f"scatter needs two readings or more, not {count}")
    middle = sum(values) / count
    return sqrt(sum((value - middle) ** 2 for value in values) / (count - 1))


def resolution_sd(step: float) -> float:
    """Standard uncertainty of a reading rounded to `step`: step / sqrt 12. GUM F.2.2.1."""
    return step / sqrt(12)


def finest_step(values: Sequence[Decimal]) -> Decimal:
    """The coarsest usual step that all the called counts are multiples of."""
    for step in _STEPS:
        if all(value % step == 0 for value in values):
            return step
    return _STEPS[-1]


def surface_scatter(noise: Noise, unit: Unit, step: float) -> Scatter:
    """Scatter of one reading from the surface alone; rounding, which is in it too, taken out."""
    if noise.surface:
        measured = sample_sd([float(value.to(unit)) for value in noise.surface])
        return Scatter(_without_rounding(measured, step), len(noise.surface) - 1)
    if noise.reading_sd is not None:
        return Scatter(float(noise.reading_sd.to(unit)), inf)
    return Scatter(float(DEFAULT_READING_SD.to(unit)), DEFAULT_DOF, assumed=True)


def relock_scatter(noise: Noise, unit: Unit, step: float) -> Scatter | None:
    """Scatter of a difference of opposite stations from relocking; None when nothing is known.

    Relock readings are of the right (or left) station. The table nods about a hinge at its column
    and tilts about its middle; with both differences scattering alike, a side station has
    sqrt(1 + h^2) / 2 of their scatter, h being the hinge in sweep radii behind the axis (derived).
    Readings at the front make it seem a little larger; the back, near the hinge, hardly moves and
    will not do.
    """
    if noise.relock:
        measured = sample_sd([float(value.to(unit)) for value in noise.relock])
        return Scatter(
            _without_rounding(measured, step) / SIDE_STATION_SHARE, len(noise.relock) - 1
        )
    if noise.relock_sd is not None:
        return Scatter(float(noise.relock_sd.to(unit)), inf)
    return None


def reading_sd(noise: Noise, unit: Unit, step: float) -> float:
    """Standard deviation of one reading: surface, resolution and end play together."""
    surface = surface_scatter(noise, unit, step).sd
    return sqrt(surface**2 + resolution_sd(step) ** 2 + end_play_sd(noise, unit) ** 2)


def end_play_sd(noise: Noise, unit: Unit) -> float:
    """Standard uncertainty of a reading from a spindle that stays anywhere up to where it was
    lifted in turning: width / sqrt 12. GUM 4.3.7."""
    return 0.0 if noise.end_play is None else float(noise.end_play.to(unit)) / sqrt(12)


def difference_sd(noise: Noise, unit: Unit, step: float) -> float:
    """Standard deviation of a difference of opposite stations from one clamping to the next."""
    relock = relock_scatter(noise, unit, step)
    return sqrt(2 * reading_sd(noise, unit, step) ** 2 + (relock.sd**2 if relock else 0.0))


def _without_rounding(measured: float, step: float) -> float:
    return sqrt(max(measured**2 - resolution_sd(step) ** 2, 0.0))
