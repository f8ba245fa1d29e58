"""How much one reading and one difference scatter: measured, remembered or assumed.

Belongs here: standard deviations with their degrees of freedom and where they come from, before
they meet in a budget. What a job shows of its own noise is in ``evidence``, how the surface waves
in ``waviness``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf, sqrt
from typing import Final

from assistant.metrology.lengths import Length, Unit
from assistant.metrology.problem import Noise
from assistant.metrology.uncertainty import Origin, dof_of_guess, pooled
from assistant.metrology.waviness import Spots, off_line_sd, spots_apart, spots_in_a_row

# Half a thou on a table as it comes from the factory: judgement, no source.
DEFAULT_READING_SD: Final = Length.of("0.5", "thou")
GUESS_DOF: Final = dof_of_guess(0.5)
"""What a guess is worth: it is right to within half of itself, two degrees of freedom."""

DAYS_OF_A_YEAR: Final = 365.0
# How far a scatter may have wandered in a year, as a part of itself, and with the root of the time
# from then on: judgement. After four years a measurement is worth no more than a guess.
_WANDERS_IN_A_YEAR: Final = 0.25

# Column of a drill press in sweep radii behind the spindle axis: judgement, no source.
_HINGE: Final = 1.3

SIDE_STATION_SHARE: Final = sqrt(1 + _HINGE**2) / 2
"""What the right or left station moves, for each unit by which the differences scatter."""

# The steps that dials are read in, in thou and in millimetres.
_STEPS: Final = tuple(
    sorted(
        [Length.of(step, "thou") for step in ("1", "0.5", "0.25", "0.1", "0.05", "0.02", "0.01")]
        + [Length.of(step, "mm") for step in ("0.02", "0.01", "0.005", "0.002", "0.001", "0.0005")],
        reverse=True,
    )
)


@dataclass(frozen=True, slots=True)
class Scatter:
    """A standard deviation, its degrees of freedom, and where it comes from."""

    sd: float
    dof: float
    origin: Origin = "measured"

    @property
    def assumed(self) -> bool:
        """Whether it is only a guess."""
        return self.origin == "assumed"

    def with_more(self, others: Sequence[Scatter]) -> Scatter:
        """Pooled with what else is known of the same scatter, by degrees of freedom. GUM H.3.6.

        A guess stays one while it is worth more than what was seen, and no longer counts once that
        is worth more than twice as much: by then it would only pull towards a table as it was
        thought to be.
        """
        seen = sum(part.dof for part in others)
        outweighed = seen > self.dof
        mine = () if self.assumed and seen > 2 * self.dof else (self,)
        sd, dof = pooled([(part.sd, part.dof) for part in (*mine, *others) if part.dof > 0])
        return Scatter(sd, dof, "measured" if outweighed and self.assumed else self.origin)


def sample_sd(values: Sequence[float]) -> float:
    """Standard deviation of a sample (n - 1); two values at least. GUM 4.2.2."""
    count = len(values)
    if count < 2:
        raise ValueError(f"scatter needs two readings or more, not {count}")
    middle = sum(values) / count
    return sqrt(sum((value - middle) ** 2 for value in values) / (count - 1))


def resolution_sd(step: float) -> float:
    """Standard uncertainty of a reading rounded to ``step``: step / sqrt 12. GUM F.2.2.1."""
    return step / sqrt(12)


def finest_step(values: Sequence[Length]) -> Length:
    """The coarsest usual step, inch or metric, that all the lengths are multiples of.

    It belongs to the lengths and not to the unit that they are written in.
    """
    for step in _STEPS:
        if all((value / step) % 1 == 0 for value in values):
            return step
    return _STEPS[-1]


def aged(dof: float, days: float) -> float:
    """Degrees of freedom that are left of a measured scatter after so many days.

    The relative variance 1 / (2 nu) of the figure (GUM G.4.2) grows by that of its wandering, a
    quarter of itself in a year and with the root of the time: four degrees of freedom are 2.7 after
    a year, eight after a year are four, and no more than two are left after four.
    """
    if days <= 0:
        return dof
    wandered = _WANDERS_IN_A_YEAR**2 * days / DAYS_OF_A_YEAR
    return 1 / (1 / dof + 2 * wandered)


def surface_scatter(noise: Noise, unit: Unit, step: float) -> Scatter:
    """Scatter of one reading over the table; rounding, which is in it too, taken out.

    From readings at spots about a station, which the waves of the surface make alike when they
    lie close together (``waviness``).
    """
    if noise.surface:
        values = [float(value.to(unit)) for value in noise.surface]
        measured, spots = _seen_at_spots(values, noise)
        found = Scatter(without_rounding(measured, step) * spots.factor, spots.dof)
        return _remembered(found, noise.days_old)
    if noise.reading_sd is not None:
        return _told(noise.reading_sd, noise.reading_dof, unit)
    return Scatter(float(DEFAULT_READING_SD.to(unit)), GUESS_DOF, "assumed")


def _seen_at_spots(values: Sequence[float], noise: Noise) -> tuple[float, Spots]:
    """How readings at spots about a station scatter, and what they are worth."""
    if noise.surface_apart is not None:
        apart = float(noise.surface_apart.to("mm"))
        return off_line_sd(values), spots_in_a_row(len(values), apart)
    span = None if noise.surface_span is None else float(noise.surface_span.to("mm"))
    return sample_sd(values), spots_apart(len(values), span)


def relock_scatter(noise: Noise, unit: Unit, step: float) -> Scatter | None:
    """Scatter of a difference of opposite stations from relocking; None when nothing is known.

    Relock readings are of the right (or left) station. The table nods about a hinge at its column
    and tilts about its middle; with both differences scattering alike, a side station has
    sqrt(1 + h^2) / 2 of their scatter, h being the hinge in sweep radii behind the axis (derived).
    Readings at the front make it seem a little larger; the back, near the hinge, hardly moves and
    will not do. A line through the readings is taken out: what goes on evenly from one to the next
    is the dial that drifts meanwhile, or a table that walks, and no scatter.
    """
    if noise.relock:
        measured = off_line_sd([float(value.to(unit)) for value in noise.relock])
        sd = without_rounding(measured, step) / SIDE_STATION_SHARE
        days = noise.days_old if noise.relock_days_old is None else noise.relock_days_old
        return _remembered(Scatter(sd, max(len(noise.relock) - 2, 1)), days)
    if noise.relock_sd is not None:
        return _told(noise.relock_sd, noise.relock_dof, unit)
    return None


def reading_scatter(noise: Noise, unit: Unit, step: float) -> Scatter:
    """One reading: surface, resolution and end play together, with the surface's freedom."""
    surface = surface_scatter(noise, unit, step)
    exact = resolution_sd(step) ** 2 + end_play_sd(noise, unit) ** 2
    variance = surface.sd**2 + exact
    # Welch-Satterthwaite with one part of finite freedom.
    freed = inf if surface.sd == 0 else surface.dof * (variance / surface.sd**2) ** 2
    return replace(surface, sd=sqrt(variance), dof=freed)


def reading_sd(noise: Noise, unit: Unit, step: float) -> float:
    """Standard deviation of one reading: surface, resolution and end play together."""
    return reading_scatter(noise, unit, step).sd


def end_play_sd(noise: Noise, unit: Unit) -> float:
    """Standard uncertainty of a reading from a spindle that stays anywhere up to where it was
    lifted in turning: width / sqrt 12. GUM 4.3.7."""
    return 0.0 if noise.end_play is None else float(noise.end_play.to(unit)) / sqrt(12)


def difference_sd(noise: Noise, unit: Unit, step: float) -> float:
    """Standard deviation of a difference of opposite stations from one clamping to the next."""
    relock = relock_scatter(noise, unit, step)
    return sqrt(2 * reading_sd(noise, unit, step) ** 2 + (relock.sd**2 if relock else 0.0))


def _told(sd: Length, dof: float | None, unit: Unit) -> Scatter:
    if dof is None:
        return Scatter(float(sd.to(unit)), GUESS_DOF, "assumed")
    return Scatter(float(sd.to(unit)), dof, "remembered")


def _remembered(measured: Scatter, days: float) -> Scatter:
    if days <= 0:
        return measured
    return Scatter(measured.sd, aged(measured.dof, days), "remembered")


def without_rounding(measured: float, step: float) -> float:
    """A measured scatter less that of rounding to ``step``, which is counted by itself.

    Never less than that of rounding: readings that all round to one count do not show that
    nothing scatters, only that it is hidden.
    """
    rounding = resolution_sd(step)
    return sqrt(max(measured**2 - rounding**2, rounding**2))
