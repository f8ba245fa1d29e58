"""Whether the readings of one sweep belong together, and which of them was most likely mis-heard.

Belongs here: limits for drift and saddle, and the search for one wrong reading. Values are exact
Decimals in counts as called; nothing here is random.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from math import exp, hypot, inf, sqrt
from typing import Final, Literal, TypedDict, Unpack

from assistant.metrology.confusions import Confusion, Misheard, misheard_as
from assistant.metrology.drift import drift_of, without_drift
from assistant.metrology.evidence import FALSE_ALARMS
from assistant.metrology.stations import BEARING_OF, StationName, is_station, saddle
from assistant.metrology.t_distribution import coverage_factor

StationOrClosing = StationName | Literal["closing"]

# Opposite stations of a drifting sweep differ by half the drift if it grew evenly, and by anything
# from none to all of it if not: a rectangular doubt of drift/2 either way, standard uncertainty
# drift / (2 sqrt 3). The correction is refused when this doubt passes that of the difference of two
# readings, sigma sqrt 2: at drift = 2 sqrt 3 sqrt 2 sigma.
_DRIFT_REFUSED: Final = 2 * sqrt(3) * sqrt(2)

# What a normal reading passes once in a hundred.
_K99: Final = coverage_factor(inf, 0.99)

# Weight of a mistake of no known kind, against those of the known kinds.
_UNEXPLAINED: Final = 0.01


@dataclass(frozen=True, slots=True)
class SweepLimits:
    """Sizes, without sign, in the unit of sigma.

    ``saddle``: beyond it the four readings make no plane. ``drift``: beyond it the dial did move.
    ``drift_refused``: beyond it the sweep is to be done again.
    """

    saddle: float
    drift: float
    drift_refused: float


def limits(
    sigma: float, dof: float = inf, closed: bool = False, rate: float = FALSE_ALARMS
) -> SweepLimits:
    """Limits from the standard deviation of one reading, known to ``dof`` degrees of freedom.

    The saddle of four readings has 2 sigma, that of a ``closed`` sweep sqrt 3.5 sigma, since the
    first station then counts with the mean of two; the return to the first station has sqrt 2
    sigma. Both limits are passed by a share ``rate`` of good sweeps, two-sided Student's t: of
    sigma from three readings, 2.576 would call one good sweep in nine bad.
    """
    k = coverage_factor(dof, 1 - rate)
    return SweepLimits(
        saddle=k * sqrt(3.5 if closed else 4) * sigma,
        drift=k * sqrt(2) * sigma,
        drift_refused=max(_DRIFT_REFUSED, k * sqrt(2)) * sigma,
    )


@dataclass(frozen=True, slots=True)
class Alternative:
    """Another value that the call may have had, with the recogniser's confidence in it (0 to 1)."""

    value: Decimal
    confidence: float


@dataclass(frozen=True, slots=True)
class Suspect:
    """One reading that may be wrong.

    ``better``: the value that makes the sweep fit, None when no likely one does; ``why``: what kind
    of mistake that would be. ``probability``: among all suspects of this sweep.
    """

    place: StationOrClosing
    heard: Decimal
    better: Decimal | None
    why: Confusion
    probability: float


@dataclass(frozen=True, slots=True)
class _Knowledge:
    sigma: float
    expected: Mapping[StationName, Decimal] | None
    expected_sigma: float
    bent: float
    limits: SweepLimits


class Options(TypedDict, total=False):
    """What may be known besides: see ``suspects``."""

    expected_sigma: float
    signed: bool
    reach: Decimal
    dof: float
    rate: float
    bent: float
    saddle_limit: float


def suspects(
    readings: Mapping[StationOrClosing, Decimal],
    alternatives: Mapping[StationOrClosing, Sequence[Alternative]],
    sigma: float,
    expected: Mapping[StationName, Decimal] | None = None,
    **more: Unpack[Options],
) -> tuple[Suspect, ...]:
    """All suspects of a sweep of four stations, likeliest first; empty when it fits as it is.

    ``readings`` are in the order taken, with "closing" last if it was taken. ``alternatives`` are
    the recogniser's. ``sigma`` is the standard deviation of one reading. ``expected`` is what the
    sweep before and the correction since predict, apart from a common offset, and
    ``expected_sigma`` the standard deviation of that (4 sigma if not given). ``signed`` is False
    for gaps. ``reach`` is the most that the dial shows. ``bent`` is the saddle that the table is
    known to have. ``dof`` are those of sigma, and ``rate``
    the share of good sweeps that may be suspected, as in ``limits``.

    One reading at a time is supposed wrong. Each likely other value is weighed by how often calls
    are confused that way, and by how well saddle, drift and expectation then fit (normal
    likelihood); only values that bring saddle and drift within their limits count. Raises
    ``ValueError`` for readings of other stations and for a sigma that is not above zero.
    """
    if sigma <= 0:
        raise ValueError("sigma is not above zero; a reading always scatters")
    if set(readings) - {"closing"} != set(BEARING_OF):
        raise ValueError("the search needs back, right, front and left, and closing if taken")
    bounds = limits(
        sigma, more.get("dof", inf), "closing" in readings, more.get("rate", FALSE_ALARMS)
    )
    bounds = replace(bounds, saddle=more.get("saddle_limit", bounds.saddle))
    known = _Knowledge(
        sigma, expected, more.get("expected_sigma", 4 * sigma), more.get("bent", 0.0), bounds
    )
    if _fits(readings, known):
        return ()
    found: list[tuple[float, float, StationOrClosing, Decimal | None, Confusion]] = []
    tilts: dict[tuple[StationOrClosing, Decimal | None], float] = {}
    for place, heard in readings.items():
        listed = alternatives.get(place, ())
        for other in _others(heard, listed, more.get("signed", True), more.get("reach")):
            changed = {**readings, place: other.value}
            if _fits(changed, known):
                misfit = _misfit(changed, known)
                tilts[place, other.value] = _tilt(changed)
                found.append((other.prior, misfit, place, other.value, other.why))
        # A call with rivals was heard less well, and is the better one to ask again.
        prior = _UNEXPLAINED * (1 + sum(other.confidence for other in listed))
        misfit = _least_misfit(readings, place, known)
        found.append((prior, misfit, place, None, "unexplained"))
    # Against the best fit, so that what fits worst of all does not vanish with the others.
    least = min(misfit for prior, misfit, *_ in found if prior > 0)
    weighed = [
        (prior * exp(-max(misfit - least, 0.0) / 2), place, value, why)
        for prior, misfit, place, value, why in found
    ]
    total = sum(weight for weight, *_ in weighed)
    order = list(readings)
    # Where nothing else decides, what leaves the smaller tilt, since tables are nearly square;
    # then later readings first: the dial was zeroed at the first.
    weighed.sort(
        key=lambda item: (
            -round(item[0] / total, 9), tilts.get(item[1:3], inf), -order.index(item[1])
        )
    )  # fmt: skip
    return tuple(
        Suspect(place, readings[place], better, why, weight / total)
        for weight, place, better, why in weighed
    )


def _others(
    heard: Decimal, listed: Sequence[Alternative], signed: bool, reach: Decimal | None
) -> list[Misheard]:
    found = {other.value: other for other in misheard_as(heard, signed, reach)}
    for rival in listed:
        if rival.value != heard:
            known = found.get(rival.value)
            prior = max(rival.confidence, known.prior if known else 0.0)
            found[rival.value] = Misheard(rival.value, "listed", prior)
    return list(found.values())


def saddle_and_drift(readings: Mapping[StationOrClosing, Decimal]) -> tuple[float, float]:
    """Saddle, with the drift taken out, and drift of four stations in the order taken."""
    values = {place: value for place, value in readings.items() if is_station(place)}
    closing = readings.get("closing")
    level = without_drift(tuple(values.values()), closing)
    drift = 0.0 if closing is None else float(drift_of(tuple(values.values()), closing))
    return float(saddle(dict(zip(values, level, strict=True)))), drift


def _fits(readings: Mapping[StationOrClosing, Decimal], known: _Knowledge) -> bool:
    bent, drift = saddle_and_drift(readings)
    return (
        abs(bent - known.bent) <= known.limits.saddle and abs(drift) <= known.limits.drift_refused
    )


def _tilt(readings: Mapping[StationOrClosing, Decimal]) -> float:
    """How far the readings tilt the table: hypot of the two differences."""
    front_back = readings["front"] - readings["back"]
    sides = readings["right"] - readings["left"]
    return hypot(float(front_back), float(sides))


def _misfit(readings: Mapping[StationOrClosing, Decimal], known: _Knowledge) -> float:
    """Chi-square of saddle, drift and expectation: each one at its limit counts alike."""
    bent, drift = saddle_and_drift(readings)
    square = ((bent - known.bent) * _K99 / known.limits.saddle) ** 2
    square += (drift * _K99 / known.limits.drift_refused) ** 2
    if known.expected:
        off = [float(readings[name] - value) for name, value in known.expected.items()]
        middle = sum(off) / len(off)
        square += sum((one - middle) ** 2 for one in off) / known.expected_sigma**2
    return square


def _least_misfit(
    readings: Mapping[StationOrClosing, Decimal], place: StationOrClosing, known: _Knowledge
) -> float:
    """The misfit left when the reading at ``place`` may take any value."""
    # The misfit is a parabola in one reading: three points give its lowest.
    low, middle, high = (
        _misfit({**readings, place: readings[place] + step}, known) for step in (-1, 0, 1)
    )
    bend, slope = (low + high) / 2 - middle, (high - low) / 2
    return max(middle - slope**2 / (4 * bend), 0.0) if bend > 0 else middle
