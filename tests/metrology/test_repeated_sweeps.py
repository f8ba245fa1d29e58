"""Repeated sweeps and the half-turn refit, through `solve` and from files."""

from dataclasses import replace
from math import sqrt

import pytest

from assistant.metrology.problem import Noise, Problem, ProblemError, Reading, Sweep
from assistant.metrology.solve import solve
from assistant.metrology.stations import BEARING_OF
from assistant.records.file_values import ReadingsFileError
from assistant.records.readings_file import problem_from_text
from tests.metrology.sweeps import length, lengths, sweep

QUIET = Noise(reading_sd=length("0.5"), relock_sd=length("0.5"), resolution=length("0.5"))


def another(readings: str, refitted: bool = False) -> Sweep:
    values = zip(BEARING_OF, lengths(readings), strict=True)
    return Sweep(tuple(Reading.at(name, value) for name, value in values), refitted=refitted)


def with_repeats(problem: Problem, *repeats: Sweep, relocked: bool = True) -> Problem:
    return replace(problem, repeats=repeats, relocked=relocked)


def test_mean_of_repeats() -> None:
    once = sweep("6 3 0 3", tolerance="4", noise=QUIET)
    answer = solve(with_repeats(once, another("5 3 0 3"), another("7 3 0 3"), another("6 3 0 3")))
    assert answer.front_minus_back == pytest.approx(-6)
    assert answer.standard_uncertainty == pytest.approx(solve(once).standard_uncertainty / 2)
    assert answer.axial_slip is None
    assert answer.tap.dial_target == pytest.approx(3)


def test_without_relocking_the_lock_stays_in() -> None:
    once = sweep("6 3 0 3", noise=QUIET)
    answer = solve(with_repeats(once, another("6 3 0 3"), relocked=False))
    u = solve(once).budget.tilt.u
    assert answer.budget.tilt.u == pytest.approx(sqrt((u**2 - 0.25) / 2 + 0.25))


def test_refit_takes_the_spindle_out() -> None:
    """A table of -6 seen as -10 and, half a turn on, as -2: the spindle adds four (derived)."""
    once = sweep("10 5 0 5", tolerance="4", noise=QUIET)
    answer = solve(with_repeats(once, another("2 1 0 1", refitted=True)))
    assert (answer.front_minus_back, answer.right_minus_left) == pytest.approx((-6, 0))
    assert answer.axial_slip == pytest.approx((-4, 0))
    assert "axial_slip" in {notice.code for notice in answer.warnings}
    assert answer.as_json()["axial_slip"] == [-4, 0]
    assert answer.standard_uncertainty == pytest.approx(solve(once).standard_uncertainty / sqrt(2))


def test_uneven_groups_weigh_the_same() -> None:
    once = sweep("10 5 0 5", noise=QUIET)
    answer = solve(
        with_repeats(once, another("10 5 0 5"), another("10 5 0 5"), another("2 1 0 1", True))
    )
    assert answer.front_minus_back == pytest.approx(-6)
    # One quarter of a third and one quarter of a whole variance: 1/3.
    assert answer.standard_uncertainty == pytest.approx(solve(once).standard_uncertainty / sqrt(3))


def test_warning_of_several_sweeps_is_said_once() -> None:
    once = sweep("9 0 9 0", noise=QUIET)
    answer = solve(with_repeats(once, another("9 0 9 0"), another("9 0 9 0")))
    assert [notice.code for notice in answer.warnings].count("saddle") == 1


def test_repeats_are_checked_like_the_sweep() -> None:
    with pytest.raises(ProblemError, match="three stations"):
        with_repeats(sweep("1 2 3 4"), Sweep(()))


FILE = """
readings = { back = 10, right = 5, front = 0, left = 5 }
relocked = true
[[repeats]]
readings = { back = 2, right = 1, front = 0, left = 1 }
closing = 2
refitted = true
"""


def test_file_with_repeats() -> None:
    problem = problem_from_text(FILE)
    assert problem.relocked
    assert problem.repeats[0].refitted
    assert problem.repeats[0].closing == length("2")
    assert solve(problem).front_minus_back == pytest.approx(-6)


@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        ("relocked = true", 'relocked = "yes"', "relocked is neither true nor false"),
        ("refitted = true", "refitted = 1", r"repeats\[1\].refitted is neither"),
        ("back = 2, ", "", r"repeats\[1\].readings: back is missing"),
        ("closing = 2", "closed = 2", r"repeats\[1\].closed is not known; did you mean closing"),
        ("readings = { back = 2, right = 1, front = 0, left = 1 }", "", "readings are missing"),
    ],
)  # fmt: skip
def test_bad_repeats(old: str, new: str, reason: str) -> None:
    with pytest.raises(ReadingsFileError, match=reason):
        problem_from_text(FILE.replace(old, new))
