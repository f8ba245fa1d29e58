"""Sweeps of one table at spots of their own: what the mean gains, what their differences show."""

from dataclasses import replace
from decimal import Decimal
from math import cos, pi, radians, sin, sqrt

import numpy as np
import pytest

from assistant.dialogue.machine import Profile
from assistant.dialogue.spots import further_deg, further_words
from assistant.metrology.budget import reading_known
from assistant.metrology.drift import shares_of, uneven_part, without_drift
from assistant.metrology.evidence import Shown, correction_of
from assistant.metrology.lengths import Length
from assistant.metrology.problem import Noise, Problem, ProblemError, StationReading, Sweep
from assistant.metrology.scatter import Scatter
from assistant.metrology.solve import solve
from tests.metrology.sweeps import length, sweep

FOUR = (0.0, 90.0, 180.0, 270.0)
BETWEEN = (45.0, 135.0, 225.0, 315.0)


def _tilted(bearing: float, front: float, right: float) -> float:
    return right / 2 * sin(radians(bearing)) - front / 2 * cos(radians(bearing))


def _leg(
    bearings: tuple[float, ...], drift: float, begun: float = 0.0, opened: bool = False
) -> Sweep:
    """Three front, minus two right, and a dial that drifts evenly by so much a reading."""
    values = [
        _tilted(bearing, 3.0, -2.0) + begun + drift * turn
        for turn, bearing in enumerate(bearings, 1 if opened else 0)
    ]
    back = _tilted(0.0, 3.0, -2.0)
    last = back + begun + drift * (len(bearings) + opened)
    return Sweep(
        tuple(
            StationReading(length(str(bearing)).mm / length("1").mm, length(f"{value:.9f}"))
            for bearing, value in zip(bearings, values, strict=True)
        ),
        length(f"{last:.9f}"),
        opening=length(f"{back + begun:.9f}") if opened else None,
    )


def _both(drift: float) -> Problem:
    main = _leg(FOUR, drift)
    return Problem(
        unit="thou",
        readings=main.readings,
        closing=main.closing,
        sweep_diameter=Length.of(10, "in"),
        noise=Noise(resolution=length("0.01"), reading_sd=length("0.5")),
        repeats=(_leg(BETWEEN, drift, 4 * drift, opened=True),),
    )


def test_a_sweep_that_goes_on_at_other_stations_is_freed_of_its_own_drift() -> None:
    answer = solve(_both(0.6))
    assert answer.front_minus_back == pytest.approx(3.0, abs=1e-6)
    assert answer.right_minus_left == pytest.approx(-2.0, abs=1e-6)
    # The tap is from where the dial stands now: it drifted nine readings in all, one till there.
    assert answer.tap.dial_target is not None
    from_right = _tilted(90.0, 3.0, -2.0) + 9 * 0.6
    assert answer.tap.dial_target == pytest.approx(from_right + 1.0, abs=1e-6)


def test_a_return_error_before_any_reading_is_no_sweep() -> None:
    leg = _leg(BETWEEN, 0.1, opened=True)
    with pytest.raises(ProblemError, match="closed before"):
        replace(_both(0.1), repeats=(replace(leg, closing_turn=0),))


def test_the_shares_of_a_sweep_that_goes_on_count_from_its_opening() -> None:
    assert shares_of((1.0, 2.0, 3.0, 4.0), 5.0, 0.0) == pytest.approx((0.2, 0.4, 0.6, 0.8))
    called = [length(text).to("thou") for text in ("2", "3", "4", "5")]
    opening, closing = length("1").to("thou"), length("6").to("thou")
    level = without_drift(called, closing, (1, 2, 3, 4), 5, opening)
    assert [float(value) for value in level] == pytest.approx([1, 1, 1, 1])
    matrix = correction_of(4, (0.2, 0.4, 0.6, 0.8), opened=True)
    assert matrix @ np.array([2.0, 3, 4, 5, 1, 6]) == pytest.approx([1, 1, 1, 1])


def test_returns_that_come_out_alike_are_an_even_drift() -> None:
    assert uneven_part(None, []) is None
    assert uneven_part(2.0, [(2.0, 4)]) == pytest.approx(2.0)
    # Reading for reading the same: only what the own one may hide is left (derived).
    assert uneven_part(2.0, [(2.0, 4), (2.5, 5)]) == pytest.approx(2 / sqrt(2))
    assert uneven_part(2.0, [(2.0, 4), (2.0, 4), (2.0, 4), (2.0, 4)]) == pytest.approx(1.0)
    # Now this way and now that, it is not even at all.
    assert uneven_part(2.0, [(2.0, 4), (-2.0, 4)]) == pytest.approx(sqrt((4 + 8) / 2))


def test_four_more_stations_are_worth_more_where_the_drift_is_even() -> None:
    """Three front and a drift of three a sweep; alone the drift makes most of the doubt."""
    alone = solve(replace(_both(0.75), repeats=()))
    both = solve(_both(0.75))
    assert both.budget.front_minus_back.u < 0.65 * alone.budget.front_minus_back.u


def test_a_guess_that_is_outweighed_twice_counts_no_more() -> None:
    guess = Scatter(2.0, 2.0, "assumed")
    seen = guess.with_more([Scatter(0.2, 3.0)])
    assert seen.sd == pytest.approx(sqrt((2 * 4 + 3 * 0.04) / 5))
    assert seen.origin == "measured"
    assert guess.with_more([Scatter(0.2, 3.0), Scatter(0.2, 2.0)]).sd == pytest.approx(0.2)
    told = Scatter(2.0, 2.0, "remembered")
    assert told.with_more([Scatter(0.2, 5.0)]).sd > 1.0


def test_a_known_warp_is_no_misfit_and_no_tilt() -> None:
    """Twelve at front and back over right and left: a saddle, which turns no plane."""
    bent = sweep("6 -6 6 -6", tolerance="4", noise=Noise(resolution=length("0.01")))
    assert "saddle" in {notice.code for notice in solve(bent).warnings}
    known = solve(replace(bent, warp=(length("12"), length("0"))))
    assert "saddle" not in {notice.code for notice in known.warnings}
    assert known.tilt == pytest.approx(0.0, abs=1e-9)
    assert known.budget.tilt.u < solve(bent).budget.tilt.u / 2
    corners = tuple(
        StationReading(length(str(b)).mm / length("1").mm, length(v))
        for b, v in zip(BETWEEN, ("1.5", "-1.5", "1.5", "-1.5"), strict=True)
    )
    twisted = Problem(unit="thou", readings=corners, warp=(length("4"), length("3")))
    assert solve(twisted).tilt == pytest.approx(0.0, abs=1e-9)
    assert max(map(abs, solve(twisted).residuals)) < 1e-9


def test_a_form_that_the_same_readings_showed_makes_them_hardly_surer() -> None:
    """Eight rough spots whose saddle and twist chance made: taken out of the heights as if they had
    been known before, they left the interval little more than half."""
    rough = _eight("2 3 -4.5 0 1.5 2.5 1 2.5")
    plain = solve(rough).budget.tilt.expanded()
    formed = solve(replace(rough, warp=(length("3.5"), length("1.5")))).budget.tilt.expanded()
    assert 0.75 * plain < formed < plain


def _eight(heights: str) -> Problem:
    """Four stations, and four between as a repeat of their own."""
    values = heights.split()
    legs = [
        tuple(
            StationReading(Decimal(45 * (2 * k + part)), length(values[2 * k + part]))
            for k in range(4)
        )
        for part in (0, 1)
    ]
    return replace(sweep("0 0 0 0"), readings=legs[0], repeats=(Sweep(legs[1]),))


def test_the_circumference_is_what_the_spots_move_along() -> None:
    usual = Profile()
    assert float(further_deg(usual)) == pytest.approx(360 * 1 / (10 * pi), abs=1e-3)
    assert further_words(usual) == "an inch"
    assert further_words(replace(usual, sweep_diameter=Length.of(4, "in"))) == "half an inch"
    assert further_words(replace(usual, sweep_diameter=Length.of(16, "in"))) == "two inches"
    square = replace(usual, method="square")
    assert further_words(square) == ""
    assert further_deg(square) == 0


ROUGH = Noise(resolution=length("0.1"), reading_sd=length("0.8"), reading_dof=30.0)


def _read(bearings: tuple[float, ...], *values: str) -> Sweep:
    return Sweep(
        tuple(
            StationReading(length(str(bearing)).mm / length("1").mm, length(value))
            for bearing, value in zip(bearings, values, strict=True)
        )
    )


def test_bumps_under_other_spots_are_neither_a_disagreement_nor_counted_twice() -> None:
    """Level but for bumps of about a thou, which lie elsewhere for each sweep."""
    main = _read(FOUR, "0", "1", "0.8", "-0.6")
    further = _read(BETWEEN, "0.9", "-0.7", "-0.8", "0.5")
    both = Problem("thou", main.readings, noise=ROUGH, repeats=(further,))
    answer = solve(replace(both, sweep_diameter=Length.of(10, "in")))
    assert not {"repeats_apart", "sides_exchanged", "reversed"} & {n.code for n in answer.warnings}
    sources = [part.source for part in answer.budget.front_minus_back.components]
    assert "sweeps" not in sources
    alone = solve(Problem("thou", main.readings, noise=ROUGH))
    assert answer.budget.front_minus_back.u < 0.85 * alone.budget.front_minus_back.u


def test_a_bend_that_stations_between_show_is_no_doubt_of_each_station() -> None:
    main = _read(FOUR, "6", "-6", "6", "-6")
    alone = solve(Problem("thou", main.readings, noise=ROUGH))
    assert "form" in {part.source for part in alone.budget.tilt.components}
    both = Problem("thou", main.readings, noise=ROUGH, repeats=(_read(BETWEEN, *["0"] * 4),))
    assert "form" not in {part.source for part in solve(both).budget.tilt.components}


def test_readings_that_repeat_no_better_than_all_there_is_are_known_as_well_as_that() -> None:
    noise = Noise(reading_sd=length("0.5"), reading_dof=20.0, resolution=length("0.1"))
    shown = Shown(None, Scatter(0.9, 2.0))
    spot, redrawn = reading_known(noise, "thou", 0.1, shown)
    assert spot.sd == 0.0
    assert (redrawn.sd, redrawn.dof) == pytest.approx((0.5, 20.0))
    spot, redrawn = reading_known(noise, "thou", 0.1, Shown(None, Scatter(0.3, 2.0)))
    assert (spot.sd, redrawn.sd, redrawn.dof) == pytest.approx((0.4, 0.3, 2.0))


def test_an_answer_of_one_sweep_knows_the_surface_that_earlier_ones_showed() -> None:
    """A bump of two at the front, seen among eight spots before the table was tilted level."""
    now = _read(FOUR, "0", "0", "2", "0")
    tilted = [
        f"{_tilted(bearing, 9.0, -4.0) + (2.0 if bearing == 180.0 else 0.0):.1f}"
        for bearing in (*FOUR, *BETWEEN)
    ]
    before = (_read(FOUR, *tilted[:4]), _read(BETWEEN, *tilted[4:]))
    alone = Problem("thou", now.readings, noise=ROUGH, sweep_diameter=Length.of(10, "in"))
    known = replace(alone, history=tuple(replace(leg, table=1) for leg in before))
    assert solve(alone).front_minus_back == pytest.approx(2.0)
    assert solve(known).front_minus_back == pytest.approx(1.0, abs=0.35)
    apart = tuple(replace(leg, table=k) for k, leg in enumerate(before))
    assert solve(replace(alone, history=apart)).front_minus_back > 1.4
