"""Verdicts: JCGM 106 and ISO 14253-1 examples, scipy, Monte Carlo."""

from math import inf, sqrt

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import ncx2

from assistant.metrology.conformance import (
    Covariance,
    Disc,
    HalfDisc,
    Region,
    decide,
    guard_band,
    proving_limits,
    region_probability,
    scaled_tolerance,
)
from assistant.metrology.least_squares import Array
from tests.metrology.single_limits import probability_between

ROUND: Covariance = ((1.0, 0.0), (0.0, 1.0))


def test_two_limits() -> None:
    """JCGM 106:2012 7.4: 13.6, u 1.8, limits 12.5 and 16.3 (inputs by a public summary, result
    recomputed): 0.6626."""
    assert probability_between(13.6, 1.8, 12.5, 16.3) == pytest.approx(0.6626, abs=5e-5)


def test_diode() -> None:
    """JCGM 106:2012 (from memory): breakdown voltage -5.47 V, u 0.05, limit -5.40: 0.92."""
    assert probability_between(-5.47, 0.05, high=-5.40) == pytest.approx(0.92, abs=0.005)


def test_speed_limit() -> None:
    """JCGM 106:2012 (from memory): limit 100 km/h, u 2 %, proven to 99.9 % from 107 up."""
    speed = 106.6
    assert probability_between(speed, 0.02 * speed, low=100) == pytest.approx(0.999, abs=2e-4)


def test_guard_band_of_two_u() -> None:
    """JCGM 106 (derived): at the acceptance limit with w = 2 u the risk is 2.3 %, 1.645 u 5 %."""
    assert 1 - probability_between(-2, 1, high=0) == pytest.approx(0.023, abs=5e-4)
    assert guard_band(1) == pytest.approx(1.645, abs=5e-4)


def test_pass_and_fail_with_a_guard_band() -> None:
    """ISO 14253-1 rule (derived): limit 0.10, u 0.015: pass up to 0.0753, fail from 0.1247."""
    band = guard_band(0.015)
    assert 0.10 - band == pytest.approx(0.0753, abs=5e-5)
    assert 0.10 + band == pytest.approx(0.1247, abs=5e-5)
    for value, verdict in [(0.0752, "within"), (0.0754, "undecided"), (0.1246, "undecided"),
                           (0.1248, "beyond")]:  # fmt: skip
        assert decide(probability_between(value, 0.015, high=0.10)) == verdict


@pytest.mark.parametrize("tilt", [0, 1, 3.9, 4, 7])
def test_disc_against_the_noncentral_chi_square(tilt: float) -> None:
    """P(|z| < 4) for a round normal about `tilt` is a noncentral chi-square: scipy."""
    expected = ncx2.cdf(16, 2, tilt**2) if tilt else 1 - np.exp(-8)
    assert region_probability(Disc(4), tilt, 0, ROUND) == pytest.approx(expected, abs=3e-4)


def inside(region: Region, front: Array, right: Array) -> npt.NDArray[np.bool_]:
    match region:
        case Disc(limit):
            return np.hypot(front, right) <= limit
        case HalfDisc(limit, side):
            allowed = front >= 0 if side == "high" else front <= 0
            return allowed & (np.hypot(front, right) <= limit)


@pytest.mark.parametrize("region", [Disc(4), HalfDisc(4, "high"), HalfDisc(3, "low")])
@pytest.mark.parametrize("centre", [(0.0, 0.0), (1.0, 2.0), (5.0, 1.0)])
@pytest.mark.parametrize("dof", [3, inf])
def test_regions_against_monte_carlo(
    region: Region, centre: tuple[float, float], dof: float
) -> None:
    """Seeded draws of a correlated (t-)normal."""
    covariance: Covariance = ((1.5, 0.4), (0.4, 2.0))
    random = np.random.default_rng(5)
    draws = random.multivariate_normal([0, 0], covariance, 200_000)
    if dof < inf:
        draws /= np.sqrt(random.chisquare(dof, 200_000) / dof)[:, None]
    draws += centre
    expected = float(np.mean(inside(region, draws[:, 0], draws[:, 1])))
    assert region_probability(region, *centre, covariance, dof) == pytest.approx(expected, abs=4e-3)


@given(st.floats(0, 8), st.floats(0, 360), st.floats(0.2, 3), st.floats(1, 40))
def test_proving_limits_are_where_the_verdict_turns(
    tilt: float, bearing: float, u: float, dof: float
) -> None:
    covariance: Covariance = ((u * u, 0.0), (0.0, u * u))
    direction = (float(np.cos(np.radians(bearing))), float(np.sin(np.radians(bearing))))
    accept, reject = proving_limits(4, covariance, direction, dof)
    verdict = decide(
        region_probability(Disc(4), tilt * direction[0], tilt * direction[1], covariance, dof)
    )
    if accept is not None and tilt < accept - 1e-3:
        assert verdict == "within"
    if tilt > reject + 1e-3:
        assert verdict == "beyond"
    if (accept or 0) + 1e-3 < tilt < reject - 1e-3:
        assert verdict == "undecided"


def test_small_uncertainty_gives_the_guard_band_of_one_limit() -> None:
    """With u far below the limit the disc's edge is straight: the one-sided band of ISO 14253-1."""
    covariance: Covariance = ((0.015**2, 0.0), (0.0, 0.015**2))
    accept, reject = proving_limits(0.10, covariance, (1, 1))
    # The edge is still a little round: the second axis costs about u^2 / (2 limit).
    slack = 0.015**2 / 0.2 + 2e-4
    assert accept == pytest.approx(0.0753, abs=slack)
    assert reject == pytest.approx(0.1247, abs=slack)


def test_hopeless_uncertainty_proves_nothing_within() -> None:
    accept, reject = proving_limits(1, ((4.0, 0.0), (0.0, 4.0)), (0, 0))
    assert accept is None
    assert reject > 1


@pytest.mark.parametrize("u", [4.5, 40.0, 4e7])
def test_what_is_hardly_ever_within_is_beyond_from_a_level_table_on(u: float) -> None:
    """A round normal lies in a disc of one with 1 - exp(-1 / 2 u^2): below 5 % from u = 3.1 on."""
    assert proving_limits(1, ((u * u, 0.0), (0.0, u * u)), (1, 0)) == (None, 0.0)


def test_tolerance_in_proportion() -> None:
    """0.1 mm over 300 mm is 4 thou per foot (derived), with a floor where one is set."""
    assert scaled_tolerance(0.1, 300, 304.8) / 0.0254 == pytest.approx(4, abs=1e-9)
    assert scaled_tolerance(0.1, 300, 30, least=0.02) == 0.02


def test_exact_results_are_refused_by_regions() -> None:
    with pytest.raises(ValueError, match="no spread"):
        region_probability(Disc(4), 0, 0, ((0.0, 0.0), (0.0, 0.0)))
    assert sqrt(guard_band(0)) == 0
