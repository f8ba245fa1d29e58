"""Why a job does not come to an end: the likely cause by its pattern.

Belongs here: naming causes from what repeated, and from what was read otherwise than forecast.
What is said of them, and what to do, is the dialogue's. Lengths are floats in one unit.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import exp, hypot, log, pi, sqrt
from statistics import NormalDist
from typing import Final, Literal

Cause = Literal["drift", "slip", "loose"]
"""drift: the dial wanders evenly, warm up and tighten its clamp. slip: it jumped once. loose:
clamp or bar give, differently each time."""


def of_returns(returns: Sequence[float], limit: float) -> Cause | None:
    """The cause of sweeps that do not return to their first reading; None while they do.

    ``returns``: drift of each sweep in order, ``limit``: what a good one stays within. Two of one
    sign and about one size are a drift, both signs a clamp that gives, and a single one among good
    ones a slip.
    """
    beyond = [value for value in returns if abs(value) > limit]
    if not beyond:
        return None
    if len(beyond) == 1:
        return "slip" if len(returns) > 1 else "drift"
    same_way = min(beyond) > 0 or max(beyond) < 0
    sizes = [abs(value) for value in beyond]
    return "drift" if same_way and max(sizes) <= 3 * min(sizes) else "loose"


def likely_drift(returns: Sequence[float], u: float, usual: float) -> float:
    """By how much a dial drifts in a sweep, by the returns of several of them.

    Each is known to ``u``; dials drift by ``usual`` or so, either way. The mean of the posterior of
    normal readings with a normal prior: two returns that chance made larger are no large drift.
    """
    return sum(returns) / (len(returns) + (u / usual) ** 2)


@dataclass(frozen=True, slots=True)
class Image:
    """Another way that it may have come about: by how much it would be missed then, and how often
    that happens, 0 to 1."""

    name: str
    off: tuple[float, ...]
    prior: float


@dataclass(frozen=True, slots=True)
class Miss:
    """What was read after something had been locked, less what was forecast.

    ``off``: by how much, for everything that was read then. ``u``: its standard uncertainty from
    reading the dial; ``forecast``: that of what it was to be, if the lock landed twice exactly
    alike. ``lock``: how far it goes for one standard deviation by which the lock scatters;
    ``leans``: how far a correction of the other axis usually takes it along.
    ``images``: ``off`` as it would be had sides changed places, or had nothing been moved.
    """

    off: tuple[float, ...]
    u: tuple[float, ...]
    forecast: tuple[float, ...]
    lock: tuple[float, ...]
    leans: tuple[float, ...]
    images: tuple[Image, ...] = ()


@dataclass(frozen=True, slots=True)
class Odds:
    """Probabilities: that something is ``loose``; of each of the last miss's ``images``."""

    loose: float
    images: Mapping[str, float]


# Believed before anything is seen, all judgement: one job in twenty has a clamp that gives, one
# sweep in a hundred is read with sides exchanged, one correction in thirty does nothing and one in
# a hundred goes the wrong way, and before one sweep in a hundred something else had happened that
# nobody told.
LOOSE: Final = 0.05
EXCHANGED: Final = 0.01
STILL: Final = 0.03
WRONG_WAY: Final = 0.01
_OTHERWISE: Final = 0.01

LOOKED_AT: Final = 0.25
"""Probability that a correction did nothing from which its clamping is looked at: that costs a
sweep, and to learn from a shim that did nothing two corrections and more."""

# Times the lock's usual scatter by which a clamp that gives lets things land: judgement.
_GIVES: Final = (4.0, 6.0, 8.0, 11.0, 16.0)

# Most tables lean with the other axis as they usually do, one in ten by three times as much.
_LEANS: Final = ((0.9, 1.0), (0.1, 3.0))


def _nodes(count: int) -> list[float]:
    """Values of a standard normal, each as likely as the others."""
    return [NormalDist().inv_cdf((k + 0.5) / count) for k in range(count)]


_FIVE: Final = _nodes(5)
_THREE: Final = _nodes(3)


_MANY: Final = _nodes(25)


def did_nothing(effect: float, expected: float, spread: float, u: float) -> float:
    """Probability that a correction did nothing, rather than less than was expected of it.

    ``effect`` is what was read of it, known to ``u``; ``expected`` above zero, with a relative
    standard deviation of ``spread``: what works at all never works backwards, so it is log-normal.
    A thin shim that hardly shows is more likely one of little effect than none.
    """
    wide = sqrt(log(1 + spread**2))
    works = [expected * exp(wide * z - wide**2 / 2) for z in _MANY]
    working = sum(_density([effect - each], [u]) for each in works) / len(works)
    still = _density([effect], [u])
    return STILL * still / (STILL * still + (1 - STILL) * working)


@dataclass(frozen=True, slots=True)
class _World:
    """One way that all misses of a job may have come about, and how often that is."""

    prior: float
    gives: bool
    lock: float
    noise: float
    leans: float


def likely_causes(
    misses: Sequence[Miss], relock: float, relock_dof: float, noise_dof: float
) -> Odds:
    """What most likely made the misses of a job, the last of them above all.

    ``relock``: scatter of a difference from one locking to the next, as known to ``relock_dof``
    degrees of freedom; ``noise_dof``: those of every ``u``. By Bayes' rule with normal
    likelihoods: the scatter of the lock is that of a sound one, or that of one that gives, and is
    the same for all misses; both it and the noise are averaged over what they may be, log-normal
    with the relative standard deviation of a scatter, 1 / sqrt(2 nu) (GUM E.4.3, G.4.2). Whatever
    a loose clamp explains needs no exchange, and the other way round.
    """
    if not misses:
        return Odds(LOOSE, {})
    worlds = []
    for world in _worlds(relock, relock_dof, noise_dof):
        before = log(world.prior) + sum(
            log(sum(_explained(miss, world, relock).values())) for miss in misses[:-1]
        )
        worlds.append((before, world.gives, _explained(misses[-1], world, relock)))
    # Against the likeliest, so that many misses do not vanish all together.
    most = max(before for before, *_ in worlds)
    weighed = [(exp(before - most), gives, causes) for before, gives, causes in worlds]
    total = sum(weight * sum(causes.values()) for weight, _, causes in weighed)
    loose = sum(weight * sum(causes.values()) for weight, gives, causes in weighed if gives)
    images = {
        image.name: sum(weight * causes[image.name] for weight, _, causes in weighed) / total
        for image in misses[-1].images
    }
    return Odds(loose / total, images)


def _worlds(relock: float, relock_dof: float, noise_dof: float) -> Iterator[_World]:
    sound = [relock * exp(z / sqrt(2 * relock_dof)) for z in _FIVE]
    giving = [relock * times for times in _GIVES]
    for gives, prior, locks in ((False, 1 - LOOSE, sound), (True, LOOSE, giving)):
        for lock in locks:
            for z in _THREE:
                for share, leans in _LEANS:
                    part = prior * share / (len(locks) * len(_THREE))
                    yield _World(part, gives, lock, exp(z / sqrt(2 * noise_dof)), leans)


def _explained(miss: Miss, world: _World, relock: float) -> dict[str, float]:
    """Likelihood of a miss by each way that it may have come about, times how often that is."""
    parts = zip(miss.u, miss.forecast, miss.lock, miss.leans, strict=True)
    sds = [
        hypot(world.noise * u, forecast, lock * world.lock, leans * world.leans)
        for u, forecast, lock, leans in parts
    ]
    wide = [hypot(sd, _GIVES[-1] * relock) for sd in sds]
    images = {image.name: image.prior * _density(image.off, sds) for image in miss.images}
    rest = 1 - _OTHERWISE - sum(image.prior for image in miss.images)
    return {
        "": rest * _density(miss.off, sds),
        "otherwise": _OTHERWISE * _density(miss.off, wide),
        **images,
    }


def _density(off: Sequence[float], sds: Sequence[float]) -> float:
    """Of independent normals about zero; never quite zero."""
    exponent = sum(-((x / sd) ** 2) / 2 - log(sd) for x, sd in zip(off, sds, strict=True))
    return exp(max(exponent - len(sds) * log(2 * pi) / 2, -600.0))
