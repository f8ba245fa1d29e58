"""Student's t: distribution and quantile for any degrees of freedom, whole or not.

Belongs here: the numbers only. The standard library has the normal distribution but not this one,
and a scientific library would be the heaviest thing in the installation for the sake of it.
"""

from __future__ import annotations

from functools import lru_cache
from math import exp, inf, isinf, lgamma, log, log1p, pi, sqrt
from statistics import NormalDist
from typing import Final

_NORMAL: Final = NormalDist()
# Beyond this many degrees of freedom t and normal agree to more digits than are ever shown.
_AS_NORMAL: Final = 1e7
# From here on four terms about the normal quantile are exact to the last digits, while the beta
# function loses digits with the size of its parameter.
_BY_SERIES: Final = 1e4
# Of a quantile; rounding in the distribution alone leaves nearly as much.
_EXACT: Final = 1e-13


def t_cdf(value: float, dof: float) -> float:
    """Probability that t with ``dof`` degrees of freedom (above zero, may be inf) is below
    ``value``.

    Through the regularised incomplete beta function: P(|t| > x) = I(nu / (nu + x^2); nu/2, 1/2),
    Abramowitz and Stegun 26.7.1 (from memory; checked against scipy).
    """
    if dof <= 0:
        raise ValueError(f"degrees of freedom are {dof}; they must be above zero")
    if dof > _AS_NORMAL:
        return _NORMAL.cdf(value)
    square = value * value
    both_tails = incomplete_beta(dof / (dof + square), square / (dof + square), dof / 2, 0.5)
    return 1 - both_tails / 2 if value > 0 else both_tails / 2


@lru_cache(maxsize=256)
def t_quantile(probability: float, dof: float) -> float:
    """The value that t stays below with this probability (between 0 and 1)."""
    if not 0 < probability < 1:
        raise ValueError(f"probability is {probability}; it must lie between 0 and 1")
    if probability < 0.5:
        return -t_quantile(1 - probability, dof)
    if dof > _BY_SERIES:
        return _about_normal(_NORMAL.inv_cdf(probability), dof)
    low, high = 0.0, 1.0
    while t_cdf(high, dof) < probability:
        low, high = high, 2 * high
        if isinf(high):
            return inf
    # Newton's step where it stays in the bracket, half the bracket where it does not.
    value = (low + high) / 2
    for _ in range(200):
        excess = t_cdf(value, dof) - probability
        low, high = (low, value) if excess > 0 else (value, high)
        step = excess / _density(value, dof)
        if abs(step) <= _EXACT * value:
            return value - step
        following = value - step if low < value - step < high else (low + high) / 2
        if abs(following - value) <= _EXACT * high:
            break
        value = following
    return value


def _about_normal(x: float, dof: float) -> float:
    """The quantile of t where the normal one is ``x``: Abramowitz and Stegun 26.7.5.

    From memory; checked against scipy.
    """
    terms = (
        x,
        (x**3 + x) / 4,
        (5 * x**5 + 16 * x**3 + 3 * x) / 96,
        (3 * x**7 + 19 * x**5 + 17 * x**3 - 15 * x) / 384,
    )
    return sum(term / dof**power for power, term in enumerate(terms))


def _density(value: float, dof: float) -> float:
    constant = lgamma((dof + 1) / 2) - lgamma(dof / 2) - log(dof * pi) / 2
    return exp(constant - (dof + 1) / 2 * log1p(value * value / dof))


def coverage_factor(dof: float, probability: float = 0.95) -> float:
    """k of a two-sided interval with this probability: t of (1 + p) / 2. GUM G.3.2."""
    return t_quantile((1 + probability) / 2, dof)


def incomplete_beta(x: float, one_less_x: float, a: float, b: float) -> float:
    """Regularised incomplete beta I(x; a, b) by its continued fraction.

    Both x and 1 - x are given, each exact near zero.
    """
    if x <= 0:
        return 0.0
    if one_less_x <= 0:
        return 1.0
    front = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log(one_less_x))
    # The fraction converges quickly on this side of the mean only.
    if x < (a + 1) / (a + b + 2):
        return front * _fraction(x, a, b) / a
    return 1 - front * _fraction(one_less_x, b, a) / b


def _fraction(x: float, a: float, b: float) -> float:
    """The continued fraction of the incomplete beta, evaluated forwards (Lentz's method)."""
    tiny = 1e-300
    c, d = 1.0, 1 / _off_zero(1 - (a + b) * x / (a + 1), tiny)
    result = d
    for m in range(1, _terms(a, b)):
        for step in (
            m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)),
        ):
            d = 1 / _off_zero(1 + step * d, tiny)
            c = _off_zero(1 + step / c, tiny)
            result *= c * d
        if abs(c * d - 1) < 1e-15:
            break
    return result


def _terms(a: float, b: float) -> int:
    """Terms that always suffice: the count grows with the root of the larger parameter."""
    return 200 + int(10 * sqrt(max(a, b)))


def _off_zero(value: float, tiny: float) -> float:
    return value if abs(value) > tiny else tiny
