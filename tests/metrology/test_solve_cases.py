"""`solve` on whole sweeps with answers worked out by hand."""

import json
from dataclasses import replace
from decimal import Decimal
from math import atan, degrees, inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.metrology.lengths import Length
from assistant.metrology.problem import (
    Noise,
    Problem,
    ProblemError,
    Shimming,
    StationReading,
    TapTrial,
)
from assistant.metrology.solve import solve
from tests.metrology.sweeps import bearings, length, lengths, sweep, trial

CONTRACT = {
    "unit", "front_minus_back", "right_minus_left", "tilt", "high_bearing_deg", "mean", "saddle",
    "drift", "angle_arcsec", "mm_per_300mm", "thou_per_foot", "standard_uncertainty",
    "expanded_uncertainty", "coverage_factor", "degrees_of_freedom", "verdict", "inside_noise",
    "shim", "tap", "warnings",
}  # fmt: skip


def codes(problem: Problem) -> set[str]:
    return {notice.code for notice in solve(problem).warnings}


def test_plain_tilt() -> None:
    """B6 R3 F0 L3 over 10 in: back six high, no saddle (closed form, derived)."""
    answer = solve(sweep("6 3 0 3", closing="6"))
    assert answer.front_minus_back == pytest.approx(-6)
    assert answer.right_minus_left == pytest.approx(0, abs=1e-12)
    assert (answer.saddle, answer.drift) == (0, 0)
    assert answer.high_bearing_deg == pytest.approx(0, abs=1e-9)


def test_tilt_with_a_saddle() -> None:
    """B6 R4 F0 L3: mean 3.25, saddle -1, residuals a quarter each (closed form, derived)."""
    answer = solve(sweep("6 4 0 3"))
    assert answer.mean == pytest.approx(3.25)
    assert answer.saddle == -1
    assert answer.residuals == pytest.approx((-0.25, 0.25, -0.25, 0.25))
    assert answer.tilt == pytest.approx(37**0.5)


@pytest.mark.parametrize(
    ("back", "tilt_per_foot", "arcsec"), [("4 thou", 4, 68.8), ("2 thou", 2, 34.4), ("1", 1, 17.2)]
)
def test_angle_per_foot(back: str, tilt_per_foot: float, arcsec: float) -> None:
    """0.1, 0.05, 0.025 mm on 300 mm: 4, 2, 1 thou per foot, 68.8, 34.4, 17.2 arcsec (derived)."""
    half = length(back).to("thou") / 2
    answer = solve(sweep(f"{2 * half} {half} 0 {half}", diameter="12 in"))
    assert answer.thou_per_foot == pytest.approx(tilt_per_foot)
    assert answer.angle_arcsec == pytest.approx(arcsec, abs=0.06)
    assert answer.angle_arcsec == pytest.approx(degrees(atan(tilt_per_foot / 12000)) * 3600)
    assert answer.mm_per_300mm == pytest.approx(tilt_per_foot / 12000 * 300)


def test_one_thou_in_an_inch_is_206_seconds() -> None:
    """1 thou/in = 206.3 arcsec (derived)."""
    answer = solve(sweep("1 0.5 0 0.5", diameter="1 in"))
    assert answer.angle_arcsec == pytest.approx(206.3, abs=0.05)


def test_drift_is_shared_out_along_the_sweep() -> None:
    """A level table on a dial that creeps one thou a quarter turn (k/n of the return, derived)."""
    raw = solve(sweep("0 1 2 3"))
    assert (raw.front_minus_back, raw.right_minus_left) == pytest.approx((2, -2))
    answer = solve(sweep("0 1 2 3", closing="4"))
    assert answer.drift == 4
    assert answer.tilt == pytest.approx(0, abs=1e-12)
    assert answer.saddle == 0


def test_large_drift_is_refused_in_words() -> None:
    noise = Noise(reading_sd=length("0.5"), reading_dof=inf, resolution=length("0.5"))
    assert "drift_refused" in codes(sweep("0 1 2 3", closing="4", noise=noise))
    assert "drift" in codes(sweep("0 0.5 1 1.5", closing="2", noise=noise))
    assert not codes(sweep("0 0 0.5 0.5", closing="0.5", noise=noise))


def test_metric_and_inch_agree() -> None:
    """The same table in thou, mm, um and hundredths; 1 thou = 0.0254 mm (NIST SP 811)."""
    inch = solve(sweep("6 4 0 3"))
    metric = solve(sweep("0.1524 0.1016 0 0.0762", unit="mm", diameter="254 mm"))
    micron = solve(sweep("152.4 101.6 0 76.2", unit="um", diameter="254 mm"))
    hundredths = solve(sweep("15.24 10.16 0 7.62", unit="hundredth", diameter="254 mm"))
    assert metric.front_minus_back == pytest.approx(inch.front_minus_back * 0.0254)
    assert micron.front_minus_back == pytest.approx(inch.front_minus_back * 25.4)
    assert hundredths.tilt == pytest.approx(inch.tilt * 2.54)
    for other in (metric, micron, hundredths):
        assert other.angle_arcsec == pytest.approx(inch.angle_arcsec)
        assert other.thou_per_foot == pytest.approx(inch.thou_per_foot)
        assert other.high_bearing_deg == pytest.approx(inch.high_bearing_deg)


def test_gap_is_the_indicator_upside_down() -> None:
    """Bigger gap, lower table: gaps of 10 less the dial give the dial's answer (derived)."""
    dial = solve(sweep("6 4 0 3", closing="6"))
    gap = solve(sweep("4 6 10 7", closing="4", method="gap"))
    assert gap.front_minus_back == pytest.approx(dial.front_minus_back)
    assert gap.right_minus_left == pytest.approx(dial.right_minus_left)
    assert gap.saddle == dial.saddle
    assert gap.mean == pytest.approx(6.75)
    assert gap.shim.place == dial.shim.place
    assert gap.tap.change == pytest.approx(dial.tap.change)
    # The right must fall half a thou: on the dial 4 to 3.5, by gauges 6 to 6.5.
    assert dial.tap.dial_target == pytest.approx(3.5)
    assert gap.tap.dial_target == pytest.approx(6.5)


def test_three_bearings() -> None:
    """A plane three up at 0 degrees, two down at 120, none at 240 (solved by hand).

    mean 1/3; to_back (2*3+2-0)/3 = 8/3; to_right (-2-0)/sqrt 3.
    """
    answer = solve(Problem("thou", bearings({"0": "3", "120": "-2", "240": "0"})))
    assert answer.mean == pytest.approx(1 / 3)
    assert answer.front_minus_back == pytest.approx(-16 / 3)
    assert answer.right_minus_left == pytest.approx(-4 / 3**0.5)
    assert answer.saddle is None
    assert answer.tap.dial_target is not None
    assert answer.tap.dial_target == pytest.approx(1 / 3)


def test_four_stations_off_the_axes_have_a_saddle_too() -> None:
    answer = solve(Problem("thou", bearings({"45": "2", "135": "0", "225": "1", "315": "0"})))
    assert answer.saddle == 3
    skew = solve(Problem("thou", bearings({"40": "2", "135": "0", "225": "1", "315": "0"})))
    assert skew.saddle is None


@pytest.mark.parametrize(
    ("pivot", "change", "target"),
    [("0 in", -3, 3), ("2.5 in", -1.5, 4.5), ("-5 in", -6, 0), ("5 in", 0, 6)],
)
def test_off_centre_pivot(pivot: str, change: float, target: float) -> None:
    """Six high on the right: half if the pivot is central, all if under the far side, nothing to
    see if under the dial (derived). Each side moving three is common practice, no source."""
    answer = solve(sweep("3 6 3 0", pivot=pivot))
    assert answer.tap.change == pytest.approx(change, abs=1e-12)
    assert answer.tap.dial_target == pytest.approx(target)
    assert ("pivot" in {notice.code for notice in answer.warnings}) == (pivot == "5 in")


def test_pivot_is_learnt_from_taps() -> None:
    """Told central, a tap of three at the right changed R - L by eight: the pivot is at 1/4.

    2 / (1 - 1/4) = 8/3 per unit (derived); with many taps the told value no longer matters.
    """
    tap = TapTrial(length("-3"), length("8"), length("0"))
    noise = Noise(reading_sd=length("0.1"), reading_dof=inf, resolution=length("0.1"))
    plain = sweep("3 6 3 0", noise=noise)
    learned = solve(replace(plain, taps=(tap,) * 6))
    assert solve(plain).tap.change == pytest.approx(-3)
    assert learned.tap.change == pytest.approx(-3 * 0.75, abs=0.01)
    # A tap that went the wrong way says nothing about the pivot.
    odd = TapTrial(length("-3"), length("8"), length("20"))
    assert solve(replace(plain, taps=(odd,) * 6)).tap.change == pytest.approx(-3)


def test_trial_leaf_then_double() -> None:
    """Six high at the front, a leaf of 1.5 above the bolt leaves three, three leave nothing.

    Common practice, no source.
    """
    shim = Shimming(stock=lengths("1.5 2 3 4"), trials=(trial("1.5", "6", "3"),))
    answer = solve(sweep("0 1.5 3 1.5", shim=shim))
    assert answer.shim.place == "above"
    # The trial says two, the geometry of the machine 2.5 and very roughly.
    assert answer.shim.response.value == pytest.approx(2, abs=0.1)
    assert answer.shim.total == pytest.approx(3, abs=0.1)
    assert answer.shim.add == pytest.approx(1.5, abs=0.1)
    assert answer.shim.leaves == (Decimal(3),)
    assert answer.shim.expected_left == pytest.approx(0, abs=0.15)


@pytest.mark.parametrize(
    ("after", "code"),
    [("3", None), ("6", "no_response"), ("10", "wrong_way")],
)
def test_what_the_last_trial_did_is_said(after: str, code: str | None) -> None:
    noise = Noise(reading_sd=length("0.3"), reading_dof=inf, resolution=length("0.5"))
    shim = Shimming(span=length("5 in"), trials=(trial("3", "6", after),))
    found = codes(sweep("0 0 6 0", shim=shim, noise=noise))
    assert {"no_response", "wrong_way"} & found == ({code} if code else set())


def test_no_diameter_still_gives_the_differences() -> None:
    answer = solve(sweep("6 4 0 3", diameter=None))
    assert answer.front_minus_back == pytest.approx(-6)
    assert (answer.angle_arcsec, answer.mm_per_300mm, answer.thou_per_foot) == (None, None, None)


def test_answer_in_json_has_the_contracted_keys() -> None:
    table = solve(sweep("6 4 0 3", closing="6", tolerance="4")).as_json()
    assert set(table) >= CONTRACT
    assert json.loads(json.dumps(table, allow_nan=False)) == table
    # Rounding in the solver must not show.
    assert table["front_minus_back"] == -6
    shim, tap = table["shim"], table["tap"]
    assert isinstance(shim, dict)
    assert set(shim) >= {
        "place", "response", "response_uncertainty", "total", "add", "leaves", "expected_left",
    }  # fmt: skip
    assert tap == {"watch": "right", "change": -0.5, "dial_target": 3.5}


@pytest.mark.parametrize(
    ("make", "reason"),
    [
        (lambda: Problem("thou", bearings({"0": "1", "90": "2"})), "three stations"),
        (lambda: Problem("thou", bearings({"0": "1", "90": "2", "360": "1"})), "back is there twi"),
        (lambda: Problem("thou", bearings({"0": "1", "1": "2", "2": "1"})), "too close together"),
        (lambda: sweep("1 2 3 4", diameter="0"), "sweep_diameter is not above zero"),
        (lambda: sweep("1 2 3 4", tolerance="-1"), "tolerance is not above zero"),
        (lambda: sweep("1 2 3 4", pivot="1 in", diameter=None), "pivot_offset needs"),
        (lambda: sweep("1 -2 3 4", method="gap"), "gap at right is negative"),
        (lambda: sweep("1 2 3 4", method="gap", closing="-1"), "closing gap"),
        (lambda: sweep("1 2 3 4", noise=Noise(surface=lengths("1"))), "two or more"),
        (lambda: sweep("1 2 3 4", shim=Shimming(max_leaves=0)), "max_leaves"),
        (lambda: sweep("1 2 3 4", shim=Shimming(stock=lengths("0"))), "shim.stock"),
    ],
)
def test_questions_without_an_answer(make: object, reason: str) -> None:
    assert callable(make)
    with pytest.raises(ProblemError, match=reason) as caught:
        make()
    assert "\n" not in str(caught.value)


counts = st.integers(-40, 40).map(lambda n: Decimal(n) / 2)


@given(st.tuples(counts, counts, counts, counts), counts, counts)
def test_dial_zero_does_not_matter(
    values: tuple[Decimal, ...], closing: Decimal, shift: Decimal
) -> None:
    def answer(by: Decimal) -> tuple[float, ...]:
        readings = tuple(
            StationReading(Decimal(90 * k), Length.of(value + by, "thou"))
            for k, value in enumerate(values)
        )
        solved = solve(Problem("thou", readings, closing=Length.of(closing + by, "thou")))
        return solved.front_minus_back, solved.right_minus_left, solved.saddle or 0.0

    assert answer(shift) == pytest.approx(answer(Decimal(0)), abs=1e-9)
