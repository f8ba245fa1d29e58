"""What tightening does to the dial at the watched station: learnt, and allowed for the next time.

Lengths are floats in one unit, heights at the watched station.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class LockPull:
    """How far tightening moves the watched station, and the standard uncertainty of that."""

    value: float
    uncertainty: float


def learn_pull(seen: Sequence[float], usual: float, scatter: float) -> LockPull:
    """The pull of this lock, from what tightening was seen to do.

    ``usual``: standard deviation of the pull from one machine to another, about none. ``scatter``:
    that of one tightening of the same lock, with the readings before and after it. The mean of
    what was seen and of none, each weighted by its variance: the posterior of a normal mean under
    a normal prior (Gelman et al., Bayesian Data Analysis, 2.5, from memory; checked against least
    squares). Raises ``ValueError`` for a scatter that is not above zero.
    """
    if scatter <= 0:
        raise ValueError("scatter is not above zero; no lock lands twice exactly alike")
    if usual <= 0:
        return LockPull(0.0, 0.0)
    weight = 1 / usual**2 + len(seen) / scatter**2
    return LockPull(sum(seen) / scatter**2 / weight, weight**-0.5)
