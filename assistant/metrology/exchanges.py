"""Sweeps that were read with opposite sides exchanged: how likely, by all that was read.

Belongs here: each way that the sweeps may have been read, weighed by how well one surface and what
a correction was to do explain it. What is asked or said of it is the dialogue's. One unit.

A reading belongs to the place where the dial really stood. Sides that changed places are the same
readings at bearings half a turn further round; with the ends, the zero is at the front, and so is
the reading that closes the sweep.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import exp, log, pi, sqrt
from typing import Final, Literal

import numpy as np

from assistant.metrology.causes import EXCHANGED, LOOSE, STILL, WRONG_WAY
from assistant.metrology.combining import Pair
from assistant.metrology.least_squares import Array
from assistant.metrology.one_surface import (
    GUESS_WORTH,
    REPEATS,
    Leg,
    covariances_of,
    design_of,
)
from assistant.metrology.problem import StationReading, Sweep
from assistant.metrology.scatter import Scatter
from assistant.metrology.waviness import CORRELATION_MM

Exchange = Literal["sides", "ends", "signs"]
"""Right and left, front and back, or both."""

PRIORS: Final[Mapping[Exchange, float]] = {
    "sides": 0.4 * EXCHANGED, "ends": 0.4 * EXCHANGED, "signs": 0.2 * EXCHANGED,
}  # fmt: skip
"""How often each happens; all signs are seldom turned round once the dial was tried (judgement)."""

OTHERWISE: Final = ((LOOSE, 1.0), (0.01, 6.0))
"""How often something else happened between two sweeps, and times how ``wide`` it reaches: a clamp
gave, or nobody knows what (judgement; see ``causes``)."""

# Of the grid of guesses: sizes of one reading's scatter in those known before, and the parts of its
# variance that are redrawn each time.
_SIZES: Final = (0.12, 0.2, 0.32, 0.5, 0.75, 1.1, 1.6, 2.3, 3.4)
_REDRAWN: Final = (0.04, 0.17, 0.5)
_TIMES: Final = log(3.0)

_DRIFTS: Final = ((0.95, 1.0), (0.05, 10.0))
"""A dial drifts within a sweep by about as much as one reading scatters, and slips now and then by
ten times that (judgement): how often, and by how much."""


_LEAST: Final = 1e-6
"""Probability below which nothing is believed before it is read."""

MISCALLED: Final = 0.02
_ANYWHERE: Final = 20.0
"""How often a reading or the one that it is held against was called wrongly, one in a hundred each,
and how many standard deviations to either side such a call may lie, as likely anywhere
(judgement)."""


@dataclass(frozen=True, slots=True)
class ReadAgain:
    """Probabilities of what a station read again shows: what was called ``opposite``, of two sides
    that changed places; or ``neither`` that nor what was called there: one call was wrong."""

    opposite: float
    neither: float


def read_again(off: float, across: float, u: float, before: float) -> ReadAgain:
    """What a station read again shows, by Bayes' rule.

    ``off`` by so much from what was called there, ``across`` from what was called opposite, each
    with standard uncertainty ``u`` (normal); ``before``: the probability before it that the sides
    changed places. Nothing is surer before than ``_LEAST`` allows.
    """
    before = min(max(before, _LEAST), 1 - _LEAST)
    density = 1 / (sqrt(2 * pi) * u)
    there, opposite, neither = (
        (1 - before) * (1 - MISCALLED) * density * exp(-((off / u) ** 2) / 2),
        before * (1 - MISCALLED) * density * exp(-((across / u) ** 2) / 2),
        MISCALLED / (2 * _ANYWHERE * u),
    )
    whole = there + opposite + neither
    return ReadAgain(opposite / whole, neither / whole)


@dataclass(frozen=True, slots=True)
class Link:
    """What a correction did to the tilt: ``moved`` is to be expected, with this ``covariance``.

    From table ``before`` to the one as it stands, front_minus_back and right_minus_left. ``own``:
    which of both it was to change; ``wide``: standard deviation of what a clamp that gives does.
    """

    before: int
    moved: Pair
    covariance: tuple[Pair, Pair]
    own: Literal[0, 1]
    wide: float


@dataclass(frozen=True, slots=True)
class HowRead:
    """One way that all sweeps may have been read, and how often that happens, 0 to 1."""

    name: str
    legs: tuple[Leg, ...]
    prior: float = 0.0


def exchanged(main: Sweep, further: Sweep | None, way: Exchange) -> tuple[Sweep, ...]:
    """A sweep, and what was read on from it, had the sides of the sweep changed places.

    What was read on is held against the real first station, which was read in passing.
    """
    ends, sides = way in ("ends", "signs"), way in ("sides", "signs")

    def placed(one: StationReading) -> StationReading:
        lengthwise = one.bearing_deg % 180 < 90
        turned = ends if lengthwise else sides
        return replace(one, bearing_deg=(one.bearing_deg + 180) % 360) if turned else one

    mirrored = replace(main, readings=tuple(placed(one) for one in main.readings))
    if further is None:
        return (mirrored,)
    if ends:
        first = main.readings[0].bearing_deg
        back = next(one for one in mirrored.readings if one.bearing_deg == first)
        further = replace(further, opening=back.value)
    return mirrored, further


def odds_of(
    ways: Sequence[HowRead],
    link: Link | None,
    known: Scatter,
    exact: float,
    diameter_mm: float | None,
) -> Mapping[str, float]:
    """Probability of each way; the first one is as it was called, with what the others leave.

    ``known``: one reading over the table as known before, without rounding; ``exact``: the standard
    deviation of rounding and end play. By Bayes' rule with the restricted likelihood of all heights
    (``one_surface``), averaged over what a reading may scatter and how much of that is redrawn.
    """
    rest = 1 - sum(way.prior for way in ways[1:])
    grid = _grid(known, exact)
    weights = [_evidence(way, link, grid, diameter_mm) for way in ways]
    most = max(weights)
    each = [
        exp(weight - most) * (rest if place == 0 else way.prior)
        for place, (way, weight) in enumerate(zip(ways, weights, strict=True))
    ]
    return {way.name: part / sum(each) for way, part in zip(ways, each, strict=True)}


@dataclass(frozen=True, slots=True)
class _Grid:
    """Guesses, one a row: variance of a reading by its spot and redrawn, logarithm of weight."""

    surface: Array
    reading: Array
    weight: Array
    drift: float


def _grid(known: Scatter, exact: float) -> _Grid:
    """Chi-square about what was known, log-normal for what repeats, as in ``one_surface``."""
    dof = min(known.dof, GUESS_WORTH) if known.assumed else min(known.dof, 30.0)
    sd = max(known.sd, exact)
    rows = []
    for times in _SIZES:
        for part in _REDRAWN:
            own = (times * sd) ** 2
            repeat = (part * own) ** 0.5
            weight = -dof / 2 * (log(own) + sd**2 / own)
            weight -= (log(repeat / (REPEATS * sd)) / _TIMES) ** 2 / 2
            rows.append(((1 - part) * own, part * own + exact**2, weight))
    table = np.array(rows)
    return _Grid(table[:, 0], table[:, 1], table[:, 2], sd)


def _evidence(way: HowRead, link: Link | None, grid: _Grid, diameter_mm: float | None) -> float:
    """Logarithm of the likelihood of all heights, up to a constant that all ways share."""
    legs = way.legs
    design = design_of(legs)
    heights = np.concatenate([np.array(leg.swept.heights) for leg in legs])
    surface, reading = covariances_of(legs, diameter_mm, CORRELATION_MM)
    of = (
        grid.surface[:, np.newaxis, np.newaxis] * surface
        + grid.reading[:, np.newaxis, np.newaxis] * reading
    )
    before = grid.weight + sum(
        _log_return(leg.swept.drift, grid) for leg in legs if leg.swept.drift is not None
    )
    if link is None:
        return _log_sum(_restricted(of, design, heights[:, np.newaxis])[:, 0] + before)
    rows = _link_rows(legs, link, design.shape[1])
    design = np.vstack([design, rows])
    own = [1.0 if axis == link.own else 0.0 for axis in (0, 1)]
    shares = (1.0 - STILL - WRONG_WAY - sum(share for share, _ in OTHERWISE), STILL, WRONG_WAY)
    moved = np.array(link.moved)
    means = [moved - turned * moved * own for turned in (0.0, 1.0, 2.0)]
    columns = np.column_stack([np.concatenate([heights, mean]) for mean in means])
    usual = np.array(link.covariance)
    found = [_restricted(_with_link(of, usual), design, columns) + np.log(shares)]
    for share, times in OTHERWISE:
        wide = _with_link(of, usual + (times * link.wide) ** 2 * np.eye(2))
        found.append(_restricted(wide, design, columns[:, :1]) + log(share))
    return _log_sum(np.concatenate(found, axis=1) + before[:, np.newaxis])


def _log_return(drift: float, grid: _Grid) -> Array:
    """Logarithm of the likelihood of a return error: two readings of one spot, and the dial."""
    likely = np.zeros(len(grid.weight))
    for share, times in _DRIFTS:
        variance = 2 * grid.reading + (times * grid.drift) ** 2
        likely += share * np.exp(-(drift**2) / (2 * variance)) / np.sqrt(variance)
    return np.asarray(np.log(np.maximum(likely, 1e-300)))


def _link_rows(legs: Sequence[Leg], link: Link, columns: int) -> Array:
    """The tilt as it stands less the one before, out of what is not known."""
    others = sorted({leg.table for leg in legs} - {0})
    slips = 2 if len({leg.refitted for leg in legs if leg.table == 0}) > 1 else 0
    first = 2 + slips + 2 * others.index(link.before)
    rows = np.zeros((2, columns))
    rows[:, :2] = np.eye(2)
    rows[:, first : first + 2] = -np.eye(2)
    return rows


def _with_link(of: Array, link: Array) -> Array:
    count = of.shape[1]
    whole = np.zeros((len(of), count + 2, count + 2))
    whole[:, :count, :count] = of
    whole[:, count:, count:] = link
    return whole


def _restricted(of: Array, design: Array, columns: Array) -> Array:
    """Restricted log likelihood of each column (its columns) for each covariance (its rows)."""
    root = np.linalg.cholesky(of)
    both = np.column_stack([design, columns])
    whitened = np.linalg.solve(root, np.broadcast_to(both, (len(of), *both.shape)))
    count = design.shape[1]
    q, r = np.linalg.qr(whitened[:, :, :count])
    seen = whitened[:, :, count:]
    left = seen - q @ (np.swapaxes(q, 1, 2) @ seen)
    fitted = np.log(np.abs(np.diagonal(r, axis1=1, axis2=2))).sum(axis=1)
    spread = np.log(np.diagonal(root, axis1=1, axis2=2)).sum(axis=1)
    square = np.sum(left**2, axis=1)
    return np.asarray(-square / 2 - (fitted + spread)[:, np.newaxis], dtype=np.float64)


def _log_sum(logarithms: Array) -> float:
    most = float(logarithms.max())
    return most + log(float(np.exp(logarithms - most).sum()))
