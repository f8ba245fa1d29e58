"""Gaps, levers, squares and faces in `solve`: the same table read in every way."""

from dataclasses import replace
from decimal import Decimal
from math import sqrt

import pytest
from uncertainties import ufloat

from assistant.metrology.lengths import parse_length
from assistant.metrology.problem import Noise, Problem, ProblemError, StationReading
from assistant.metrology.rig import Rig
from assistant.metrology.solve import solve
from assistant.records.readings.file_values import ReadingsFileError
from assistant.records.readings.readings_file import problem_from_text
from tests.metrology.sweeps import length, sweep

QUIET = Noise(reading_sd=length("0.5"), resolution=length("0.5"))

BY_GAUGES = """
method = "gap"
sweep_diameter = "10 in"
tolerance = "4 thou"
closing = "10"
noise = { reading_sd = "0.5" }
[readings]
back = "10"
right = { value = "12", no_go = "13" }
front = { value = "15", no_go = "20" }
left = { value = "12", no_go = "13" }
"""


def test_gaps_are_the_middle_of_what_goes_and_what_does_not() -> None:
    answer = solve(problem_from_text(BY_GAUGES))
    # 17.5 in front against the 10 that the rod was set to: the front is low.
    assert answer.front_minus_back == pytest.approx(-7.5)
    assert answer.right_minus_left == pytest.approx(0)
    assert answer.drift == 0
    # By hand: equally likely from 15 to 20 is 5 / sqrt 12; one step of a thou is 1 / sqrt 12.
    front = answer.budget.front_minus_back
    gauge = next(part for part in front.components if part.source == "gauge")
    assert gauge.u == pytest.approx(5 / sqrt(12))
    right = answer.budget.right_minus_left
    assert next(p for p in right.components if p.source == "gauge").u == pytest.approx(sqrt(2 / 12))
    assert not [part for part in front.components if part.source == "resolution"]


def test_the_gauge_budget_is_that_of_a_reference_library() -> None:
    """Linear propagation through the same fit by `uncertainties`."""
    right, front, left = (ufloat(0, width / sqrt(12)) for width in (1, 5, 2))
    problem = replace(
        problem_from_text(BY_GAUGES),
        closing=None,
        readings=(
            StationReading.at("back", length("10")),
            StationReading.at("right", length("12"), length("13")),
            StationReading.at("front", length("15"), length("20")),
            StationReading.at("left", length("12"), length("14")),
        ),
    )
    budget = solve(problem).budget
    for axis, expected in (
        (budget.front_minus_back, 10 - front),
        (budget.right_minus_left, left - right),
    ):
        gauge = next(part for part in axis.components if part.source == "gauge")
        assert gauge.u == pytest.approx(expected.s)


def test_the_tap_target_of_a_gap_is_a_gap() -> None:
    answer = solve(sweep("10 6 10 14", method="gap", closing="10"))
    assert answer.right_minus_left == 8
    assert (answer.tap.change, answer.tap.dial_target) == (-4, 10)


@pytest.mark.parametrize(("angle", "factor"), [("10", 0.98), ("20", 0.94), ("30", 0.87)])
def test_a_lever_at_an_angle_moves_more_than_the_table(angle: str, factor: float) -> None:
    """Factors of the table in JIS B 7533 as quoted by a maker, to its two digits."""
    plain = sweep("6 4 0 2", noise=QUIET, closing="6")
    level, lever = solve(plain), solve(replace(plain, rig=Rig(lever_deg=Decimal(angle))))
    assert lever.front_minus_back / level.front_minus_back == pytest.approx(factor, abs=0.006)
    assert lever.expanded_uncertainty < level.expanded_uncertainty
    # What is watched on the dial is told as the dial shows it: half of the four to the left.
    assert lever.tap.dial_target == pytest.approx(level.tap.dial_target or 0)
    assert lever.mean == pytest.approx(level.mean)


def test_an_involute_tip_makes_up_for_its_angle_and_not_for_any() -> None:
    plain = sweep("6 4 0 2")
    tip = Rig(lever_deg=Decimal(20), tip="involute")
    assert solve(replace(plain, rig=tip)).front_minus_back == solve(plain).front_minus_back
    with pytest.raises(ProblemError, match="lay the lever flatter"):
        replace(plain, rig=replace(tip, lever_deg=Decimal(35)))


def test_a_dial_that_counts_down_for_a_higher_table() -> None:
    answer = solve(replace(sweep("6 4 0 2", closing="6"), rig=Rig(sign=-1)))
    assert answer.front_minus_back == 6
    assert answer.right_minus_left == -2
    # The right has to rise by one: the dial there goes down by one.
    assert (answer.tap.change, answer.tap.dial_target) == (1, 3)


def _square(values: str, no_go: str = "") -> Problem:
    problem = sweep(values)
    upper = sweep(no_go).readings if no_go else [None] * 4
    return replace(
        problem,
        method="square",
        rig=Rig(square_height=parse_length("5 in", "in")),
        readings=tuple(
            replace(one, no_go=other.value if other else None)
            for one, other in zip(problem.readings, upper, strict=True)
        ),
    )


def test_a_square_over_its_height_is_a_sweep_over_its_diameter() -> None:
    """Similar triangles: 3 thou over 5 in is 6 thou over 10 in."""
    answer = solve(_square("-3 0 3 0"))
    assert answer.front_minus_back == pytest.approx(6)
    assert answer.right_minus_left == pytest.approx(0)
    assert answer.saddle == pytest.approx(0)


def test_a_square_that_is_not_square_cancels_against_itself() -> None:
    """Reversal: an error of the square is the same at opposite stations, the table's turns."""
    true, false = solve(_square("-3 1 3 -1")), solve(_square("-1 3 5 1"))
    assert false.front_minus_back == pytest.approx(true.front_minus_back)
    assert false.right_minus_left == pytest.approx(true.right_minus_left)


def test_no_light_is_not_zero_but_less_than_the_thinnest_leaf_either_way() -> None:
    budget = solve(_square("0 0 0 0", "1.5 1.5 1.5 1.5")).budget.front_minus_back
    gauge = next(part for part in budget.components if part.source == "gauge")
    # Two readings within +-1.5 over 5 in, each half of it over 10 in: sqrt 2 * 1.5 / sqrt 3.
    assert gauge.u == pytest.approx(sqrt(2) * 1.5 / sqrt(3))


def test_a_face_that_counts_one_way_round() -> None:
    table = """
    indicator = { face = "continuous", per_turn = "100" }
    readings = { back = "97", right = "99", front = "1", left = { value = "45", turns = 0 } }
    closing = "97"
    """
    values = [reading.value.to("thou") for reading in problem_from_text(table).readings]
    assert values == [-3, -1, 1, 45]
    assert problem_from_text(table).closing == length("-3")


BAD = [
    ('indicator = { face = "continuous" }', "per_turn is missing"),
    ('indicator = { face = "round", per_turn = 100 }', "use balanced or continuous"),
    ('indicator = { higher = "up" }', "use plus or minus"),
    ('indicator = { tip = "ruby" }', "use ball or involute"),
    ("indicator = { lever = 90 }", "give degrees from 0 to 80"),
    ('indicator = { lever = "40", tip = "involute" }', "lay the lever flatter"),
    ("indicator = { levr = 10 }", "did you mean lever"),
    ('method = "square"', "needs square_height"),
    ('method = "square"\nsquare_height = 0\nsweep_diameter = "10 in"', "is not above zero"),
]


@pytest.mark.parametrize(("more", "reason"), BAD)
def test_a_rig_that_cannot_be_used_is_said_so(more: str, reason: str) -> None:
    with pytest.raises(ReadingsFileError, match=reason):
        problem_from_text(f"readings = {{ back = 6, right = 4, front = 0, left = 3 }}\n{more}")


@pytest.mark.parametrize(
    ("readings", "reason"),
    [
        ("{ back = { value = 6, no_go = 7 }, right = 1, front = 1, left = 1 }", "a dial has none"),
        ("{ back = { value = 6, turns = 1 }, right = 1, front = 1, left = 1 }", "needs indicator"),
        (
            "{ back = { value = 6, turn = 1 }, right = 1, front = 1, left = 1 }",
            "did you mean turns",
        ),
        (
            '{ back = 6, right = 1, front = 1, left = 1 }\nmethod = "gap"\nclosing = "-1"',
            "negative",
        ),
    ],
)
def test_readings_that_cannot_be_are_said_so(readings: str, reason: str) -> None:
    with pytest.raises(ReadingsFileError, match=reason):
        problem_from_text(f"readings = {readings}")


def test_half_a_turn_wants_its_turns() -> None:
    table = """
    indicator = { face = "continuous", per_turn = "100" }
    readings = { back = "0", right = "50", front = "1", left = "45" }
    """
    with pytest.raises(ReadingsFileError, match=r"readings\.right is just half a turn"):
        problem_from_text(table)
    with pytest.raises(ReadingsFileError, match="is not on a dial of 100"):
        problem_from_text(table.replace('"50"', '"100"'))
