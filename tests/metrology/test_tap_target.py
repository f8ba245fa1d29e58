"""Tapping the table level side to side."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.metrology.problem import Noise
from assistant.metrology.rig import Rig
from assistant.metrology.solve import solve
from assistant.metrology.tap import needed_change, plan_tap
from tests.metrology.sweeps import length, sweep


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


def test_the_target_is_from_where_the_dial_stands_now() -> None:
    """Four of drift in a sweep: the right was read with one of it, and the dial has all four now.

    A table with the right six high, 3 + 1 read there; levelled, it shows 3 - 3 + 4.
    """
    noise = Noise(reading_sd=length("0.5"), resolution=length("0.5"))
    answer = solve(sweep("0 4 2 0", closing="4", noise=noise))
    assert answer.right_minus_left == pytest.approx(6)
    assert answer.tap.dial_target == pytest.approx(4)
    assert answer.tap.change == pytest.approx(-3)
    near = replace(sweep("0 4 2 0", closing="4", noise=noise), rig=Rig(reach=length("2")))
    assert solve(near).tap.dial_target == 2
