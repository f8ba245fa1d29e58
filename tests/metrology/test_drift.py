"""An even drift is taken out in the order in which the stations were read."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.metrology.solve import solve
from tests.metrology.sweeps import sweep


def test_the_first_station_keeps_its_reading_and_so_does_the_mean_height() -> None:
    """Level at two, on a dial that creeps one thou a station: 2, 3, 4, 5 and 6 (derived).

    The plane is the same whichever station the drift counts from; only the mean tells.
    """
    answer = solve(sweep("2 3 4 5", closing="6"))
    assert answer.tilt == pytest.approx(0, abs=1e-12)
    assert answer.mean == pytest.approx(2)


@given(
    st.lists(st.integers(-20, 20), min_size=4, max_size=4),
    st.integers(-8, 8),
)
def test_a_sweep_less_its_drift_is_the_sweep_that_did_not_drift(
    heights: list[int], drift: int
) -> None:
    """Built: heights as they are, each read later by k quarters of the drift (derived)."""
    crept = [height + Fraction(drift * k, 4) for k, height in enumerate(heights)]
    steady = solve(sweep(" ".join(map(str, heights)), closing=str(heights[0])))
    drifted = solve(sweep(" ".join(str(float(v)) for v in crept), closing=str(heights[0] + drift)))
    assert drifted.mean == pytest.approx(steady.mean)
    assert drifted.front_minus_back == pytest.approx(steady.front_minus_back)
    assert drifted.right_minus_left == pytest.approx(steady.right_minus_left)
    assert drifted.residuals == pytest.approx(steady.residuals, abs=1e-9)
