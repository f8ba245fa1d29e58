"""Shims: response, learning, leaves, place."""

from decimal import Decimal
from itertools import combinations
from math import hypot, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.metrology.leaves import best_stack
from assistant.metrology.response import Response, TrialStep, learn_response, prior_response
from assistant.metrology.shims import fitted_now, plan_shim, steps_of
from tests.metrology.sweeps import trial

SURE = Response(2.0, 0.01, 3)
VAGUE = Response(2.0, 1e6)


def decimals(text: str) -> tuple[Decimal, ...]:
    return tuple(Decimal(part) for part in text.split())


def test_similar_triangles() -> None:
    """shim = length * misfit / diameter: 30 in, 0.012 over 5 in gives 0.072.

    A machine installation manual's worked example, by similar triangles.
    """
    response = prior_response(5 / 30)
    plan = plan_shim(0.012, response)
    assert plan.total == pytest.approx(0.072)


def test_influence_coefficient() -> None:
    """Twelve wrong, a trial of five leaves seven: one per unit, twelve in all, seven more.

    The scalar form of trial-weight balancing (derived).
    """
    response = learn_response(VAGUE, [TrialStep(0, 12, 5, 7)], 0.1)
    assert response.value == pytest.approx(1)
    plan = plan_shim(7, response, fitted=Decimal(5))
    assert (plan.total, plan.add) == pytest.approx((12, 7))


def test_prior_is_wide_and_wider_without_a_span() -> None:
    known, unknown = prior_response(10 / 3), prior_response(None)
    assert known.value == pytest.approx(10 / 3)
    assert known.uncertainty / known.value < unknown.uncertainty / unknown.value


def test_one_thou_in_three_inches_over_ten() -> None:
    """1 thou of shim, span 3 in, sweep 10 in: 3.3 thou (derived)."""
    plan = plan_shim(10, prior_response(10 / 3), decimals("1"))
    assert plan.step_moves == pytest.approx(3.33, abs=0.01)


def test_one_step_and_prior_combine_by_their_weights() -> None:
    """Inverse-variance mean, worked by hand: u of a trial of 2 with u 0.5 is sqrt2*0.5/2."""
    prior, step = Response(3, 1), TrialStep(0, 8, 2, 4)
    u_step = sqrt(2) * 0.5 / 2
    weight_prior, weight_step = 1, 1 / u_step**2
    learned = learn_response(prior, [step], 0.5)
    expected = (3 * weight_prior + 2 * weight_step) / (weight_prior + weight_step)
    assert learned.value == pytest.approx(expected)
    assert learned.uncertainty == pytest.approx(1 / sqrt(weight_prior + weight_step))
    assert learned.trials == 1


def test_steps_that_share_a_reading_are_not_independent() -> None:
    """0 -> 2 -> 4 in a row teaches as much as three readings on a line: slope u = u/sqrt(8).

    sum (x - mean)^2 = 8 for x = 0, 2, 4; two separate steps would give u/sqrt(2+2).
    """
    row = learn_response(VAGUE, [TrialStep(0, 8, 2, 4), TrialStep(2, 4, 4, 0)], 1)
    apart = learn_response(VAGUE, [TrialStep(0, 8, 2, 4), TrialStep(0, 8.5, 2, 4.5)], 1)
    assert row.uncertainty == pytest.approx(1 / sqrt(8))
    assert apart.uncertainty == pytest.approx(1 / 2)


def test_nothing_changed_teaches_nothing() -> None:
    prior = Response(2, 1)
    assert learn_response(prior, [TrialStep(2, 5, 2, 5)], 1) == prior


def test_exact_readings_are_refused() -> None:
    with pytest.raises(ValueError, match="never exact"):
        learn_response(Response(2, 1), [TrialStep(0, 8, 2, 4)], 0)


@given(st.floats(0.3, 6), st.floats(0.05, 1), st.integers(0, 10_000))
def test_learning_is_unbiased_within_its_uncertainty(true: float, noise: float, seed: int) -> None:
    """The estimate from exact trials is the truth, whatever the noise it reckons with."""
    found = float(seed % 19 - 9)
    steps = [
        TrialStep(0, found, 2, found - 2 * true),
        TrialStep(2, found - 2 * true, 5, found - 5 * true),
    ]
    assert learn_response(Response(true, 1), steps, noise).value == pytest.approx(true)


@pytest.mark.parametrize(
    ("now", "fitted", "place", "total", "add"),
    [
        (6, "0", "above", 3, 3),
        (-6, "0", "below", 3, 3),
        (3, "1.5", "above", 3, 1.5),
        (-2, "3", "above", 2, -1),  # too much went in: take one out
        (-8, "3", "below", 1, 1),  # so much that the other side needs it
        (8, "-3", "above", 1, 1),
        (6, "-3", None, 0, -3),
        (0, "0", None, 0, 0),
    ],
)
def test_where_and_how_much(
    now: float, fitted: str, place: str | None, total: float, add: float
) -> None:
    plan = plan_shim(now, SURE, fitted=Decimal(fitted))
    assert plan.place == place
    assert (plan.total, plan.add) == pytest.approx((total, add))


def test_stack_beside_what_is_fitted() -> None:
    plan = plan_shim(3, SURE, decimals("1.5 2 3 4"), fitted=Decimal("1.5"))
    assert plan.leaves == decimals("3")
    assert plan.expected_left == pytest.approx(0)


def test_wrong_way_gives_no_total() -> None:
    plan = plan_shim(6, Response(-1, 0.2, 1), decimals("1 2"))
    assert (plan.place, plan.total, plan.leaves) == ("above", None, ())


def test_coarse_stock_is_said() -> None:
    plan = plan_shim(1, SURE, decimals("2 3"))
    assert plan.leaves == ()
    assert plan.too_coarse
    assert plan.step_moves == pytest.approx(4)
    assert not plan_shim(6, SURE, decimals("2 3")).too_coarse


def test_swapping_leaves_is_a_finer_step_than_adding_one() -> None:
    plan = plan_shim(2.0, SURE, decimals("3 4"), max_leaves=1, fitted=Decimal(3))
    assert plan.leaves == decimals("4")
    assert not plan.too_coarse


def test_tie_leaves_the_front_high() -> None:
    assert plan_shim(5, SURE, decimals("2 3")).leaves == decimals("2")
    assert plan_shim(-5, SURE, decimals("2 3")).leaves == decimals("3")


@pytest.mark.parametrize(
    ("target", "stock", "most", "stack"),
    [
        ("3", "1.5 1.5 3", 3, "3"),  # ties to fewer leaves
        ("3", "1.5 1.5", 3, "1.5 1.5"),
        ("3", "1.5", 3, "1.5"),  # one leaf is used once
        ("6.4", "1.5 2 3 4", 3, "1.5 2 3"),
        ("6.4", "1.5 2 3 4", 2, "2 4"),
        ("0.5", "1.5 2", 3, ""),
        ("100", "1.5 2 3 4", 3, "2 3 4"),
        ("3", "", 3, ""),
    ],
)
def test_stacks(target: str, stock: str, most: int, stack: str) -> None:
    assert best_stack(Decimal(target), decimals(stock), most) == decimals(stack)


@given(
    st.decimals(0, 30, places=1),
    st.lists(st.decimals("0.5", 12, places=1), max_size=7),
    st.integers(1, 4),
)
def test_no_stack_is_nearer(target: Decimal, stock: list[Decimal], most: int) -> None:
    """Every combination tried one by one."""
    found = best_stack(target, stock, most)
    best = min(
        (abs(sum(combination, Decimal(0)) - target), size)
        for size in range(most + 1)
        for combination in combinations(stock, size)
    )
    assert (abs(sum(found, Decimal(0)) - target), len(found)) == best
    for leaf in found:
        assert found.count(leaf) <= stock.count(leaf)


def test_large_stock_is_quick() -> None:
    """The inch series of 26 leaves, five of them: sums stay few although stacks are many."""
    stock = (Decimal("1.5"), *(Decimal(n) for n in range(2, 27)))
    assert sum(best_stack(Decimal("99.5"), stock, 5), Decimal(0)) == Decimal("99.5")


def test_trials_in_a_row_continue_from_each_other() -> None:
    steps = steps_of((trial("1.5", "6", "3.5"), trial("3", "3.5", "1")), "thou")
    assert [(s.shim_before, s.shim_after) for s in steps] == [
        (Decimal(0), Decimal("1.5")), (Decimal("1.5"), Decimal(3)),
    ]  # fmt: skip


def test_trials_that_start_afresh_start_from_no_shim() -> None:
    steps = steps_of((trial("1.5", "6", "3.5"), trial("3", "6", "1")), "thou")
    assert steps[1].shim_before == 0


def test_base_of_a_trial_is_believed() -> None:
    steps = steps_of((trial("3", "6", "1", base="1"),), "thou")
    assert steps[0].shim_before == 1


def test_front_low_means_the_trial_was_below() -> None:
    assert steps_of((trial("2", "-6", "-2"),), "thou")[0].shim_after == -2


def test_overshoot_stays_on_the_side_of_its_shim() -> None:
    steps = steps_of((trial("5", "6", "-4"), trial("3", "-4", "0")), "thou")
    assert [s.shim_after for s in steps] == [5, 3]


@pytest.mark.parametrize(("now", "fitted"), [("7", "5"), ("6.2", "5"), ("12", "0"), ("-9", "0")])
def test_what_was_in_when_the_table_was_swept(now: str, fitted: str) -> None:
    steps = steps_of((trial("5", "12", "7"),), "thou")
    assert fitted_now(steps, Decimal(now)) == Decimal(fitted)


def test_response_of_a_step_has_the_uncertainty_of_two_readings() -> None:
    response = learn_response(VAGUE, [TrialStep(0, 6, 1.5, 3)], 0.75)
    assert response.uncertainty == pytest.approx(hypot(0.75, 0.75) / 1.5)
