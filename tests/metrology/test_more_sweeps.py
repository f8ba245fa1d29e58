"""What further sweeps would bring, reckoned from the mean of those there are; odd steps."""

from math import sqrt

import pytest

from assistant.metrology.budget import SweepBudget
from assistant.metrology.conformance import Disc
from assistant.metrology.judgement import budget_of_more, sweeps_to_decide
from assistant.metrology.response import Response, Step
from assistant.metrology.trial_check import check_step
from assistant.metrology.uncertainty import Budget, Component

PARTS = (Component("reading", 0.6), Component("relock", 0.8), Component("indicator", 0.3))
ONE = Budget(PARTS)
SINGLE = SweepBudget(ONE, ONE, ONE, ((ONE.u**2, 0.2), (0.2, ONE.u**2)))


@pytest.mark.parametrize("relocked", [False, True])
@pytest.mark.parametrize("off", [2.2, 2.5, 2.7, 2.8, 2.9, 3.0, 3.2])
def test_the_answer_is_the_same_from_one_sweep_and_from_the_mean_of_two(
    off: float, relocked: bool
) -> None:
    """Each count that is beyond two is reached from either (derived: variances go with 1/n)."""
    region = Disc(4.0)
    needed = sweeps_to_decide((off, 0.0), SINGLE, region, 1, 8, relocked)
    two = budget_of_more(SINGLE, 1 / 2, relocked)
    from_two = sweeps_to_decide((off, 0.0), two, region, 2, 8, relocked)
    if needed is None or needed > 2:
        assert from_two == needed
    else:
        assert from_two == 3


def test_some_of_those_need_more_than_two_sweeps() -> None:
    counts = {sweeps_to_decide((x / 10, 0.0), SINGLE, Disc(4.0), 1, 8, True) for x in range(20, 33)}
    assert len(counts & {3, 4, 5, 6, 7, 8}) >= 2


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
    assert check_step(Step(0, 10, 3, 10 - moved), Response(2, 0.2), 0.5) == outcome
