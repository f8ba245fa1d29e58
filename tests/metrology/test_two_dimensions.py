"""A pair of differences is judged by its ellipse, and a tolerance by its disc."""

from dataclasses import replace
from math import inf, log, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import chi2
from scipy.stats import f as fisher

from assistant.metrology.conformance import Disc, HalfDisc, region_probability
from assistant.metrology.f_distribution import ellipse_factor, f_cdf, f_quantile
from assistant.metrology.judgement import inside_ellipse, judge, tolerance_region
from assistant.metrology.problem import FrontMayBe, Noise
from assistant.metrology.solve import solve
from tests.metrology.sweeps import length, sweep

FINE = Noise(
    reading_sd=length("0.1"), reading_dof=inf, relock_sd=length("0"), resolution=length("0.1")
)


@pytest.mark.parametrize("probability", [0.5, 0.95, 0.99, 0.999])
@pytest.mark.parametrize("dof", [1, 2, 3, 5, 9, 2.5])
@pytest.mark.parametrize("below", [1, 2.7, 4, 30, 1e6])
def test_f_against_scipy(probability: float, dof: float, below: float) -> None:
    expected = float(fisher.ppf(probability, dof, below))
    assert f_quantile(probability, dof, below) == pytest.approx(expected, rel=1e-6)
    assert f_cdf(expected, dof, below) == pytest.approx(probability, abs=1e-9)


@pytest.mark.parametrize("dof", [1, 3, 9])
def test_f_of_many_below_is_chi_square(dof: float) -> None:
    expected = float(chi2.ppf(0.99, dof))
    assert f_quantile(0.99, dof, inf) * dof == pytest.approx(expected, rel=1e-5)


def test_f_refuses_what_is_no_probability() -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        f_quantile(1.0, 2, 3)
    with pytest.raises(ValueError, match="above zero"):
        f_cdf(1.0, 0, 3)


@pytest.mark.parametrize("dof", [2, 3, 5, 10, inf])
def test_a_level_table_is_called_tilted_in_five_cases_of_a_hundred(dof: float) -> None:
    """Seeded: two independent differences, their scatter known from `dof` degrees of freedom."""
    random = np.random.default_rng(3)
    count = 4000
    seen = random.normal(size=(count, 2))
    squares = np.ones(count) if dof == inf else random.chisquare(dof, count) / dof
    outside = sum(
        not inside_ellipse((float(a), float(b)), ((float(v), 0.0), (0.0, float(v))), dof)
        for (a, b), v in zip(seen, squares, strict=True)
    )
    assert outside / count == pytest.approx(0.05, abs=0.01)


def test_the_ellipse_follows_the_covariance() -> None:
    """Seeded draws of a slanting pair: the same share is outside whatever the slant."""
    random = np.random.default_rng(4)
    covariance = ((2.0, 1.2), (1.2, 1.0))
    seen = random.multivariate_normal([0, 0], covariance, 4000)
    outside = sum(not inside_ellipse((float(a), float(b)), covariance, inf) for a, b in seen)
    assert outside / 4000 == pytest.approx(0.05, abs=0.01)
    assert inside_ellipse((1.9, 1.2), covariance, inf)
    assert not inside_ellipse((1.9, -1.2), covariance, inf)


@pytest.mark.parametrize("true", [0.0, 0.3, 0.6, 1.0, 2.0, 5.0])
def test_the_stated_interval_holds_the_tilt(true: float) -> None:
    """Seeded sweeps of a dial that is read finely: the true tilt lies within tilt +- U.

    A magnitude never reads below zero: with the k of one difference a level table's would lie
    outside in one sweep of seven.
    """
    random = np.random.default_rng(int(10 * true))
    sd, count, held = 0.4, 1500, 0
    noise = Noise(
        reading_sd=length("0.4"), reading_dof=inf, relock_sd=length("0"),
        resolution=length("0.01"),
    )  # fmt: skip
    base = solve(sweep("0 0 0 0", noise=noise, diameter=None))
    plane = np.array([-0.3, 0.4, 0.3, -0.4]) * true
    for readings in plane + random.normal(0, sd, (count, 4)):
        front, right = readings[2] - readings[0], readings[1] - readings[3]
        found = float(np.hypot(front, right))
        judged = judge(float(front), float(right), base.budget, None)
        answer = replace(base, tilt=found, judgement=judged)
        held += abs(found - true) <= answer.expanded_uncertainty
    assert 0.93 <= held / count <= 0.985


def test_half_a_disc_against_the_whole() -> None:
    """Front 3.6 high and right 3.6 high is 5.1 of tilt: beyond four, whichever side is allowed."""
    square = sweep("0 3.6 3.6 0", noise=FINE)
    answer = solve(square)
    assert answer.tilt == pytest.approx(3.6 * sqrt(2))
    sides: tuple[FrontMayBe, ...] = ("either", "high", "low")
    for side in sides:
        region = tolerance_region(4, side)
        verdict = judge(3.6, 3.6, answer.budget, region).verdict
        assert verdict == "beyond", side


@given(st.floats(-6, 6), st.floats(-6, 6), st.floats(0.2, 3), st.sampled_from([2.0, 9.0, inf]))
def test_the_two_halves_make_the_disc(front: float, right: float, u: float, dof: float) -> None:
    covariance = ((u * u, 0.3 * u * u), (0.3 * u * u, u * u))
    whole = region_probability(Disc(4), front, right, covariance, dof)
    halves = [
        region_probability(HalfDisc(4, "high"), front, right, covariance, dof),
        region_probability(HalfDisc(4, "low"), front, right, covariance, dof),
    ]
    assert sum(halves) == pytest.approx(whole, abs=2e-3)
    assert max(halves) <= whole + 1e-12


def test_ellipse_factor_of_many_is_that_of_the_rayleigh_distribution() -> None:
    """P(r > k sigma) = exp(-k^2 / 2)."""
    assert ellipse_factor(inf) == pytest.approx(sqrt(-2 * log(0.05)))
