"""All sweeps of a job together: one surface under them, however the table was tilted meanwhile.

Belongs here: the tilt of the table as it stands by generalised least squares over every sweep, and
how far readings scatter, by the likelihood of what all sweeps leave. What one sweep says by itself
is in ``evidence``.

A called height is the table's plane as it stood, plus what the surface is off its own plane at that
spot, plus what is redrawn at every reading. The surface comes along when the table is tilted: what
earlier sweeps showed of it is known of the stations that are read now.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import expm1, hypot, inf, log, pi, sqrt
from typing import Final

import numpy as np

from assistant.metrology.combining import Pair
from assistant.metrology.evidence import Swept, correction_of
from assistant.metrology.least_squares import Array
from assistant.metrology.scatter import Scatter
from assistant.metrology.uncertainty import dof_of_guess
from assistant.metrology.waviness import CORRELATION_MM

LENGTHS_MM: Final = tuple(CORRELATION_MM * times for times in (0.5, 1.0, 2.0))
"""Over which the surface is alike: about an inch, half of it or twice (judgement)."""
_LENGTH_WEIGHTS: Final = (0.25, 0.5, 0.25)

GUESS_WORTH: Final = dof_of_guess(0.85)
"""What a guess of the scatter is worth here: a rough table has three times as much. 0.7 degrees of
freedom (GUM G.4.2); whether a reading is asked again goes by ``scatter.GUESS_DOF``."""

FORMS: Final = (0.0, 2.0, 6.0, 20.0)
"""How far a table may be bent into saddle and twist, in standard deviations of its surface."""
_FORM_WEIGHTS: Final = (0.4, 0.2, 0.2, 0.2)
"""Of a table whose stations do not fit a plane: rough or bent, and how much (judgement). A form
that was simply taken out would take the waves of a rough table along, and leave it too smooth."""

STAYED: Final = 0.1
"""How often somebody who is told to move every spot on sweeps where they did before, once or from
then on (judgement)."""

GRAIN: Final = 0.25
"""Part of the surface's variance that neighbouring spots do not share: scratches, burrs, the marks
of the cutter (judgement)."""

REPEATS: Final = 0.5
"""How a reading repeats at its spot, as a part of how readings were known to scatter (judgement);
three times that or a third of it for one standard deviation. Whatever repeats show, it says nothing
of how rough the table is."""
_TIMES: Final = log(3.0)
_LEAST_REPEAT: Final = 0.05

# Parts of a reading's variance that are redrawn each time, rounding among them.
_REDRAWN: Final = (0.01, 0.03, 0.08, 0.17, 0.3, 0.5, 0.75, 0.93)

# Sine of half an angle that no two bearings of spots lie apart by.
_SAME_SPOT: Final = 1e-4

# Of the grid of sizes: how many, how far beyond what is known and seen; and from where on nothing
# that a job sees can change what is known.
_SIZES: Final = 80
_WIDE: Final = 50.0
_SURE_DOF: Final = 1000.0
_LEAST_DOF: Final = 0.2
# Of errors, beyond which the distribution stated and the one found are alike.
_SHARES: Final = (0.5, 0.05)
_HALVINGS: Final = 50
_EXACT: Final = 1e-9
# Of a step towards a square, beyond which rounding is all that moves it.
_EXACT_STEP: Final = 1e-13
_LEAST_OWN: Final = 1e-6
_TRACE: Final = 1e-3


@dataclass(frozen=True, slots=True)
class Leg:
    """One sweep, the number of the state of the table that it is of, how the indicator was fitted.

    ``table``: sweeps share it between which the table was not moved; 0 is the table as it stands.
    """

    swept: Swept
    table: int = 0
    refitted: bool = False


@dataclass(frozen=True, slots=True)
class Shares:
    """Covariance, 2 by 2, of (front_minus_back, right_minus_left) of the table as it stands.

    ``surface`` for a surface, ``reading`` for a redrawn part of every reading, of variance one.
    """

    surface: Array
    reading: Array


@dataclass(frozen=True, slots=True)
class Joint:
    """The tilt by all legs, and the spindle's axial slip where the indicator was refitted.

    ``surface`` and ``reading``: standard deviations of one reading, by its spot and redrawn;
    rounding and end play are in the second. ``dof``: of what both make of a difference;
    ``seen``: what these legs say of the surface's scatter beside what was known of it.
    ``stayed``: probability that the spots last told to be moved on stayed where they were.
    """

    pair: Pair
    slip: Pair | None
    shares: Shares
    surface: float
    reading: float
    dof: float
    seen: float
    stayed: float


def off_plane_alike(apart_deg: Array, diameter_mm: float | None, length_mm: float) -> Array:
    """Covariance of a surface off its own plane at spots so far apart, for a variance of one.

    The truth is the least squares plane over the whole circle: what the surface has of height and
    tilt is part of it. So the first two terms of the Fourier series of exp(-chord / length) round
    the circle are left out. ``GRAIN`` of the variance is each spot's own; all of it without a
    diameter.
    """
    apart = np.radians(np.asarray(apart_deg, dtype=np.float64))
    same = np.asarray(np.abs(np.sin(apart / 2)) < _SAME_SPOT, dtype=np.float64)
    if diameter_mm is None:
        return same
    mean, once = _height_and_tilt(diameter_mm, length_mm)
    found = np.exp(-diameter_mm * np.abs(np.sin(apart / 2)) / length_mm)
    waves = found - mean - once * np.cos(apart)
    return np.asarray(GRAIN * same + (1 - GRAIN) * waves, dtype=np.float64)


@lru_cache(maxsize=64)
def _height_and_tilt(diameter_mm: float, length_mm: float) -> tuple[float, float]:
    """The first two coefficients of the cosine series of exp(-chord / length) round a circle."""
    angles = np.linspace(0.0, 2 * pi, 720, endpoint=False)
    alike = np.exp(-diameter_mm * np.abs(np.sin(angles / 2)) / length_mm)
    return float(alike.mean()), 2 * float((alike * np.cos(angles)).mean())


def design_of(legs: Sequence[Leg]) -> Array:
    """From what is not known to heights: columns are the tilt as it stands (front_minus_back,
    right_minus_left), the slip where it shows, the other tilts, and a height for each leg."""
    others = sorted({leg.table for leg in legs} - {0})
    rows = sum(len(leg.swept.bearings_deg) for leg in legs)
    slips = 2 if _refitted_here(legs) else 0
    design = np.zeros((rows, 2 + slips + 2 * len(others) + len(legs)))
    row = 0
    for place, leg in enumerate(legs):
        angles = np.radians(np.array(leg.swept.bearings_deg, dtype=np.float64))
        tilt = np.column_stack([-np.cos(angles) / 2, np.sin(angles) / 2])
        stretch = slice(row, row + len(angles))
        first = 0 if leg.table == 0 else 2 + slips + 2 * others.index(leg.table)
        design[stretch, first : first + 2] = tilt
        if slips:
            design[stretch, 2:4] = -tilt if leg.refitted else tilt
        design[stretch, 2 + slips + 2 * len(others) + place] = 1.0
        row += len(angles)
    return design


def _refitted_here(legs: Sequence[Leg]) -> bool:
    """Whether the table as it stands was read with the indicator fitted both ways round."""
    return len({leg.refitted for leg in legs if leg.table == 0}) > 1


def covariances_of(
    legs: Sequence[Leg], diameter_mm: float | None, length_mm: float, form: float = 0.0
) -> tuple[Array, Array]:
    """Of all heights, for a surface and for redrawn readings, each of variance one.

    The surface is bent as well by ``form``, the standard deviation of saddle and twist beside it.
    """
    read = tuple((leg.swept.bearings_deg, leg.swept.shares, leg.swept.opened) for leg in legs)
    return _covariances(read, diameter_mm, length_mm, form)


_Read = tuple[tuple[float, ...], tuple[float, ...] | None, bool]


@lru_cache(maxsize=128)
def _covariances(
    read: tuple[_Read, ...], diameter_mm: float | None, length_mm: float, form: float
) -> tuple[Array, Array]:
    corrections, places = [], []
    for bearings, shares, opened in read:
        matrix = correction_of(len(bearings), shares, opened)
        corrections.append(matrix)
        # Where a sweep was opened it is closed, too: what the surface is there cancels.
        more = matrix.shape[1] - len(bearings)
        places.append(np.array([*bearings, *[bearings[0]] * more]))
    rows = sum(len(m) for m in corrections)
    columns = sum(m.shape[1] for m in corrections)
    whole = np.zeros((rows, columns))
    r = c = 0
    for matrix in corrections:
        whole[r : r + len(matrix), c : c + matrix.shape[1]] = matrix
        r, c = r + len(matrix), c + matrix.shape[1]
    at = np.concatenate(places)
    apart = at[:, np.newaxis] - at
    alike = off_plane_alike(apart, diameter_mm, length_mm)
    alike = alike + form**2 * np.cos(2 * np.radians(apart))
    return whole @ alike @ whole.T, whole @ whole.T


@dataclass(frozen=True, slots=True)
class _Fits:
    """Generalised least squares for several guesses, one a row; a reading's variance is one.

    ``redrawn``: the part of it that is redrawn, ``prior``: the logarithm of the guess's weight,
    ``stayed``: one where the spots last told to be moved on stayed where they were, else zero.
    ``square``: of what is left, weighed; ``log_det``: of the restricted likelihood; ``free``: its
    degrees of freedom.
    """

    tilt: Array
    surface: Array
    reading: Array
    square: Array
    log_det: Array
    redrawn: Array
    prior: Array
    stayed: Array
    free: int


def _fit(legs: Sequence[Leg], covariances: Sequence[tuple[Array, Array]], redrawn: Array) -> _Fits:
    """``covariances``, one for each of ``redrawn``, as ``covariances_of`` has them."""
    design = design_of(legs)
    heights = np.concatenate([np.array(leg.swept.heights, dtype=np.float64) for leg in legs])
    surface, reading = (np.array(each) for each in zip(*covariances, strict=True))
    part = redrawn[:, np.newaxis, np.newaxis]
    # Drift taken out leaves fewer degrees of freedom than heights; rounding must not make it none.
    whole = (1 - part) * surface + part * reading + _EXACT * np.eye(len(heights))
    root = np.linalg.cholesky(whole)
    told = np.column_stack([design, heights])
    solved = np.linalg.solve(root, np.broadcast_to(told, (len(redrawn), *told.shape)))
    q, r = np.linalg.qr(solved[:, :, :-1])
    y = solved[:, :, -1:]
    onto = np.swapaxes(q, 1, 2) @ y
    rest = (y - q @ onto)[:, :, 0]
    weights = np.linalg.solve(r, np.swapaxes(np.linalg.solve(np.swapaxes(root, 1, 2), q), 1, 2))
    two = weights[:, :2]
    back = np.swapaxes(two, 1, 2)
    return _Fits(
        tilt=np.linalg.solve(r, onto)[:, : 4 if _refitted_here(legs) else 2, 0],
        surface=two @ surface @ back,
        reading=two @ reading @ back,
        square=np.sum(rest**2, axis=1),
        log_det=2 * (_log_diagonal(root) + _log_diagonal(r)),
        redrawn=redrawn,
        prior=np.zeros(len(redrawn)),
        stayed=np.zeros(len(redrawn)),
        free=len(heights) - design.shape[1],
    )


def _log_diagonal(triangular: Array) -> Array:
    diagonal = np.abs(np.diagonal(triangular, axis1=1, axis2=2))
    return np.asarray(np.sum(np.log(diagonal), axis=1))


def joint(
    legs: Sequence[Leg],
    diameter_mm: float | None,
    known: Scatter,
    exact: float,
    bent: bool = False,
) -> Joint:
    """The tilt of the table as it stands by all legs of its surface, and what they scatter.

    ``known``: one reading over the table as known before, without rounding; ``exact``: the standard
    deviation of rounding and end play. ``bent``: the stations do not fit a plane. Restricted
    likelihood (Patterson and Thompson, Biometrika 58, 1971, from memory) of the heights over a grid
    of the size of the scatter, of the part of it that is redrawn, of the length over which the
    surface is alike, of how bent it is, and of whether spots that were to be moved on stayed where
    they were, times what is known of each before. A guess no longer counts once what was seen is
    worth more than twice as much, as in ``Scatter.with_more``.
    """
    # Told to be none, it is still taken for a trace of the rounding.
    known = replace(known, sd=max(known.sd, _TRACE * exact))
    outweighed = 2 * known.dof
    if known.assumed:
        known = replace(known, dof=min(known.dof, GUESS_WORTH))
    lengths = LENGTHS_MM if diameter_mm is not None else LENGTHS_MM[:1]
    forms = FORMS if bent else FORMS[:1]
    kinds = [(length, form) for length in lengths for form in forms]
    weights = np.outer(_LENGTH_WEIGHTS[: len(lengths)], _FORM_WEIGHTS[: len(forms)]).ravel()

    def fitted(at: Sequence[Leg]) -> _Fits:
        of_kinds = [covariances_of(at, diameter_mm, *kind) for kind in kinds]
        covariances = [one for one in of_kinds for _ in _REDRAWN]
        found = _fit(at, covariances, np.tile(_REDRAWN, len(kinds)))
        return replace(found, prior=np.repeat(np.log(weights), len(_REDRAWN)))

    fits = _wherever_spots_lay(legs, fitted)
    found = _weighed(fits, known, exact)
    if known.assumed and found.seen > outweighed:
        return _weighed(fits, replace(known, dof=0.0), exact)
    return found


def _wherever_spots_lay(legs: Sequence[Leg], fitted: Callable[[Sequence[Leg]], _Fits]) -> _Fits:
    """The fits for spots that were moved on as told; and for those that stayed, at first or always.

    Who did not move them on for some sweeps and then did is as far behind from there on.
    """
    told = sorted({leg.swept.moved_on for leg in legs} - {0.0})
    shares = [1 - STAYED, *[STAYED / len(told)] * len(told)] if told else [1.0]
    found = []
    for by, share in zip((0.0, *told), shares, strict=True):
        here = fitted([replace(leg, swept=leg.swept.behind(by)) for leg in legs])
        last = np.full_like(here.stayed, by > 0 and by == told[-1])
        found.append(replace(here, prior=here.prior + log(share), stayed=last))

    def whole(of: Callable[[_Fits], Array]) -> Array:
        return np.concatenate([of(one) for one in found])

    return _Fits(
        tilt=whole(lambda one: one.tilt),
        surface=whole(lambda one: one.surface),
        reading=whole(lambda one: one.reading),
        square=whole(lambda one: one.square),
        log_det=whole(lambda one: one.log_det),
        redrawn=whole(lambda one: one.redrawn),
        prior=whole(lambda one: one.prior),
        stayed=whole(lambda one: one.stayed),
        free=found[0].free,
    )


def _weighed(fits: _Fits, known: Scatter, exact: float) -> Joint:
    """The mean of all fits, each and each size by its weight."""
    sizes = _sizes_for(fits, known, exact)
    table = _log_weights(fits, sizes, known, exact)
    weights = np.exp(table - table.max())
    weights /= weights.sum()
    of_fit = weights.sum(axis=1)
    surface, reading, tilt = (
        np.tensordot(of_fit, each, axes=1) for each in (fits.surface, fits.reading, fits.tilt)
    )
    by_surface, by_reading = (
        np.trace(each, axis1=1, axis2=2) / 2 for each in (fits.surface, fits.reading)
    )
    part = (1 - fits.redrawn) * by_surface
    whole = part + fits.redrawn * by_reading
    # Never less than rounding twice over: readings that all round to one count do not show that
    # nothing scatters, only that it is hidden.
    variance = np.maximum(
        sizes**2 * whole[:, np.newaxis], 2 * (exact**2 * by_reading)[:, np.newaxis]
    )
    both, dof = _as_t(weights, variance)
    _, of_spots = _as_t(weights, sizes**2 * (1 - fits.redrawn)[:, np.newaxis])
    of_surface = float(of_fit @ (part / whole))
    # What the algebra leaves beyond the twelfth place is no tilt.
    front, right, *slip = (round(float(value), 12) + 0.0 for value in tilt)
    return Joint(
        (front, right),
        (slip[0], slip[1]) if slip else None,
        Shares(surface, reading),
        sqrt(2 * both * of_surface / float(np.trace(surface))),
        sqrt(2 * both * (1 - of_surface) / float(np.trace(reading))),
        dof,
        of_spots - known.dof,
        float(of_fit @ fits.stayed),
    )


def _as_t(weights: Array, variance: Array) -> tuple[float, float]:
    """Square of the scale and degrees of freedom of the bivariate t that stands for a mixture.

    Errors in two directions are normal with each ``variance`` by its weight. Beyond r lies a share
    of E exp(-r^2 / 2 v), beyond that of a t (1 + r^2 / nu u^2)^(-nu / 2): both are made alike where
    half and where a twentieth lie beyond (derived). Moments would be blind to the upper tail.
    """

    near, far = (_square_beyond(weights, 1 / (2 * variance), share) for share in _SHARES)
    ratio, low, high = far / near, _LEAST_DOF, _SURE_DOF
    if ratio <= _t_square(high, _SHARES[1]) / _t_square(high, _SHARES[0]):
        return far / (-2 * log(_SHARES[1])), inf
    for _ in range(_HALVINGS):
        middle = sqrt(low * high)
        wider = _t_square(middle, _SHARES[1]) / _t_square(middle, _SHARES[0]) > ratio
        low, high = (middle, high) if wider else (low, middle)
    return far / _t_square(high, _SHARES[1]), high


def _t_square(dof: float, share: float) -> float:
    """Square of the radius, in scales, beyond which a share of a bivariate t lies."""
    return dof * expm1(-2 / dof * log(share))


def _square_beyond(weights: Array, rate: Array, share: float) -> float:
    """Where the sum of weights times exp(-rate square) has come down to a share of its start.

    Newton's steps on the logarithm of the sum: it falls and is convex (a sum of exponentials is
    logarithmically convex), so that each step comes nearer from below and none goes too far.
    """
    square = 0.0
    while True:
        left = weights * np.exp(-rate * square)
        beyond = float(left.sum())
        step = log(beyond / share) * beyond / float((left * rate).sum())
        square += step
        if step <= _EXACT_STEP * square:
            return square


def _sizes_for(fits: _Fits, known: Scatter, exact: float) -> Array:
    """Standard deviations of one reading, rounding and all, that are tried."""
    if known.dof >= _SURE_DOF:
        return np.array([hypot(known.sd, exact)])
    seen = np.sqrt(fits.square / max(fits.free, 1))
    low = max(exact * (1 + _EXACT), known.sd / _WIDE)
    return np.geomspace(low, _WIDE * max(known.sd, float(seen.max()), exact), _SIZES)


def _log_weights(fits: _Fits, sizes: Array, known: Scatter, exact: float) -> Array:
    """Logarithm of the posterior of each guess, in rows, and size, up to a constant."""
    square = sizes**2
    own = np.maximum(square - exact**2, _LEAST_OWN * square)
    left, log_det, redrawn, prior = (
        each[:, np.newaxis] for each in (fits.square, fits.log_det, fits.redrawn, fits.prior)
    )
    repeat = np.sqrt(np.maximum(redrawn * square - exact**2, _LEAST_REPEAT**2 * own))
    weights = prior - fits.free * np.log(sizes) - left / (2 * square) - log_det / 2
    weights = weights - (np.log(repeat / (REPEATS * known.sd)) / _TIMES) ** 2 / 2
    if 0 < known.dof < _SURE_DOF:
        # Chi-square about what was known, on what scatters beside rounding.
        weights += -known.dof / 2 * (np.log(own) + known.sd**2 / own) + np.log(square / own)
    return np.asarray(weights, dtype=np.float64)


def shares_of_more(legs: Sequence[Leg], diameter_mm: float | None, redrawn: float) -> Shares:
    """What legs will make of surface and readings; their heights do not matter.

    ``redrawn``: the part of a reading's variance that is redrawn each time.
    """
    return _shares_of_more(tuple(legs), diameter_mm, redrawn)


@lru_cache(maxsize=128)
def _shares_of_more(legs: tuple[Leg, ...], diameter_mm: float | None, redrawn: float) -> Shares:
    covariances = covariances_of(legs, diameter_mm, CORRELATION_MM)
    fit = _fit(legs, [covariances], np.array([redrawn]))
    return Shares(fit.surface[0], fit.reading[0])
