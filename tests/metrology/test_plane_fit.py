"""The plane of a sweep: hand-worked cases, numpy as reference, and what it must not care for."""

from math import cos, hypot, radians, sin
from random import Random

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from assistant.metrology.plane import FitError, Plane, StationHeight, fit_plane, shows_tilt

heights = st.floats(-50, 50).map(lambda x: round(x, 3))
angles = st.floats(0, 360).map(lambda x: round(x, 1))


def four(front: float, right: float, back: float, left: float) -> list[StationHeight]:
    return [
        StationHeight(180, front),
        StationHeight(90, right),
        StationHeight(0, back),
        StationHeight(270, left),
    ]


def ring(values: list[float], start: float) -> list[StationHeight]:
    return [StationHeight(start + 360 * k / len(values), value) for k, value in enumerate(values)]


def differences(plane: Plane) -> tuple[float, float]:
    return plane.front_minus_back, plane.right_minus_left


def test_level_to_side_and_six_down_to_the_front() -> None:
    """F0 R3 B6 L3 at radius 5 in: slopes 0 and 0.6 thou/in (closed form, derived)."""
    plane = fit_plane(four(0, 3, 6, 3))
    assert differences(plane) == pytest.approx((-6, 0))
    assert plane.to_back / 5 == pytest.approx(0.6)
    assert plane.residuals == pytest.approx((0, 0, 0, 0), abs=1e-12)
    assert plane.high_bearing_deg == pytest.approx(0, abs=1e-9)


def test_right_reading_one_thou_more() -> None:
    """F0 R4 B6 L3: mean 3.25, slopes 0.1 and 0.6, residuals -+0.25, s 0.5 (closed form)."""
    plane = fit_plane(four(0, 4, 6, 3))
    assert plane.mean == pytest.approx(3.25)
    assert (plane.to_right / 5, plane.to_back / 5) == pytest.approx((0.1, 0.6))
    assert plane.residuals == pytest.approx((-0.25, 0.25, -0.25, 0.25))
    assert plane.residual_sd == pytest.approx(0.5)
    assert plane.dof == 1


def test_front_high_shows_at_the_front() -> None:
    plane = fit_plane(four(6, 3, 0, 3))
    assert plane.front_minus_back == pytest.approx(6)
    assert plane.high_bearing_deg == pytest.approx(180)


def test_right_high_shows_at_the_right() -> None:
    assert fit_plane(four(3, 6, 3, 0)).high_bearing_deg == pytest.approx(90)


def test_level_table_has_no_high_side() -> None:
    plane = fit_plane(four(0.1, 0.1, 0.1, 0.1))
    assert plane.tilt == 0
    assert plane.high_bearing_deg is None


def test_three_bearings_worked_by_hand() -> None:
    """Heights 3 + 2 sin b + cos b at 0, 120, 240 degrees give those coefficients back."""
    stations = [StationHeight(b, 3 + 2 * sin(radians(b)) + cos(radians(b))) for b in (0, 120, 240)]
    plane = fit_plane(stations)
    assert (plane.mean, plane.to_right, plane.to_back) == pytest.approx((3, 2, 1))
    assert (plane.dof, plane.residual_sd) == (0, None)


def test_uneven_ring_against_numpy() -> None:
    """numpy.linalg.lstsq on seven uneven stations with seeded noise."""
    random = np.random.default_rng(3)
    bearings = np.array([0, 40, 100, 170, 200, 250, 330])
    values = random.normal(size=7)
    design = np.column_stack(
        [np.ones(7), np.sin(np.radians(bearings)), np.cos(np.radians(bearings))]
    )
    expected = np.linalg.lstsq(design, values, rcond=None)[0]
    plane = fit_plane(
        [StationHeight(float(b), float(v)) for b, v in zip(bearings, values, strict=True)]
    )
    assert (plane.mean, plane.to_right, plane.to_back) == pytest.approx(tuple(expected))
    for bearing, value, left in zip(bearings, values, plane.residuals, strict=True):
        assert plane.height_at(float(bearing)) + left == pytest.approx(float(value))


@given(st.lists(heights, min_size=3, max_size=8), angles, heights)
def test_does_not_care_for_a_shift(values: list[float], start: float, shift: float) -> None:
    plain = fit_plane(ring(values, start))
    moved = fit_plane(ring([value + shift for value in values], start))
    assert differences(moved) == pytest.approx(differences(plain), abs=1e-9)
    assert moved.mean == pytest.approx(plain.mean + shift, abs=1e-9)


@given(st.lists(heights, min_size=3, max_size=8), angles, st.randoms(use_true_random=False))
def test_does_not_care_for_the_order(values: list[float], start: float, shuffle: Random) -> None:
    stations = ring(values, start)
    mixed = list(stations)
    shuffle.shuffle(mixed)
    assert differences(fit_plane(mixed)) == pytest.approx(
        differences(fit_plane(stations)), abs=1e-9
    )


@given(st.lists(heights, min_size=3, max_size=8), angles, angles)
def test_turns_with_the_stations(values: list[float], start: float, turn: float) -> None:
    plain, turned = fit_plane(ring(values, start)), fit_plane(ring(values, start + turn))
    assert turned.tilt == pytest.approx(plain.tilt, abs=1e-9)
    assume(plain.tilt > 1e-3)
    assert plain.high_bearing_deg is not None
    assert turned.high_bearing_deg is not None
    off = (turned.high_bearing_deg - plain.high_bearing_deg - turn + 180) % 360 - 180
    assert off == pytest.approx(0, abs=1e-5)


@given(st.lists(heights, min_size=4, max_size=4))
def test_four_stations_equal_the_plain_differences(values: list[float]) -> None:
    front, right, back, left = values
    plane = fit_plane(four(front, right, back, left))
    assert differences(plane) == pytest.approx((front - back, right - left), abs=1e-9)
    assert plane.tilt == pytest.approx(hypot(front - back, right - left), abs=1e-9)
    quarter = (front + back - right - left) / 4
    assert [abs(residual) for residual in plane.residuals] == pytest.approx(
        [abs(quarter)] * 4, abs=1e-9
    )


@pytest.mark.parametrize("bearings", [(0, 90), (0, 1, 2), (0, 90, 450), (0, 10, 20, 30)])
def test_stations_that_show_no_tilt(bearings: tuple[float, ...]) -> None:
    assert not shows_tilt(bearings)
    with pytest.raises(FitError):
        fit_plane([StationHeight(bearing, 0) for bearing in bearings])
