"""Repeated sweeps and the half-turn refit, through `solve` and from files."""

from dataclasses import replace
from math import inf, sqrt

import numpy as np
import pytest

from assistant.metrology.problem import Noise, Problem, ProblemError, StationReading, Sweep
from assistant.metrology.solve import solve
from assistant.metrology.stations import BEARING_OF
from assistant.records.readings.file_values import ReadingsFileError
from assistant.records.readings.readings_file import problem_from_text
from tests.metrology.sweeps import length, lengths, sweep

QUIET = Noise(
    reading_sd=length("0.5"),
    reading_dof=inf,
    relock_sd=length("0.5"),
    relock_dof=inf,
    resolution=length("0.5"),
)


def another(readings: str, refitted: bool = False) -> Sweep:
    values = zip(BEARING_OF, lengths(readings), strict=True)
    return Sweep(tuple(StationReading.at(name, value) for name, value in values), refitted=refitted)


def with_repeats(problem: Problem, *repeats: Sweep, relocked: bool = True) -> Problem:
    return replace(problem, repeats=repeats, relocked=relocked)


ROUNDING = 0.25 / 12


def test_mean_of_repeats() -> None:
    """Four alike: reading and lock fall to a quarter in variance, the surface's part stays.

    Readings that repeat to the count show no more than that rounding hides (0.144): the surface
    keeps 0.25 less that.
    """
    once = sweep("6 3 0 3", tolerance="4", noise=QUIET)
    answer = solve(with_repeats(once, another("5 3 1 3"), another("7 3 -1 3"), another("6 3 0 3")))
    assert answer.front_minus_back == pytest.approx(-6)
    front = answer.budget.right_minus_left.components
    found = {part.source: part.u for part in front if part.source != "station"}
    assert found["surface"] == pytest.approx(sqrt(2 * (0.25 - ROUNDING)))
    assert found["reading"] == pytest.approx(sqrt(2 * ROUNDING / 4))
    assert found["resolution"] == pytest.approx(sqrt(2 * ROUNDING / 4))
    assert found["relock"] == pytest.approx(0.25)
    assert answer.axial_slip is None
    assert answer.tap.dial_target == pytest.approx(3)


def test_without_relocking_the_lock_stays_in() -> None:
    once = sweep("6 3 0 3", noise=QUIET)
    answer = solve(with_repeats(once, another("6 3 0 3"), relocked=False))
    relock = [part.u for part in answer.budget.tilt.components if part.source == "relock"]
    assert relock == pytest.approx([0.5])


def test_a_mean_of_sweeps_holds_the_truth_as_often_as_it_says() -> None:
    """Seeded tables with bumps that stay, read four times each: the means within their U.

    Bumps of 0.5 lie under the stations; each reading scatters by 0.3 more. Were the bumps taken to
    average out like the readings, U would hold two truths in three.
    """
    random = np.random.default_rng(8)
    held, count, wide = 0, 250, 0.0
    for _ in range(count):
        surface = tuple(length(f"{value:.3f}") for value in random.normal(0, 0.58, 20))
        bumps = random.normal(0, 0.5, 4)
        called = bumps + random.normal(0, 0.3, (4, 4))
        texts = [" ".join(f"{value:.2f}" for value in row) for row in called]
        noise = Noise(surface=surface, relock_sd=length("0"), resolution=length("0.01"))
        once = sweep(texts[0], noise=noise)
        answer = solve(with_repeats(once, *(another(text) for text in texts[1:]), relocked=False))
        part = answer.budget.front_minus_back
        held += abs(answer.front_minus_back) <= part.expanded()
        wide += part.expanded() / count
    assert 0.91 <= held / count <= 0.985
    assert wide < 1.96 * sqrt(2) * 0.58, "four sweeps are better than one"


def _of_mean(share: float) -> float:
    """The bumps' part, and that share of what is redrawn: reading, rounding, lock."""
    return sqrt(2 * (0.25 - ROUNDING) + share * (2 * ROUNDING + 2 * ROUNDING + 0.25))


def test_refit_takes_the_spindle_out() -> None:
    """A table of -6 seen as -10 and, half a turn on, as -2: the spindle adds four (derived)."""
    once = sweep("10 5 0 5", tolerance="4", noise=QUIET)
    answer = solve(with_repeats(once, another("2 1 0 1", refitted=True)))
    assert (answer.front_minus_back, answer.right_minus_left) == pytest.approx((-6, 0))
    assert answer.axial_slip == pytest.approx((-4, 0))
    assert "axial_slip" in {notice.code for notice in answer.warnings}
    assert answer.as_json()["axial_slip"] == [-4, 0]
    assert answer.standard_uncertainty == pytest.approx(_of_mean(1 / 2))


def test_uneven_groups_weigh_the_same() -> None:
    once = sweep("10 5 0 5", noise=QUIET)
    answer = solve(
        with_repeats(once, another("10 5 0 5"), another("10 5 0 5"), another("2 1 0 1", True))
    )
    assert answer.front_minus_back == pytest.approx(-6)
    # One quarter of a third and one quarter of a whole variance: 1/3.
    assert answer.standard_uncertainty == pytest.approx(_of_mean(1 / 3))


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
