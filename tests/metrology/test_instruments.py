"""Dials, levers, gauges, squares and the ear."""

from decimal import Decimal
from math import atan, cos, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.metrology.dial import lever_factor, on_continuous
from assistant.metrology.gauges import gap_between, square_difference
from assistant.metrology.stock_sets import STOCKS


@pytest.mark.parametrize(
    ("angle", "factor"),
    [(10, 0.98), (20, 0.94), (30, 0.87), (40, 0.77), (50, 0.64), (60, 0.50)],
)
def test_lever_factors(angle: float, factor: float) -> None:
    """Table of a page on JIS B 7533 lever indicators: true = reading * cos(angle)."""
    assert lever_factor(angle) == pytest.approx(factor, abs=0.0051)


@pytest.mark.parametrize(("angle", "true"), [(10, 0.196), (20, 0.188), (30, 0.174)])
def test_lever_readings(angle: float, true: float) -> None:
    """The same page: 0.200 mm shown at 10, 20, 30 degrees is .196, .188, .174 (its factors are
    rounded to two digits before it multiplies)."""
    assert 0.200 * lever_factor(angle) == pytest.approx(true, abs=0.0011)


def test_lever_at_sixty_degrees_halves() -> None:
    """.004 in shown at 60 degrees is .002 (a web page on test indicators)."""
    assert 0.004 * lever_factor(60) == pytest.approx(0.002)


def test_lever_on_end_measures_nothing() -> None:
    with pytest.raises(ValueError, match="flatter"):
        lever_factor(90)


@pytest.mark.parametrize(
    ("shown", "value", "ambiguous"),
    [("97", "-3", False), ("3", "3", False), ("0", "0", False), ("49", "49", False),
     ("51", "-49", False), ("50", "-50", True), ("97.5", "-2.5", False)],
)  # fmt: skip
def test_continuous_dial(shown: str, value: str, ambiguous: bool) -> None:
    """97 is minus 3; at half a turn it may be either (derived)."""
    found = on_continuous(Decimal(shown), Decimal(100))
    assert (found.value, found.ambiguous) == (Decimal(value), ambiguous)


def test_a_table_far_off_makes_more_readings_ambiguous() -> None:
    found = on_continuous(Decimal(40), Decimal(100), within=Decimal(70))
    assert (int(found.value), int(found.rival), found.ambiguous) == (40, -60, True)


def test_expectation_and_counter_hand_settle_a_turn() -> None:
    assert on_continuous(Decimal(60), Decimal(100), expected=Decimal(70)).value == 60
    assert on_continuous(Decimal(97), Decimal(100), turns=0).value == 97
    assert on_continuous(Decimal(97), Decimal(100), turns=-1).value == -3


@given(st.integers(-400, 400), st.sampled_from([20, 50, 100, 200]))
def test_face_and_expectation_give_the_reading_back(true: int, per_turn: int) -> None:
    """Any reading shown on its face, expected to within a third of a turn."""
    shown = Decimal(true % per_turn)
    expected = Decimal(true) + Decimal(per_turn) / 3
    assert on_continuous(shown, Decimal(per_turn), expected).value == true


def test_numbers_that_are_not_on_the_face() -> None:
    with pytest.raises(ValueError, match="not on a dial"):
        on_continuous(Decimal(100), Decimal(100))


def test_gap_between_two_stacks() -> None:
    """Go 6, no-go 7: 6.5, u = 0.5 / sqrt 3 = 0.289 (GUM 4.3.7)."""
    gap = gap_between([Decimal(2), Decimal(4)], [Decimal(7)])
    assert gap.value == 6.5
    assert gap.u == pytest.approx(0.289, abs=5e-4)
    assert gap_between([Decimal(6)], None).u is None
    assert gap_between([], [Decimal("1.5")]).value == 0.75
    with pytest.raises(ValueError, match="call the smaller one again"):
        gap_between([Decimal(7)], [Decimal(6)])


def test_square_and_leaf() -> None:
    """A leaf of 2 thou over 4 in is 5 thou over 10 in (similar triangles)."""
    assert square_difference(2, 4000, 10_000, "bottom") == pytest.approx(5)
    assert square_difference(2, 4000, 10_000, "top") == pytest.approx(-5)
    with pytest.raises(ValueError, match="above zero"):
        square_difference(2, 0, 1, "top")


def test_square_agrees_with_the_sweep() -> None:
    """A table leaning up to the front by a small angle, worked in coordinates.

    The square's blade stands along the table's normal in front of the axis, the bar is vertical:
    seen from the side the blade leans back, so its foot is farther from the bar than its top.
    """
    front_minus_back, diameter, height = 5.0, 10_000.0, 4000.0
    angle = atan(front_minus_back / diameter)
    foot, top = 3000.0, 3000.0 - height * sin(angle)
    leaf = foot - top
    assert leaf > 0  # open at the bottom
    assert square_difference(leaf, height * cos(angle), diameter, "bottom") == pytest.approx(
        front_minus_back, rel=1e-6
    )


def test_usual_sets() -> None:
    """Series from memory; the inch set has the 26 blades that TM 9-243 gives as the most."""
    assert len(STOCKS["inch_26"]) == 26
    assert len(STOCKS["metric_20"]) == 20
    assert len(STOCKS["metric_13"]) == 13
    for leaves in STOCKS.values():
        assert list(leaves) == sorted(set(leaves))
