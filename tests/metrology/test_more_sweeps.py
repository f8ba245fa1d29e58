"""What further sweeps would bring, reckoned from the mean of those there are; odd steps."""

from math import sqrt

import numpy as np
import pytest

from assistant.metrology.budget import SweepBudget
from assistant.metrology.judgement import budget_of_more
from assistant.metrology.response import Response, TrialStep
from assistant.metrology.trial_check import check_step
from assistant.metrology.uncertainty import Budget, Component

PARTS = (Component("reading", 0.6), Component("relock", 0.8), Component("indicator", 0.3))
ONE = Budget(PARTS)
SINGLE = SweepBudget(ONE, ONE, ONE, ((ONE.u**2, 0.2), (0.2, ONE.u**2)))


@pytest.mark.parametrize("relocked", [False, True])
@pytest.mark.parametrize("count", [2, 3, 7])
def test_the_mean_of_more_sweeps_has_the_scatter_of_such_means(count: int, relocked: bool) -> None:
    """Seeded sweeps: reading and lock drawn for each sweep (the lock once without relocking)."""
    draws = np.random.default_rng(5).standard_normal((3, count, 100_000))
    reading, lock = draws[0].mean(axis=0), draws[1].mean(axis=0) if relocked else draws[1, 0]
    means = 0.6 * reading + 0.8 * lock + 0.3 * draws[2, 0]
    more = budget_of_more(SINGLE, 1 / count, relocked)
    assert more.front_minus_back.u == pytest.approx(float(means.std()), rel=0.01)


@pytest.mark.parametrize("relocked", [False, True])
def test_more_sweeps_may_be_reckoned_from_the_mean_of_some(relocked: bool) -> None:
    """Seven from the mean of two are as seven from one (derived: variances go with 1/n)."""
    two = budget_of_more(SINGLE, 1 / 2, relocked)
    seven, same = budget_of_more(two, 2 / 7, relocked), budget_of_more(SINGLE, 1 / 7, relocked)
    assert seven.tilt.u == pytest.approx(same.tilt.u)
    assert np.array(seven.covariance) == pytest.approx(np.array(same.covariance))


def test_what_the_axes_share_falls_with_the_number_and_not_with_its_root() -> None:
    four = budget_of_more(SINGLE, 1 / 4, True)
    assert four.covariance[0][1] == four.covariance[1][0] == pytest.approx(0.2 / 4)
    assert four.covariance[0][0] == pytest.approx(four.front_minus_back.u**2)
    # Reading and lock are halved, what the indicator is off by is not (derived).
    assert four.front_minus_back.u == pytest.approx(sqrt(0.3**2 + 0.4**2 + 0.3**2))


@pytest.mark.parametrize(
    ("effect", "outcome"),
    [(-2.5, "wrong_way"), (-1.5, "none"), (0.0, "none"), (1.5, "none"), (2.5, "less")],
)
def test_two_standard_uncertainties_of_the_change_tell_an_effect_from_none(
    effect: float, outcome: str
) -> None:
    """Of the difference of two readings that is sqrt 2 of one; six was expected (derived)."""
    moved = effect * sqrt(2) * 0.5
    assert check_step(TrialStep(0, 10, 3, 10 - moved), Response(2, 0.2), 0.5) == outcome
