"""The rules of the GUM (JCGM 100:2008) on its own examples; values from memory, recomputed."""

from math import inf, sqrt

import pytest
from uncertainties import ufloat

from assistant.metrology.t_distribution import coverage_factor
from assistant.metrology.uncertainty import (
    Budget,
    Component,
    combined,
    dof_of_guess,
    effective_dof,
    evaluate_sample,
    pooled,
    rectangular,
)

TEMPERATURES = [
    96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07, 100.33, 100.42, 100.68,
    100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
]  # fmt: skip


def test_twenty_temperatures() -> None:
    """GUM 4.4.3: mean 100.145, s 1.489, s of the mean 0.333."""
    sample = evaluate_sample(TEMPERATURES)
    assert sample.mean == pytest.approx(100.145, abs=5e-4)
    assert sample.sd == pytest.approx(1.489, abs=5e-4)
    assert sample.sd_of_mean == pytest.approx(0.333, abs=5e-4)
    assert sample.dof == 19


def test_limits() -> None:
    """GUM 4.4.5: limits 96 and 104, rectangular u 2.3."""
    assert rectangular(4) == pytest.approx(2.3, abs=0.05)


def test_relative_components() -> None:
    """GUM G.4.1: 0.25, 0.57, 0.82 % of 10, 5, 15 readings: u 1.03 %, nu 19.0, t 2.09, U 2.2 %."""
    budget = Budget(
        (Component("surface", 0.25, 9), Component("relock", 0.57, 4), Component("sweeps", 0.82, 14))
    )
    assert budget.u == pytest.approx(1.03, abs=0.005)
    assert budget.dof == pytest.approx(19.0, abs=0.05)
    assert budget.factor() == pytest.approx(2.09, abs=0.005)
    assert budget.expanded() == pytest.approx(2.2, abs=0.05)
    assert budget.largest == budget.components[2]
    assert sum(budget.share(component) for component in budget.components) == pytest.approx(1)


def test_end_gauge() -> None:
    """GUM H.1: 25 (18), 9.7 (25.6), 2.9 (50), 16.6 (2) nm: u 32, nu 16 after truncation of 16.7,
    t 2.92, U 93 nm at 99 %."""
    parts = [(25.0, 18.0), (9.7, 25.6), (2.9, 50.0), (16.6, 2.0)]
    u, dof = combined([u for u, _ in parts]), effective_dof(parts)
    assert u == pytest.approx(32, abs=0.5)
    assert dof == pytest.approx(16.7, abs=0.1)
    assert int(dof) == 16
    # The source truncates the degrees of freedom before it looks up t.
    assert coverage_factor(int(dof), 0.99) * u == pytest.approx(93, abs=1)
    assert combined([5.8, 3.9, 6.7]) == pytest.approx(9.7, abs=0.05)
    assert effective_dof([(5.8, 24), (3.9, 5), (6.7, 8)]) == pytest.approx(25.6, abs=1.5)


def test_guess_known_to_half_is_worth_two() -> None:
    """GUM G.4.2: relative uncertainty of 25 % is worth 8 degrees of freedom, 50 % two."""
    assert dof_of_guess(0.25) == 8
    assert dof_of_guess(0.5) == 2


def test_combination_against_the_uncertainties_library() -> None:
    total = ufloat(0, 1.2) + ufloat(0, 0.7) - ufloat(0, 2.1)
    assert combined([1.2, 0.7, 2.1]) == pytest.approx(total.s)


def test_pooling() -> None:
    assert pooled([(1, 2), (2, 1)]) == pytest.approx((sqrt(2), 3))
    assert pooled([(1, inf), (9, 3)]) == (1, inf)


def test_no_sampled_part_has_infinite_degrees_of_freedom() -> None:
    assert Budget((Component("resolution", 0.3),)).dof == inf
    assert Budget((Component("surface", 0.0, 2), Component("resolution", 0.3))).dof == inf


def test_one_reading_shows_no_scatter() -> None:
    with pytest.raises(ValueError, match="two readings"):
        evaluate_sample([1.0])


def test_scaling_keeps_sources() -> None:
    scaled = Budget((Component("surface", 0.5, 2, "assumed"),)).scaled(-2)
    assert scaled.components == (Component("surface", 1.0, 2, "assumed"),)
