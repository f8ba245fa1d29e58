"""The question: everything that ``solve`` needs, exact, and checked when it is made.

Belongs here: plain data and what makes it impossible. How it is written in a file is a matter of
the readings file; what it means is a matter of ``solve``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Literal

from assistant.metrology.lengths import ZERO, Length, Unit
from assistant.metrology.plane import shows_tilt
from assistant.metrology.response import Response
from assistant.metrology.rig import Rig, tip_factor
from assistant.metrology.stations import BEARING_OF, NAME_AT, StationName, label_of, turned

Method = Literal["indicator", "gap", "square"]
Place = Literal["above", "below"]
FrontMayBe = Literal["either", "high", "low"]


class ProblemError(ValueError):
    """A question that has no answer; the message is one line and says what to do."""


@dataclass(frozen=True, slots=True)
class StationReading:
    """One called value at a bearing (degrees clockwise from the back).

    ``no_go``: by leaves, the thinnest stack that does not go where ``value`` does; the truth is
    equally likely anywhere between. None: ``value`` fits just so. By a square, ``value`` and
    ``no_go`` are positive when the gap is open at the bottom. ``doubt``: half width of what the
    value may be. ``turn``: when it was read, counted in readings since the first (which has 0);
    None: in its place in the row. A station read again after closing has a turn beyond the others'.
    """

    bearing_deg: Decimal
    value: Length
    no_go: Length | None = None
    doubt: Length = ZERO
    turn: int | None = None

    @staticmethod
    def at(station: StationName, value: Length, no_go: Length | None = None) -> StationReading:
        """A reading at a named station."""
        return StationReading(BEARING_OF[station], value, no_go)

    @property
    def station(self) -> StationName | None:
        """The station's name, None at any other bearing."""
        return NAME_AT.get(turned(self.bearing_deg))


@dataclass(frozen=True, slots=True)
class Sweep:
    """Another sweep of the same table as it stands: readings in the order taken, and closing.

    ``refitted``: the indicator was taken off and fitted half a turn round the spindle for it.
    ``closing_turn``: when it was closed, as ``Reading.turn``; None: after all stations.
    ``opening``: for a sweep that goes on from another one at stations of its own, the station where
    it will be closed as it was read just before, at turn 0; that station is none of its own.
    ``table``: of earlier sweeps, a number that those share between which the table was not moved.
    ``moved_on``: by how many degrees the bearings are further round than those of a sweep of the
    stations, where somebody was told to move every spot on; whether they did, the readings show.
    """

    readings: tuple[StationReading, ...]
    closing: Length | None = None
    refitted: bool = False
    closing_turn: int | None = None
    opening: Length | None = None
    table: int | None = None
    moved_on: Decimal = Decimal(0)

    @property
    def turns(self) -> tuple[float, ...]:
        """When each station was read, in its order."""
        first = 0 if self.opening is None else 1
        return tuple(
            float(place if reading.turn is None else reading.turn)
            for place, reading in enumerate(self.readings, first)
        )

    @property
    def begun_at(self) -> float:
        """When the station was read that closes it later."""
        return self.turns[0] if self.opening is None else 0.0

    @property
    def closed_at(self) -> float:
        """When that station was read again."""
        after_all = len(self.readings) + (self.opening is not None)
        return float(after_all if self.closing_turn is None else self.closing_turn)


@dataclass(frozen=True, slots=True)
class Trial:
    """One step of shimming: front_minus_back before and after it.

    ``total`` is all the shim in place after it, ``place`` where ("above" if None and the front was
    high, "below" if it was low); ``base`` is the shim in place before it, None for: what the trials
    before it left, or nothing when ``before`` is what was found at first. ``side_before`` and
    ``side_after`` are right_minus_left at the same times, where they are known: a shim may tip the
    table sideways, too.
    """

    total: Length
    before: Length
    after: Length
    place: Place | None = None
    base: Length | None = None
    side_before: Length | None = None
    side_after: Length | None = None


@dataclass(frozen=True, slots=True)
class TapTrial:
    """One tap: change of height watched at the right station, right_minus_left before and after.

    ``front_before`` and ``front_after`` are front_minus_back at the same times, where they are
    known.
    """

    change: Length
    before: Length
    after: Length
    front_before: Length | None = None
    front_after: Length | None = None


@dataclass(frozen=True, slots=True)
class Shimming:
    """What is known about shimming this machine.

    ``span``: contact edge to shim. ``stock``: one entry for each leaf owned. ``fitted``: the shim
    in place when the readings were taken, positive above the bolt, negative below; None: follow the
    trials. ``trials``: in the order made. ``leaf_tolerance``: largest error of one leaf, either
    way. ``known``: the response over this sweep diameter before any trial, from earlier jobs; None:
    what geometry lets expect.
    """

    span: Length | None = None
    stock: tuple[Length, ...] = ()
    max_leaves: int = 3
    trials: tuple[Trial, ...] = ()
    fitted: Length | None = None
    leaf_tolerance: Length = ZERO
    known: Response | None = None


@dataclass(frozen=True, slots=True)
class Noise:
    """What is known about how readings scatter; each part may be missing.

    ``surface``: readings at spots about one station, in a row and ``surface_apart`` from one to
    the next, or else somewhere along ``surface_span``; None: as far apart as makes them
    independent. ``relock``: readings at the right or left station, each after unlocking and
    locking again. ``resolution``: the finest step called. ``lock_pull``: change of the same
    station from snug to hard. ``indicator_limit``: largest error of the dial over the span used.
    ``end_play``: how far up the spindle stays after it was lifted and let go. ``days_old``: since
    surface, relock and pull were measured; ``relock_days_old``: since relock was, None for the
    same.

    Told rather than measured: ``reading_sd``, the standard deviation of one reading over the table,
    and ``relock_sd``, that of a difference of opposite stations from relocking, each with the
    degrees of freedom that stand behind it; None: it is a guess. ``surface`` and ``relock`` go
    before them.

    ``gain_doubt``: relative standard uncertainty of what the readings were multiplied by.
    """

    surface: tuple[Length, ...] = ()
    relock: tuple[Length, ...] = ()
    resolution: Length | None = None
    lock_pull: Length | None = None
    indicator_limit: Length | None = None
    reading_sd: Length | None = None
    relock_sd: Length | None = None
    end_play: Length | None = None
    surface_span: Length | None = None
    surface_apart: Length | None = None
    reading_dof: float | None = None
    relock_dof: float | None = None
    days_old: float = 0.0
    relock_days_old: float | None = None
    gain_doubt: float = 0.0


@dataclass(frozen=True, slots=True)
class Problem:
    """Readings of a sweep in the order taken, and what is known about the machine.

    ``unit`` is that of the answer. ``rig`` is how was read by this ``method``. ``closing`` is the
    first station read again. ``pivot_offset`` is to the right of the spindle axis. ``tolerance`` is
    stated over ``tolerance_over`` (over the sweep diameter if None) and taken in proportion;
    ``front_may_be`` limits the side on which the front may be. ``repeats`` are further sweeps
    without any correction in between, ``relocked`` whether the table was unlocked and locked again
    between them. ``taps`` are those made before on this machine, which show where it really pivots.
    ``history``: sweeps before the table was last moved; they say nothing of how it stands, but of
    how its readings scatter. ``as_locked``: the answer is of the table as it is locked now, and not
    of where another locking would leave it, so that relocking and pull count in forecasts only.
    ``warp``: what eight stations showed of the table's own form, taken out of the heights: how far
    front and back stand over right and left, and the corners back right and front left over the
    others. ``moved_on``: as a ``Sweep`` has it.
    Raises ``ProblemError`` when no answer is possible.
    """

    unit: Unit
    readings: tuple[StationReading, ...]
    method: Method = "indicator"
    rig: Rig = field(default_factory=Rig)
    closing: Length | None = None
    sweep_diameter: Length | None = None
    pivot_offset: Length = ZERO
    tolerance: Length | None = None
    tolerance_over: Length | None = None
    front_may_be: FrontMayBe = "either"
    shim: Shimming = field(default_factory=Shimming)
    noise: Noise = field(default_factory=Noise)
    repeats: tuple[Sweep, ...] = ()
    relocked: bool = False
    taps: tuple[TapTrial, ...] = ()
    history: tuple[Sweep, ...] = ()
    closing_turn: int | None = None
    as_locked: bool = False
    warp: tuple[Length, Length] = (ZERO, ZERO)
    moved_on: Decimal = Decimal(0)

    def __post_init__(self) -> None:
        for sweep in (*self.sweeps, *self.history):
            _check_stations(sweep.readings)
            _check_turns(sweep)
            if self.method == "gap":
                _check_gaps(sweep.readings, sweep.closing)
            _check_leaves(self.method, sweep.readings)
        _check_rig(self)
        _check_positive("sweep_diameter", self.sweep_diameter)
        _check_positive("tolerance", self.tolerance)
        _check_positive("tolerance_over", self.tolerance_over)
        if self.tolerance_over is not None and self.sweep_diameter is None:
            raise ProblemError("tolerance_over needs sweep_diameter; give both")
        if self.pivot_offset and self.sweep_diameter is None:
            raise ProblemError("pivot_offset needs sweep_diameter; give both")
        _check_shimming(self.shim)
        _check_noise(self.noise)

    @property
    def sweeps(self) -> tuple[Sweep, ...]:
        """The main sweep and its repeats."""
        main = Sweep(
            self.readings, self.closing, closing_turn=self.closing_turn, moved_on=self.moved_on
        )
        return (main, *self.repeats)


def _check_turns(sweep: Sweep) -> None:
    if sweep.readings and min(sweep.turns) < 0:
        raise ProblemError("a turn is negative; count readings from 0 at the first station")
    if sweep.readings and sweep.closing is not None and sweep.closed_at <= sweep.begun_at:
        raise ProblemError("the sweep was closed before its first reading; count again")


def _check_stations(readings: Sequence[StationReading]) -> None:
    seen: set[Decimal] = set()
    for reading in readings:
        bearing = turned(reading.bearing_deg)
        if bearing in seen:
            raise ProblemError(f"{label_of(bearing)} is there twice; keep one reading for it")
        seen.add(bearing)
    if len(seen) < 3:
        raise ProblemError(f"a plane needs three stations, not {len(seen)}; call more")
    if not shows_tilt([float(bearing) for bearing in seen]):
        raise ProblemError("the stations lie too close together; spread them round the table")


def _check_gaps(readings: Sequence[StationReading], closing: Length | None) -> None:
    for reading in readings:
        if reading.value < ZERO:
            name = label_of(reading.bearing_deg)
            raise ProblemError(f"the gap at {name} is negative; a gap is zero or more")
    if closing is not None and closing < ZERO:
        raise ProblemError("the closing gap is negative; a gap is zero or more")


def _check_leaves(method: Method, readings: Sequence[StationReading]) -> None:
    for reading in readings:
        if reading.no_go is None:
            continue
        name = label_of(reading.bearing_deg)
        if method == "indicator":
            raise ProblemError(f"no_go at {name}: a dial has none; use method gap or square")
        if abs(reading.no_go) <= abs(reading.value) or reading.no_go * reading.value.mm < ZERO:
            raise ProblemError(f"no_go at {name} is not thicker than what goes; call it again")


def _check_rig(problem: Problem) -> None:
    try:
        tip_factor(problem.rig.lever_deg, problem.rig.tip)
    except ValueError as error:
        raise ProblemError(f"lever: {error}") from error
    _check_positive("square_height", problem.rig.square_height)
    if problem.method == "square" and None in (problem.rig.square_height, problem.sweep_diameter):
        raise ProblemError("method square needs square_height and sweep_diameter; give both")


def _check_shimming(shim: Shimming) -> None:
    _check_positive("shim.span", shim.span)
    for leaf in shim.stock:
        _check_positive("shim.stock", leaf)
    if shim.max_leaves < 1:
        raise ProblemError("shim.max_leaves is below one; allow one leaf at least")
    if shim.leaf_tolerance < ZERO:
        raise ProblemError("shim.leaf_tolerance is negative; give its size")
    if shim.known is not None and not (shim.known.value > 0 and shim.known.uncertainty > 0):
        raise ProblemError("shim.known is not above zero; leave out what is not known")
    for trial in shim.trials:
        if trial.total < ZERO or (trial.base is not None and trial.base < ZERO):
            raise ProblemError("shim.trials: a total is negative; give its thickness and place")


def _check_noise(noise: Noise) -> None:
    _check_positive("noise.resolution", noise.resolution)
    _check_positive("noise.surface_apart", noise.surface_apart)
    for name, value in (
        ("lock_pull", noise.lock_pull),
        ("indicator_limit", noise.indicator_limit),
        ("reading_sd", noise.reading_sd),
        ("relock_sd", noise.relock_sd),
        ("end_play", noise.end_play),
        ("surface_span", noise.surface_span),
    ):
        if value is not None and value < ZERO:
            raise ProblemError(f"noise.{name} is negative; give its size")
    for name, dof in (("reading_dof", noise.reading_dof), ("relock_dof", noise.relock_dof)):
        if dof is not None and not dof > 0:
            raise ProblemError(f"noise.{name} is not above zero; leave it out for a guess")
    if min(noise.days_old, noise.relock_days_old or 0.0) < 0:
        raise ProblemError("noise.days_old is negative; give the days since it was measured")
    for name, values in (("surface", noise.surface), ("relock", noise.relock)):
        if len(values) == 1:
            raise ProblemError(f"noise.{name} has one reading; scatter needs two or more")


def _check_positive(name: str, value: Length | None) -> None:
    if value is not None and value <= ZERO:
        raise ProblemError(f"{name} is not above zero; give a positive length")
