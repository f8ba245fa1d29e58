"""Tapping the table level side to side."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.metrology.tap import needed_change, plan_tap


def test_half_each_side() -> None:
    """Six thou high on the right: each side moves three. Common practice, no source."""
    assert needed_change(6) == -3
    assert needed_change(6, watch="left") == 3


@given(st.floats(-30, 30), st.floats(-0.9, 0.9))
def test_turning_about_the_pivot_levels_both_sides(difference: float, pivot: float) -> None:
    """A rigid table turned about x0: what the right and left need is one and the same turn."""
    right, left = needed_change(difference, pivot), needed_change(difference, pivot, "left")
    assert difference + right - left == pytest.approx(0, abs=1e-9)
    assert right / (1 - pivot) == pytest.approx(left / (-1 - pivot), abs=1e-9)


def test_target_is_the_reading_after_the_change() -> None:
    assert plan_tap(6, 4).dial_target == 1
    assert plan_tap(6, 4, gain=-1).dial_target == 7
    assert plan_tap(6, None).dial_target is None


def test_level_table_needs_no_minus_zero() -> None:
    assert str(needed_change(0.0)) == "0.0"
