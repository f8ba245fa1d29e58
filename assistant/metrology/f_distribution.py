"""Fisher's F: distribution and quantile, for tests of scatter and for ellipses.

Belongs here: the numbers only. What is tested stands beside its own subject.
"""

from __future__ import annotations

from functools import lru_cache
from math import expm1, isinf, log1p, sqrt
from typing import Final

from assistant.metrology.t_distribution import incomplete_beta

# An infinite number of degrees of freedom is taken as this many: six digits of any quantile.
_MANY: Final = 1e7


def f_cdf(value: float, dof: float, dof_below: float) -> float:
    """Probability that F with ``dof`` over ``dof_below`` degrees of freedom is below ``value``.

    Both are above zero and may be infinite. P(F < x) = I(d1 x / (d1 x + d2); d1/2, d2/2),
    Abramowitz and Stegun 26.6.2 (from memory; checked against scipy).
    """
    if dof <= 0 or dof_below <= 0:
        raise ValueError(f"degrees of freedom are {dof} and {dof_below}; both must be above zero")
    if value <= 0:
        return 0.0
    above, below = min(dof, _MANY), min(dof_below, _MANY)
    whole = above * value + below
    return incomplete_beta(above * value / whole, below / whole, above / 2, below / 2)


@lru_cache(maxsize=512)
def f_quantile(probability: float, dof: float, dof_below: float) -> float:
    """The value that F stays below with this probability (between 0 and 1).

    For two degrees of freedom above it is closed: d2/2 ((1 - p)^(-2/d2) - 1), and -ln(1 - p) in
    the limit of many below.

    >>> round(f_quantile(0.95, 2, 10), 2)
    4.1
    """
    if not 0 < probability < 1:
        raise ValueError(f"probability is {probability}; it must lie between 0 and 1")
    if dof == 2:
        tail = -log1p(-probability)
        return tail if isinf(dof_below) else dof_below / 2 * expm1(2 * tail / dof_below)
    low, high = 0.0, 1.0
    while f_cdf(high, dof, dof_below) < probability:
        low, high = high, 2 * high
    for _ in range(100):
        middle = (low + high) / 2
        if f_cdf(middle, dof, dof_below) < probability:
            low = middle
        else:
            high = middle
        if high - low <= 1e-12 * high:
            break
    return (low + high) / 2


def ellipse_factor(dof: float, probability: float = 0.95) -> float:
    """k of the ellipse that holds a pair with this probability: sqrt(2 F(2, nu)).

    2.4477 at 95 % for many degrees of freedom, JCGM 102:2011; with few of them the pair is one of
    Hotelling's T-squared, whose two degrees of freedom above share the scatter's ``dof`` below.
    """
    return sqrt(2 * f_quantile(probability, 2.0, dof))
