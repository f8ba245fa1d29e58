"""Student's t against scipy and against printed tables."""

from math import inf, nextafter

import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from assistant.metrology.t_distribution import coverage_factor, t_cdf, t_quantile


@pytest.mark.parametrize("dof", [0.5, 1, 1.7, 2, 3, 5, 16.7, 30, 100, 1e3, 1e5, 9e6])
@pytest.mark.parametrize("probability", [0.01, 0.4, 0.5, 0.51, 0.9, 0.975, 0.995, 0.9999])
def test_quantile_against_scipy(dof: float, probability: float) -> None:
    expected = scipy.stats.t.ppf(probability, dof)
    assert t_quantile(probability, dof) == pytest.approx(expected, rel=1e-6, abs=1e-9)


@given(st.floats(0.001, 0.9999), st.floats(10_001, 1e9))
def test_quantile_of_many_degrees_of_freedom_does_not_jump(probability: float, dof: float) -> None:
    """Against scipy to the last digits, and alike where only the last digit of the dof differs."""
    expected = scipy.stats.t.ppf(probability, dof)
    for near in (dof, nextafter(dof, inf), nextafter(dof, 0)):
        assert t_quantile(probability, near) == pytest.approx(expected, rel=1e-11, abs=1e-13)
    assert t_quantile(probability, inf) == pytest.approx(scipy.stats.norm.ppf(probability))


@given(st.floats(-50, 50), st.floats(0.3, 1e6))
def test_distribution_against_scipy(value: float, dof: float) -> None:
    assert t_cdf(value, dof) == pytest.approx(scipy.stats.t.cdf(value, dof), abs=1e-9)


@pytest.mark.parametrize(
    ("dof", "probability", "printed"),
    [
        (1, 0.95, 12.71), (2, 0.95, 4.30), (3, 0.95, 3.18), (10, 0.95, 2.23), (19, 0.95, 2.09),
        (16, 0.99, 2.92), (50, 0.95, 2.01), (inf, 0.95, 1.960), (inf, 0.99, 2.576),
    ],
)  # fmt: skip
def test_coverage_factors_of_the_gum(dof: float, probability: float, printed: float) -> None:
    """JCGM 100:2008, table G.2 (from memory)."""
    assert coverage_factor(dof, probability) == pytest.approx(printed, abs=0.0051)


@given(st.floats(0.001, 0.999), st.floats(0.5, 1e5))
def test_quantile_undoes_the_distribution(probability: float, dof: float) -> None:
    assert t_cdf(t_quantile(probability, dof), dof) == pytest.approx(probability, abs=1e-9)


def test_misuse_is_named() -> None:
    with pytest.raises(ValueError, match="degrees of freedom"):
        t_cdf(0, 0)
    with pytest.raises(ValueError, match="probability"):
        t_quantile(1, 5)
