"""The study of many machines: its judging, its table, and a few jobs of each kind."""

import random
from dataclasses import replace
from decimal import Decimal
from math import hypot, inf, sqrt
from pathlib import Path

import pytest

from assistant.dialogue.messages import Step
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.state import State
from assistant.metrology.budget import SweepBudget
from assistant.metrology.lengths import Length
from assistant.metrology.solve import solve
from assistant.metrology.uncertainty import Budget, Component
from assistant.simulation.bench import Machine, profile_for
from assistant.simulation.rehearsal import Rehearsal, Tally
from assistant.simulation.wording import Manner
from grammar.vocabulary import Station
from tests.benchmarks.study.__main__ import main
from tests.benchmarks.study.job import (
    PART,
    Job,
    _end,
    _Watch,
    causes_in,
    fewest_of,
    inside_ellipse,
    play,
    play_as,
)
from tests.benchmarks.study.machines import KINDS, draw
from tests.benchmarks.study.person import Mistakes, Person
from tests.benchmarks.study.surface import Surface
from tests.benchmarks.study.table import table, wilson
from tests.benchmarks.study.worn import WornBench
from tests.metrology.sweeps import sweep


def test_quiet_machines_end_square_and_are() -> None:
    jobs = [play("quiet", seed, 4.0) for seed in range(6)]
    assert [job.ended for job in jobs] == ["square"] * 6
    assert all(job.within for job in jobs)
    assert sum(job.left for job in jobs) < sum(job.found for job in jobs) / 3
    assert sum(job.sweeps for job in jobs) <= 6 * 4
    held = [one for job in jobs for one in job.axes]
    assert sum(held) / len(held) > 0.9


@pytest.mark.parametrize("name", KINDS)
def test_every_class_can_be_played(name: str) -> None:
    """The person has an answer to whatever is asked, and a job comes to one of its ends."""
    tolerance = KINDS[name].tolerances[-1]
    job = play(name, 1, tolerance)
    assert job.ended in ("square", "cannot", "round", "stuck")
    assert "does not know" not in job.why
    assert job.axes or job.ended != "square"
    assert job.sweeps <= 12


def _played(front: float, right: float, mistakes: Mistakes) -> Job:
    """A perfect machine that is out by so much, and somebody who makes mistakes at it."""
    profile = profile_for()
    machine = Machine(profile.scale, front, right, response=2.0)
    bench = WornBench(machine, Surface(1, 5.0))
    person = Person(bench, profile, random.Random(1), Manner(), mistakes)
    return play_as(person, profile, Job("quiet", 1, 4.0))


def test_without_noise_and_mistakes_the_truth_is_always_inside() -> None:
    job = _played(9.0, -6.0, Mistakes())
    assert job.found == pytest.approx(hypot(9.0, 6.0))
    assert job.ended == "square"
    assert all(job.axes + job.axes_settled + job.joint + job.spoken)
    assert (job.wrong, job.exchanged, job.needless) == (0, 0, 0)


def test_sides_that_are_exchanged_are_outside_and_survive() -> None:
    job = _played(3.0, 3.0, Mistakes(exchange=1.0))
    assert False in job.axes
    assert False in job.joint
    # The tilt has its size, whichever way it is said to point: the spoken figure is right.
    assert job.spoken[0]
    level = _played(0.0, 0.0, Mistakes(exchange=1.0))
    assert all(level.axes)
    assert level.exchanged == 0


def test_a_correction_of_nothing_is_needless(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(WornBench, "locked_truth", property(lambda _: (1.9, 0.0)))
    assert _played(9.0, 0.0, Mistakes()).needless >= 1
    monkeypatch.setattr(WornBench, "locked_truth", property(lambda _: (2.1, 0.0)))
    assert _played(9.0, 0.0, Mistakes()).needless == 0


def test_a_wrong_reading_behind_a_claim_is_counted() -> None:
    """Right and front three too high are a plane to every check of the sweep."""
    profile = profile_for()
    known = tuple(Decimal(value) for value in ("0", "0.5", "-0.5", "0", "0.5", "0", "-0.5", "0"))
    wide = replace(profile, tolerance=Length.of(Decimal(9), "thou"), surface=known)
    bench = WornBench(Machine(profile.scale, 0.0, 0.0), Surface(1, 5.0))

    class Shifted(Person):
        def _look(self, station: Station) -> Decimal:
            seen = super()._look(station)
            return seen + 3 if self._phase == "sweep" and station in ("right", "front") else seen

    person = Shifted(bench, wide, random.Random(1), Manner(), Mistakes())
    job = play_as(person, wide, Job("quiet", 1, 9.0))
    assert job.ended == "square"
    assert job.wrong == 2
    # Further answers, of more stations, may come after the first one.
    assert False in job.axes[:2]


def test_a_job_is_the_same_each_time_and_told_word_by_word() -> None:
    lines: list[str] = []
    assert play("ordinary", 3, 4.0, lines.append) == play("ordinary", 3, 4.0)
    assert "> zeroed" in lines
    assert any(line.startswith("    [") and "truth" in line for line in lines)


@pytest.mark.parametrize(
    ("dof", "edge"), [(inf, 2.4477), (2.0, 6.1644), (10.0, 2.8645), (20.0, 2.6428)]
)
def test_the_ellipse_that_the_truth_should_be_in(dof: float, edge: float) -> None:
    """sqrt(2 F.95(2, nu)) from an F table: 19.00, 4.10, 3.49 for 2, 10, 20, and 2.996 without
    limit; 2.45 is also JCGM 102's coverage factor for an ellipse."""
    one = Budget((Component("surface", 0.5, dof),))
    budget = SweepBudget(one, one, one, ((0.25, 0.0), (0.0, 0.25)))
    answer = replace(solve(sweep("0 0 0 0")), budget=budget)
    assert inside_ellipse((0.5 * edge * 0.999, 0.0), answer)
    assert not inside_ellipse((0.5 * edge * 1.001, 0.0), answer)
    assert inside_ellipse((0.0, -0.5 * edge * 0.999), answer)


def test_the_ellipse_leans_with_its_covariance() -> None:
    # Derived: along an axis the ellipse reaches k times the standard deviation of that
    # difference given the other one, the root of a - b^2/d.
    one = Budget((Component("surface", 0.5),))
    budget = SweepBudget(one, one, one, ((1.0, 0.3), (0.3, 0.25)))
    answer = replace(solve(sweep("0 0 0 0")), budget=budget)
    along, across = 2.4477 * sqrt(1 - 0.09 / 0.25), 2.4477 * sqrt(0.25 - 0.09 / 1)
    for part, inside in ((0.999, True), (1.001, False)):
        assert inside_ellipse((part * along, 0.0), answer) is inside
        assert inside_ellipse((0.0, part * across), answer) is inside
    assert inside_ellipse((2.0, 0.8), answer)
    assert not inside_ellipse((2.0, -0.8), answer)


def test_an_end_is_told_from_going_round_and_from_being_stuck() -> None:
    ends = []
    for why in ("no end after 401 calls", "still not done after 12 sweeps", "off the dial", ""):
        job = Job("quiet", 1, 4.0)
        _end(job, Rehearsal(State("job", profile_for(), Close.CLOSED), (), Tally(ended=why)))
        ends.append(job.ended)
    assert ends == ["round", "round", "stuck", "cannot"]


def test_a_correction_counts_once_however_often_it_is_asked_for() -> None:
    person, _ = draw("quiet", 1, 4.0)
    watch = _Watch(Job("quiet", 1, 4.0), person, 4.0, len)
    for do in ("tap", "tap", "shim", "loosen", "shim"):
        watch.notice(Step(do))
    assert watch.job.corrections == 2
    person.sweeps_begun += 1
    watch.notice(Step("shim"))
    assert watch.job.corrections == 3


@pytest.mark.parametrize(
    ("front", "touch", "fewest", "provable"),
    [(1.0, 0.0, 1, True), (9.0, 0.0, 2, True), (9.0, 1.0, 2, True), (9.0, 1.5, 3, True),
     (9.0, 2.2, 5, True), (9.0, 2.5, 2, False)],
)  # fmt: skip
def test_the_fewest_sweeps_by_hand(front: float, touch: float, fewest: int, provable: bool) -> None:
    """A level table proves itself within 4 when 1 - exp(-8 / u^2) >= 0.95 (the Rayleigh
    distribution, a textbook one): u <= 1.63. One sweep has u = 1.41 touch, and n of them that
    over the root of n: 1.41 at once; 2.12 by two; 3.11 by four; 3.54 not by four. One sweep
    comes before them, to find how far it is out."""
    profile = profile_for()
    machine = Machine(profile.scale, front, 0.0, touch=touch, response=1.0)
    bench = WornBench(machine, Surface(1, 5.0))
    bench.lock_all()
    job = Job("quiet", 1, 4.0)
    fewest_of(job, bench, profile, 4.0)
    assert (job.fewest, job.provable) == (fewest, provable)


def test_a_table_that_nobody_corrected_is_left_as_it_was_found() -> None:
    """Settling locks it anew before the first sweep: that is nobody's doing it worse."""
    jobs = [play("rough-settled", seed, 8.0) for seed in range(6)]
    untouched = [job for job in jobs if not job.corrections]
    assert untouched
    assert [job.left for job in untouched] == pytest.approx([job.found for job in untouched])


def test_lengths_are_in_thou_whatever_the_dial() -> None:
    job = play("metric", 3, 4.0)
    person, _ = draw("metric", 3, 4.0)
    person.worn.lock_all()
    counts = hypot(*person.worn.plane)
    assert job.found == pytest.approx(counts / 2.5)
    assert job.ended == "square"
    assert job.left <= 4.0
    assert play("metric", 3, 2.0).found == pytest.approx(counts / 2.5)


@pytest.mark.parametrize(
    ("number", "of", "low", "high"),
    [(15, 50, 0.191, 0.4375), (0, 20, 0.0, 0.1611), (20, 20, 0.8389, 1.0)],
)
def test_wilson(number: int, of: int, low: float, high: float) -> None:
    # 15 of 50: a textbook case, from memory; 0 of n: z^2 / (n + z^2), derived.
    assert wilson(number, of) == pytest.approx((low, high), abs=5e-4)


def test_causes_are_heard_in_what_is_said_and_not_in_standing_prompts() -> None:
    assert causes_in(["Lock it. Not while it is loose.", "Loosen the tilt bolt."]) == []
    assert causes_in(["It does not move: is the clamp loose?"]) == ["loose", "seized"]
    assert causes_in(["The dial drifts. Warm up, tighten its clamp."]) == ["drift"]
    assert causes_in(["Something is loose: bar, dial or table."]) == ["loose"]
    assert causes_in(["Hollow zero."]) == []
    assert causes_in(["Plus or minus two, mostly drift."]) == [f"{PART}drift"]
    assert causes_in(["Hollow six.", "Warped: front and back five high."]) == ["warped", "dished"]
    assert causes_in(["Right and left changed places?"]) == ["exchange"]


def test_the_table_counts_each_kind_of_ending() -> None:
    good = Job("ordinary", 1, 4.0, ended="square", found=9.0, left=1.0, sweeps=2, fewest=2)
    false = replace(good, seed=2, left=5.0, settled=5.0, wrong=1)
    unsaid = replace(good, seed=3, ended="cannot", provable=True, found=0.5, left=1.4)
    worse = replace(good, seed=4, ended="cannot", left=10.1, corrections=4, needless=1)
    endless = replace(good, seed=5, ended="round", why="still not done", named=["drift"])
    stuck = replace(good, seed=6, ended="stuck", why="off the dial")
    for part in (good, false):
        part.axes, part.joint, part.spoken = [True, part is good], [part is good], [True]
    drawn = table("ordinary", {"4 thou": [good, false, unsaid, worse, endless, stuck]})
    lines = {" ".join(line.split()) for line in drawn.splitlines()}
    assert "ordinary, 6 machines, in % (95 % interval) 4 thou goal" in lines
    assert "said square 33.3 (9.7 to 70.0)" in lines
    assert "falsely square, of claims 50.0 (9.5 to 90.5) <= 2.5" in lines
    assert "truth inside, each axis 75.0 (30.1 to 95.4) 93 to 98" in lines
    assert "left more than 1 thou worse 16.7 (3.0 to 56.4) <= 1" in lines
    assert "corrections within half tolerance 25.0 (4.6 to 69.9) <= 2" in lines
    assert "cannot say though within 16.7 (3.0 to 56.4) <= 15" in lines
    assert "wrong readings in a claim 16.7 (3.0 to 56.4) <= 1" in lines
    assert "of several sweeps 16.7 (3.0 to 56.4) <= 1" in lines
    alone = table("quiet", {"4 thou": [false, replace(false, sweeps=1)]})
    assert "of several sweeps 100.0 (20.7 to 100.0) <= 1" in " ".join(alone.split())
    assert "sweeps / fewest 2.00 / 2.00 = 1.00 <= 1.5 quiet" in lines
    assert "a cause named 16.7 (3.0 to 56.4)" in lines
    assert "falsely square: 2@4" in lines
    assert "no end: 5@4 6@4" in lines
    assert "not ended, 1: off the dial" in lines
    seized = table("seized", {"4 thou": [replace(good, kind="seized", named=["seized"])]})
    assert "cause named: " in seized
    drift = replace(good, kind="drift", named=[f"{PART}drift"])
    other = replace(good, kind="drift", named=["slip"])
    lines = {" ".join(line.split()) for line in table("drift", {"4": [drift, other]}).splitlines()}
    assert 'cause named: "drift" 0.0 (0.0 to 65.8) >= 80' in lines
    assert "or as most of the plus or minus 50.0 (9.5 to 90.5)" in lines
    assert "another cause named 50.0 (9.5 to 90.5)" in lines


def test_the_command_prints_tables_and_takes_up_a_record(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    record = tmp_path / "jobs"
    asked = ["--machines", "2", "--classes", "quiet", "--tolerances", "8", "--processes", "1"]
    assert main([*asked, "--record", str(record)]) == 0
    first = capsys.readouterr().out
    assert "quiet, 2 machines" in first
    assert len(record.read_text().splitlines()) == 2
    # What is recorded counts and is not played again.
    record.write_text(record.read_text().replace('"ended": "square"', '"ended": "cannot"'))
    assert main([*asked, "--record", str(record)]) == 0
    assert capsys.readouterr().out != first
    assert len(record.read_text().splitlines()) == 2
    assert main(["--show", "quiet", "1", "8"]) == 0
    assert "Is the machine unplugged?" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        (["--machines", "0"], "give a count"),
        (["--tolerances", "0"], "give sizes in thou"),
        (["--show", "unheard", "1", "4"], "take one of ordinary"),
        (["--classes", "unheard"], "invalid choice"),
    ],
)
def test_what_cannot_be_played_is_said(
    asked: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        main(asked)
    assert told in f"{ended.value} {capsys.readouterr().err}"
