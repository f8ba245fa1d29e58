"""The uncertainty budget of one sweep: what each source adds to a difference over the diameter.

Belongs here: the sources and how each reaches the result. The rules for combining them are in
``uncertainty``, the scatter of single readings in ``scatter``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from math import hypot, inf, radians, sqrt

import numpy as np

from assistant.metrology.conformance import Covariance
from assistant.metrology.evidence import Shown, Swept, correction_of
from assistant.metrology.least_squares import Array
from assistant.metrology.lengths import Length, Unit
from assistant.metrology.problem import Noise
from assistant.metrology.scatter import (
    SIDE_STATION_SHARE,
    Scatter,
    end_play_sd,
    relock_scatter,
    resolution_sd,
    surface_scatter,
)
from assistant.metrology.uncertainty import (
    Budget,
    Component,
    Origin,
    Source,
    combined,
    rectangular,
)


@dataclass(frozen=True, slots=True)
class SweepEvidence:
    """What is known from the sweeps themselves, beside what was known before them.

    ``shown``: their scatter; ``form``: what a station may be off the plane of a table that is not
    flat, standard uncertainty in the job's unit; ``relock``: scatter between relockings;
    ``uneven``: how much of a return error is no even drift, None where only the sweep's own is
    known.
    """

    shown: Shown = field(default_factory=Shown)
    form: float = 0.0
    relock: Scatter | None = None
    as_locked: bool = False
    uneven: float | None = None


@dataclass(frozen=True, slots=True)
class SweepBudget:
    """The budgets of one sweep.

    ``front_minus_back`` and ``right_minus_left`` are of the two differences, ``tilt`` along the
    tilt found, all in the job's unit. ``covariance`` is of the two differences.
    """

    front_minus_back: Budget
    right_minus_left: Budget
    tilt: Budget
    covariance: Covariance


def sweep_budget(
    noise: Noise,
    unit: Unit,
    step: float,
    sweep: Swept,
    differences: tuple[float, float],
    showing: SweepEvidence,
    widths: Sequence[float] | None = None,
) -> SweepBudget:
    """Everything known about the noise of one sweep, as budgets.

    ``step`` is the resolution, ``differences`` are (front_minus_back, right_minus_left).
    ``widths``: by leaves, from what goes to what does not, for each reading; they stand in for the
    resolution. Sources act on each reading (surface, reading, resolution, form) and go through the
    fit, or act on the difference as a whole (relock, lock pull, indicator, drift) and are the same
    whichever way it points. What depends on the tilt itself comes on top in ``with_pointing``.
    """
    of_readings = _of_readings(noise, unit, step, showing)
    sigma = combined([component.u for component in of_readings])
    again = combined([c.u for c in of_readings if c.source in ("reading", "resolution")])
    of_differences = _of_differences(noise, unit, step, sweep.drift, again, showing)
    factor = difference_factor(sweep.bearings_deg, sweep.shares, opened=sweep.opened)
    common = combined([component.u for component in of_differences]) ** 2
    gauged = np.zeros((2, 2))
    if widths is not None:
        of_readings = [part for part in of_readings if part.source != "resolution"]
        variances = [width**2 / 12 for width in widths]
        gauged = difference_factor(sweep.bearings_deg, sweep.shares, variances)
        sigma = combined([component.u for component in of_readings])

    def along(x: float, y: float) -> Budget:
        way = np.array([x, y])
        scaled = Budget(tuple(of_readings)).scaled(sqrt(float(way @ factor @ way))).components
        by_gauge = sqrt(max(float(way @ gauged @ way), 0.0))
        gauge = (Component("gauge", by_gauge),) if widths is not None else ()
        return Budget(scaled + gauge + tuple(of_differences))

    worst = (1.0, 0.0) if factor[0, 0] >= factor[1, 1] else (0.0, 1.0)
    return SweepBudget(
        front_minus_back=along(1, 0),
        right_minus_left=along(0, 1),
        tilt=along(*(_way(differences) or worst)),
        covariance=_as_pairs(sigma**2 * factor + gauged + common * np.eye(2)),
    )


def with_pointing(
    budget: SweepBudget, pair: tuple[float, float], station_deg: float, gain_doubt: float
) -> SweepBudget:
    """The budget with what grows with the tilt: stations read late, and a lever's angle.

    Stations that lie ``station_deg`` at most round from their bearings, all alike, turn the tilt
    found: each axis errs by that angle of the other (in radians over root three), the tilt's size
    not at all. ``gain_doubt`` is a relative uncertainty of the size, as of a factor. First order in
    both, as the linear propagation of GUM 5.1.2 is.
    """
    front, right = pair
    turned = rectangular(radians(station_deg))
    across = np.array([-right, front]) * turned
    longer = np.array([front, right]) * gain_doubt

    def more(one: Budget, way: tuple[float, float]) -> Budget:
        parts: list[Component] = []
        sources: tuple[tuple[Source, Array], ...] = (("station", across), ("lever", longer))
        for source, pointed in sources:
            u = abs(float(np.array(way) @ pointed))
            # The direction is known to rounding only: what lies across it adds nothing.
            if u > 1e-9 * hypot(*pair):
                parts.append(Component(source, u))
        return Budget((*one.components, *parts))

    added = np.outer(across, across) + np.outer(longer, longer)
    return SweepBudget(
        front_minus_back=more(budget.front_minus_back, (1.0, 0.0)),
        right_minus_left=more(budget.right_minus_left, (0.0, 1.0)),
        tilt=more(budget.tilt, _way(pair) or (1.0, 0.0)),
        covariance=_as_pairs(np.array(budget.covariance) + added),
    )


def difference_factor(
    bearings_deg: Sequence[float],
    shares: Sequence[float] | None,
    variances: Sequence[float] | None = None,
    opened: bool = False,
) -> Array:
    """Covariance, 2 by 2, of (front_minus_back, right_minus_left) for a reading variance of one.

    ``variances``: those of the readings where they differ; the closing one is read as the first.

    Goes through the plane fit, and through the drift correction if the sweep was closed: ``shares``
    is the part of the drift that each station loses. The first station then has two readings, and
    each share of the drift carries noise of both.
    """
    to_differences = difference_rows(bearings_deg, shares, opened)
    if variances is not None:
        of_all = np.array([*variances, *([] if shares is None else [variances[0]])])
        to_differences = to_differences * np.sqrt(of_all)
    return np.asarray(to_differences @ to_differences.T, dtype=np.float64)


def difference_rows(
    bearings_deg: Sequence[float], shares: Sequence[float] | None, opened: bool = False
) -> Array:
    """From called readings to (front_minus_back, right_minus_left): 2 rows, columns as they are
    called, with those that open and close the sweep last (``correction_of``)."""
    return _difference_rows(tuple(bearings_deg), None if shares is None else tuple(shares), opened)


@lru_cache(maxsize=64)
def _difference_rows(
    bearings_deg: tuple[float, ...], shares: tuple[float, ...] | None, opened: bool
) -> Array:
    count = len(bearings_deg)
    angles = np.radians(np.array(bearings_deg, dtype=np.float64))
    design = np.column_stack([np.ones(count), np.sin(angles), np.cos(angles)])
    plane = np.array([[0.0, 0.0, -2.0], [0.0, 2.0, 0.0]]) @ np.linalg.pinv(design)
    return np.asarray(plane @ correction_of(count, shares, opened), dtype=np.float64)


def reading_known(noise: Noise, unit: Unit, step: float, shown: Shown) -> tuple[Scatter, Scatter]:
    """One reading over the table: the part that its spot has for good, and the part redrawn.

    Both together are what was known before and what misses the plane, pooled. The second is what
    repeats show; without any it counts with the first, which no repeat makes smaller.
    """
    whole = surface_scatter(noise, unit, step)
    if shown.spots is not None:
        whole = whole.with_more([shown.spots])
    if shown.repeat is None:
        return whole, Scatter(0.0, inf)
    if shown.repeat.sd >= whole.sd:
        # More than all there is but by chance: then it is all there is, known as well as that.
        return Scatter(0.0, inf), Scatter(whole.sd, max(whole.dof, shown.repeat.dof), whole.origin)
    redrawn = shown.repeat.sd
    return (
        Scatter(sqrt(whole.sd**2 - redrawn**2), whole.dof, whole.origin),
        Scatter(redrawn, shown.repeat.dof),
    )


def _of_readings(noise: Noise, unit: Unit, step: float, showing: SweepEvidence) -> list[Component]:
    surface, redrawn = reading_known(noise, unit, step, showing.shown)
    found = [
        Component("surface", surface.sd, surface.dof, surface.origin),
        Component("resolution", resolution_sd(step)),
    ]
    if redrawn.sd > 0:
        found.append(Component("reading", redrawn.sd, redrawn.dof))
    lifted = end_play_sd(noise, unit)
    if lifted > 0:
        found.append(Component("end_play", lifted))
    if showing.form > 0:
        # The table is not flat: a station may be off its plane by what these stations are off it.
        found.append(Component("form", showing.form))
    return found


def _of_differences(
    noise: Noise, unit: Unit, step: float, drift: float | None, again: float, showing: SweepEvidence
) -> list[Component]:
    """``again``: standard uncertainty of a reading that is taken again at its spot."""
    found: list[Component] = []

    def add(source: Source, u: float, dof: float = inf, origin: Origin = "measured") -> None:
        if u > 0:
            found.append(Component(source, u, dof, origin))

    if not showing.as_locked:
        relock = relock_scatter(noise, unit, step)
        if relock is not None and showing.relock is not None:
            relock = relock.with_more([showing.relock])
        if relock is not None:
            add("relock", relock.sd, relock.dof, relock.origin)
        # The pull of the hand lies anywhere from snug to hard; it moves a side station likewise.
        add("lock_pull", rectangular(_size(noise.lock_pull, unit) / 2) / SIDE_STATION_SHARE)
    add("indicator", rectangular(_size(noise.indicator_limit, unit)))
    if drift is not None:
        # Half a turn apart, an even drift differs by half of it and any other by none or by all.
        # What the two readings of the first station differ by chance is not drift.
        odd = abs(drift) if showing.uneven is None else showing.uneven
        real = sqrt(max(odd**2 - 2 * again**2, 0.0))
        add("drift", rectangular(real / 2))
    return found


def _way(pair: tuple[float, float]) -> tuple[float, float] | None:
    """The direction of a pair, None where it has none."""
    size = hypot(*pair)
    return (pair[0] / size, pair[1] / size) if size else None


def _as_pairs(matrix: Array) -> Covariance:
    (a, b), (c, d) = matrix.tolist()
    return ((a, b), (c, d))


def _size(length: Length | None, unit: Unit) -> float:
    return 0.0 if length is None else float(length.to(unit))
