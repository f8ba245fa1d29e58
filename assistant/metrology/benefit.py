"""What to do next, by what it should bring: leave it, correct, measure more, or say that no more
can be said.

Belongs here: the choice among options that others worked out. What a shim or a tap should leave is
in ``shims`` and ``coupling``. Lengths are floats in one unit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot, inf, sqrt
from typing import Final, Literal

from assistant.metrology.combining import Pair
from assistant.metrology.conformance import (
    CONFORMANCE,
    Covariance,
    Region,
    region_probability,
)
from assistant.metrology.f_distribution import ellipse_factor
from assistant.metrology.t_distribution import t_cdf

SWEEP_COST: Final = 0.12
"""What a sweep is worth, in squares of the tolerance: a correction and the sweep after it have to
take off more than half the tolerance from a table that stands at it (judgement)."""

LIKELY_BETTER: Final = 0.9
"""A correction is begun only if it most likely makes the table better: nine times in ten."""

CLEARLY_SURER: Final = 0.85
"""Measuring that takes less than this off the interval is not a remedy (judgement)."""

SURE: Final = 0.98
"""A table that is proven, but less surely than this, is measured once more where that makes it
clearly surer: of many looks, one in twenty proves too much, and the first that does would end the
job (judgement)."""

LIKELY_GOOD: Final = 0.5
"""From this probability on a table is rather good than bad."""

GOOD_ALREADY: Final = 0.05
"""A table is corrected only if it is at most this likely to be within half the tolerance."""

GOOD_BY_A_GUESS: Final = 0.01
FEW_DOF: Final = 5.0
"""The same of a scatter known to fewer degrees of freedom than this, where measuring first would
tell: on a rough table one sweep shows five thou of tilt that is not there."""


@dataclass(frozen=True, slots=True)
class Standing:
    """How the table stands: both differences, their covariance and its degrees of freedom."""

    pair: Pair
    covariance: Covariance
    dof: float = inf


@dataclass(frozen=True, slots=True)
class Option:
    """Something that can be done, and how the table should stand after it.

    ``name``: the caller's own. ``corrects``: it moves the table; if not, it only measures, and
    ``after.pair`` is what is known now. ``sweeps``: what it costs, with the sweep that checks it.
    ``at_best``: how well measuring on from there could come to know it; None: no better.
    """

    name: str
    after: Standing
    corrects: bool
    sweeps: float = 1.0
    at_best: Standing | None = None


Reason = Literal["proven", "helps", "would_tell", "good_enough", "cannot_help", "cannot_tell"]
"""proven: within the tolerance. helps: the correction should pay. would_tell: measuring should
settle it, or make a proof surer. good_enough: most likely within, though not proven, and nothing
pays. cannot_help: beyond, and no option makes it better. cannot_tell: too uncertain either way."""


@dataclass(frozen=True, slots=True)
class Choice:
    """The option to take, None for leaving the table; why, and the tilt that it should leave.

    ``left_u``: its standard uncertainty, the larger of both axes. ``gain``: squares of the
    tolerance that are expected of it. ``probability``: that the table is within, as it stands now.
    """

    option: Option | None
    reason: Reason
    left: float
    left_u: float
    gain: float
    probability: float


def choose(now: Standing, region: Region, options: Sequence[Option]) -> Choice:
    """The option with the largest expected gain; leaving the table where none has any.

    A table that is surely proven within is left (``SURE``). A correction counts with the drop of
    the expected square of the tilt, that is of bias and variance both, in squares of the tolerance,
    less what its sweeps cost. It is not begun on a table that may well be good already
    (``GOOD_ALREADY``, ``GOOD_BY_A_GUESS``), nor where chance may have made most of what was read
    (``betters``). So the axis that is out more comes first, and a response that is hardly known
    holds back by itself.
    Measuring counts where it should prove the table within, or make a correction worth beginning;
    the cheapest that does.
    """
    probability = _within(now, region)
    measuring = [option for option in options if not option.corrects]
    # What makes it clearly surer is worth its while before giving up or believing a near proof.
    surer = [one for one in measuring if _width(one.after) <= CLEARLY_SURER * _width(now)]
    if probability >= CONFORMANCE:
        if probability >= SURE or not surer:
            return _leave(now, "proven", probability)
        return _take(min(surer, key=_cost), "would_tell", 0.0, probability)
    half = replace(region, limit=region.limit / 2)
    gains = [(gain_of(now, option, region), option) for option in options if option.corrects]
    paying = [each for each in gains if each[0] > 0]
    corrections = [each for each in paying if betters(now, each[1]) >= LIKELY_BETTER]
    good_already = _within(now, half)
    gain, best = max(corrections, key=lambda each: each[0], default=(0.0, None))
    if best is not None and good_already <= GOOD_BY_A_GUESS:
        return _take(best, "helps", gain, probability)
    # One that chance may have made look good now is clearer once more is measured.
    telling = [one for one in measuring if _tells(now, one, region, half, bool(paying))]
    a_guess = bool(telling) and now.dof < FEW_DOF
    if best is not None and good_already <= GOOD_ALREADY and not a_guess:
        return _take(best, "helps", gain, probability)
    telling = telling or (surer if probability >= LIKELY_GOOD else [])
    if telling:
        return _take(min(telling, key=_cost), "would_tell", 0.0, probability)
    return _leave(now, _unproven(probability), probability)


def _unproven(probability: float) -> Reason:
    if probability >= LIKELY_GOOD:
        return "good_enough"
    return "cannot_help" if probability <= 1 - CONFORMANCE else "cannot_tell"


def betters(now: Standing, option: Option) -> float:
    """Probability that a correction brings the table nearer to level than it is.

    It does where the true differences lie more than half way along what is taken off: for one axis
    and what is read taken off altogether, where the truth is more than half of what was read.
    """
    off = (now.pair[0] - option.after.pair[0], now.pair[1] - option.after.pair[1])
    (a, b), (_, d) = now.covariance
    spread = sqrt(off[0] ** 2 * a + 2 * off[0] * off[1] * b + off[1] ** 2 * d)
    along = off[0] * now.pair[0] + off[1] * now.pair[1] - (off[0] ** 2 + off[1] ** 2) / 2
    return t_cdf(along / spread, now.dof) if spread else float(along > 0)


def gain_of(now: Standing, option: Option, region: Region) -> float:
    """Expected drop of the squared tilt in squares of the tolerance, less the cost of sweeps."""
    drop = _square(now) - _square(option.after)
    return drop / region.limit**2 - SWEEP_COST * option.sweeps


def _tells(now: Standing, option: Option, region: Region, half: Region, correctable: bool) -> bool:
    """Whether measuring so, and on from there, should end the doubt.

    It is hoped that the tilt comes out less by one standard deviation of what measuring should
    move it: the root of the variance that it takes off.
    """
    then = option.at_best or option.after
    front, right = then.pair
    tilt = hypot(front, right)
    moves = sqrt(max(_u(now) ** 2 - _u(then) ** 2, 0.0))
    share = max(0.0, 1 - moves / tilt) if tilt else 1.0
    hoped = replace(then, pair=(share * front, share * right))
    if _within(hoped, region) >= CONFORMANCE:
        return True
    return correctable and _within(then, half) <= GOOD_ALREADY


def _width(standing: Standing) -> float:
    """The longer half axis of the interval, by its degrees of freedom."""
    return ellipse_factor(standing.dof) * _u(standing)


def _cost(option: Option) -> float:
    return option.sweeps


def _within(standing: Standing, region: Region) -> float:
    return region_probability(region, *standing.pair, standing.covariance, standing.dof)


def _square(standing: Standing) -> float:
    (a, _), (_, d) = standing.covariance
    return standing.pair[0] ** 2 + standing.pair[1] ** 2 + a + d


def _leave(now: Standing, reason: Reason, probability: float) -> Choice:
    return Choice(None, reason, hypot(*now.pair), _u(now), 0.0, probability)


def _take(option: Option, reason: Reason, gain: float, probability: float) -> Choice:
    after = option.after
    return Choice(option, reason, hypot(*after.pair), _u(after), gain, probability)


def _u(standing: Standing) -> float:
    return sqrt(max(standing.covariance[0][0], standing.covariance[1][1]))
