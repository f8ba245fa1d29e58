"""Spindle, quill, form, several places, the work, and sweeps combined."""

from math import atan, cos, hypot, radians, sin, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.metrology.combining import combine_half_turn, combine_repeats
from assistant.metrology.form import Spot, fit_form
from assistant.metrology.lean import (
    degrees_minutes_seconds,
    lean_of,
    nearest_fraction,
)
from assistant.metrology.least_squares import FitError
from assistant.metrology.lengths import Length
from assistant.metrology.plane import StationHeight, fit_plane
from assistant.metrology.positions import Position, survey
from assistant.metrology.problem import Noise
from assistant.metrology.scatter import end_play_sd, reading_sd
from assistant.metrology.spindle import lean_limits
from assistant.metrology.uncertainty import Budget, Component


def test_offset_is_half_the_full_movement() -> None:
    """A machine installation manual: offset = TIR / 2; a bar 3 off centre sweeps 6."""
    assert lean_limits(6, 0, 1) == (3, 3)


@given(st.floats(0.1, 5), st.floats(0, 359), st.floats(0, 0.01), st.floats(0, 359))
def test_the_lean_of_a_bar_lies_within_what_two_full_movements_allow(
    offset: float, at: float, lean: float, towards: float
) -> None:
    """A bar built from an offset and a lean, measured at two places 100 apart."""
    x = offset * sin(radians(at)) + 100 * lean * sin(radians(towards))
    y = offset * cos(radians(at)) + 100 * lean * cos(radians(towards))
    low, high = lean_limits(2 * offset, 2 * hypot(x, y), 100)
    assert low - 1e-9 <= lean <= high + 1e-9


def test_a_spindle_that_stays_up_scatters_readings() -> None:
    """GUM 4.4.5: limits 96 and 104 of equal likelihood are u = 2.3, half a width of 4."""
    wide = Noise(end_play=Length.of(8, "thou"), reading_sd=Length.of(1, "thou"))
    assert end_play_sd(wide, "thou") == pytest.approx(2.3, abs=0.05)
    plain = Noise(reading_sd=Length.of(1, "thou"))
    both = hypot(reading_sd(plain, "thou", 0.5), end_play_sd(wide, "thou"))
    assert reading_sd(wide, "thou", 0.5) == pytest.approx(both)


def surface(
    spots: list[tuple[float, float]], dish: float, saddle: float, twist: float
) -> list[Spot]:
    found = []
    for bearing, radius in spots:
        b, r = radians(bearing), radius / 5
        height = (
            2
            + r * (0.5 * sin(b) - 1.5 * cos(b))
            + r * r * (dish + saddle / 4 * cos(2 * b) + twist / 4 * sin(2 * b))
        )
        found.append(Spot(bearing, radius, height))
    return found


TWO_RINGS = [(bearing, radius) for radius in (2.5, 5.0) for bearing in range(0, 360, 45)]
ONE_RING = [(bearing, 5.0) for bearing in range(0, 360, 45)]
FOUR = [(bearing, 5.0) for bearing in range(0, 360, 90)]


@given(st.floats(-3, 3), st.floats(-3, 3), st.floats(-3, 3))
def test_two_radii_part_dish_and_warp_from_tilt(dish: float, saddle: float, twist: float) -> None:
    form = fit_form(surface([(float(b), r) for b, r in TWO_RINGS], dish, saddle, twist))
    assert form.front_minus_back == pytest.approx(3, abs=1e-9)
    assert form.right_minus_left == pytest.approx(1, abs=1e-9)
    assert form.dish == pytest.approx(dish, abs=1e-9)
    assert form.saddle == pytest.approx(saddle, abs=1e-9)
    assert form.twist == pytest.approx(twist, abs=1e-9)


def test_one_ring_shows_warp_but_no_dish() -> None:
    form = fit_form(surface([(float(b), r) for b, r in ONE_RING], 2, 1, 0.5))
    assert form.dish is None
    assert form.saddle == pytest.approx(1)
    assert form.twist == pytest.approx(0.5)


def test_four_stations_see_neither_dish_nor_twist() -> None:
    """F + B - R - L sees one saddle only: blind to the diagonal one and to a dish (derived)."""
    form = fit_form(surface([(float(b), r) for b, r in FOUR], 2, 1, 3))
    assert (form.dish, form.twist, form.residual_sd) == (None, None, None)
    assert form.saddle == pytest.approx(1)


def test_form_in_noise_does_not_stand_out() -> None:
    random = np.random.default_rng(12)
    spots = [
        Spot(s.bearing_deg, s.radius, s.height + random.normal(0, 0.2))
        for s in surface([(float(b), r) for b, r in TWO_RINGS], 1.5, 0, 0)
    ]
    form = fit_form(spots)
    assert form.stands_out("dish")
    assert not form.stands_out("saddle")


def test_spots_on_the_axis_show_nothing() -> None:
    with pytest.raises(FitError, match="on the axis"):
        fit_form([Spot(0, 0, 1)] * 3)


def test_lean_over_a_hole() -> None:
    """0.1 mm on 300 mm: 4 thou per foot, 68.8 arcsec, 0.0333 mm over 100 mm deep (derived)."""
    lean = lean_of(0.1, Length.of(300, "mm"), Length.of(100, "mm"), 180.0)
    assert lean.exit_offset_mm == pytest.approx(0.1 / 3)
    assert lean.thou_per_foot == pytest.approx(4)
    assert lean.mm_per_300mm == pytest.approx(0.1)
    assert lean.angle_deg * 3600 == pytest.approx(68.8, abs=0.05)
    assert degrees_minutes_seconds(lean.angle_deg) == (0, 1, 9)
    assert lean.towards_deg == 0


def test_hole_comes_out_downhill() -> None:
    """Worked in coordinates: work on a table that rises to the front, drilled straight down.

    In the work's own frame the drill's way is turned by the tilt; its foot lies to the back.
    """
    depth, angle = 50.0, atan(0.01)
    # Table's unit vectors seen from the side: u to the front along the slope, n up from it.
    u, n = (cos(angle), sin(angle)), (-sin(angle), cos(angle))
    down = (0.0, -1.0)
    reach = depth / -(down[0] * n[0] + down[1] * n[1])
    to_front = reach * (down[0] * u[0] + down[1] * u[1])
    lean = lean_of(1.0, Length.of(100, "mm"), Length.of(50, "mm"), 180.0)
    assert to_front == pytest.approx(-lean.exit_offset_mm)


def test_degrees_and_fractions() -> None:
    assert degrees_minutes_seconds(1.5) == (1, 30, 0)
    assert degrees_minutes_seconds(0.99999) == (1, 0, 0)
    assert nearest_fraction(Length.of("0.5", "in")) == (0, 1, 2)
    assert nearest_fraction(Length.of("-1.999", "in")) == (2, 0, 1)
    assert nearest_fraction(Length.of("3.26", "in"), 16) == (3, 1, 4)
    with pytest.raises(ValueError, match="negative"):
        degrees_minutes_seconds(-1)
    with pytest.raises(ValueError, match="power of two"):
        nearest_fraction(Length.of(1, "in"), 12)


def test_soft_place_of_several_heights() -> None:
    """Three heights: one adjustment takes out what they share, the rest stays."""
    found = survey([Position("low", 6, 0), Position("middle", 4, 0), Position("high", 2, 1)])
    assert found.worst == "low"
    assert found.shift == pytest.approx((-4, -0.5))
    assert found.best_tilt == pytest.approx(hypot(2, 0.5))
    assert survey([Position("only", 3, -1)]).best_tilt == 0
    with pytest.raises(ValueError, match="one at least"):
        survey([])


pairs = st.tuples(st.floats(-9, 9), st.floats(-9, 9)).map(
    lambda p: (round(p[0], 2), round(p[1], 2))
)


@given(st.lists(pairs, min_size=1, max_size=6), pairs)
def test_no_other_adjustment_serves_all_places_better(
    points: list[tuple[float, float]], other: tuple[float, float]
) -> None:
    found = survey([Position(str(n), x, y) for n, (x, y) in enumerate(points)])
    reach = max(hypot(x + found.shift[0], y + found.shift[1]) for x, y in points)
    assert reach == pytest.approx(found.best_tilt, abs=1e-9)
    assert max(hypot(x - other[0], y - other[1]) for x, y in points) >= found.best_tilt - 1e-9


def test_half_turn_refit_cancels_axial_slip() -> None:
    """A table of (6, 1) under a spindle that adds (2, -1) once a turn, swept both ways round."""
    found = combine_half_turn((8, 0), (4, 2), (0.6, 0.6), (0.8, 0.8))
    assert (found.pair, found.slip) == ((6, 1), (2, -1))
    assert found.u_pair == pytest.approx((0.5, 0.5))


def test_half_turn_from_readings() -> None:
    """The slip goes with the spindle: refitted half a turn round, each station meets its other
    half (worked on readings, not on the formula)."""

    def sweep(refitted: bool) -> tuple[float, float]:
        stations = []
        for bearing in (0, 90, 180, 270):
            table = -3 * cos(radians(bearing)) + 0.5 * sin(radians(bearing))
            spindle = bearing + (180 if refitted else 0)
            stations.append(StationHeight(bearing, table - 0.8 * cos(radians(spindle - 30))))
        plane = fit_plane(stations)
        return plane.front_minus_back, plane.right_minus_left

    found = combine_half_turn(sweep(False), sweep(True), (1, 1), (1, 1))
    assert found.pair == pytest.approx((6, 1))
    assert hypot(*found.slip) == pytest.approx(1.6)


BUDGET = Budget((Component("reading", 0.6, 2), Component("relock", 0.8, 4), Component("indicator", 0.3)))  # fmt: skip  # noqa: E501


def test_repeats_cut_what_is_drawn_anew() -> None:
    calm = [(6.0, 1.0), (6.2, 1.1), (5.9, 0.9), (6.1, 1.0)]
    locked = combine_repeats(calm, (BUDGET, BUDGET), relocked=False)
    relocked = combine_repeats(calm, (BUDGET, BUDGET), relocked=True)
    assert locked.pair == pytest.approx((6.05, 1.0))
    assert locked.budgets[0].u == pytest.approx(sqrt(0.3**2 + 0.8**2 + 0.3**2))
    assert relocked.budgets[0].u == pytest.approx(sqrt(0.3**2 + 0.4**2 + 0.3**2))
    assert combine_repeats(calm[:1], (BUDGET, BUDGET), relocked=True).scatter is None
    with pytest.raises(ValueError, match="one at least"):
        combine_repeats([], (BUDGET, BUDGET), relocked=True)


def test_repeats_that_scatter_too_much_speak_for_themselves() -> None:
    wild = [(6.0, 1.0), (10.0, 1.0), (2.0, 1.0), (8.0, 1.0)]
    found = combine_repeats(wild, (BUDGET, BUDGET), relocked=True)
    assert {c.source for c in found.budgets[0].components} == {"indicator", "sweeps"}
    assert {c.source for c in found.budgets[1].components} == {"reading", "relock", "indicator"}
