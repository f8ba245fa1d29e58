"""The study of many machines: its judging, and a few jobs of it."""

from dataclasses import replace
from decimal import Decimal
from math import hypot

import pytest

from assistant.dialogue.messages import Step
from assistant.metrology.budget import SweepBudget
from assistant.metrology.solve import solve
from assistant.metrology.uncertainty import Budget, Component
from tests.benchmarks.study import (
    Job,
    OpenBench,
    _is_noise,
    draw,
    main,
    play,
    proving_sweeps,
)
from tests.benchmarks.study_table import table
from tests.metrology.sweeps import sweep


def test_a_dozen_jobs_end_and_are_what_they_claim() -> None:
    jobs = [play(seed) for seed in range(12)]
    assert not [job.ended for job in jobs if job.ended]
    assert sum(job.claimed and job.within for job in jobs) >= 10
    held = [one for job in jobs for one in job.intervals]
    assert sum(held) / len(held) > 0.85


def test_the_same_seed_plays_the_same_job() -> None:
    assert play(3) == play(3)


def test_settled_truth_is_the_mean_over_lockings() -> None:
    machine, _ = draw(5)
    bench = OpenBench(machine)
    seen = []
    for _ in range(2000):
        bench.ease_lock()
        bench.lock_all()
        seen.append((bench.front_minus_back, bench.right_minus_left))
    front, right = bench.settled
    assert sum(pair[0] for pair in seen) / 2000 == pytest.approx(front, abs=0.06)
    assert sum(pair[1] for pair in seen) / 2000 == pytest.approx(right, abs=0.06)


def test_best_tilt_is_what_the_best_stack_leaves() -> None:
    machine, _ = draw(5)
    bench = OpenBench(machine)
    alone = bench.best_tilt((), 3)
    assert alone == pytest.approx(abs(machine.front_minus_back))
    exact = Decimal(str(abs(machine.front_minus_back) / machine.response))
    assert bench.best_tilt((exact,), 1) == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(
    ("settled", "noise"),
    [((6.0, 0.0), False), ((3.1, 0.0), False), ((2.9, 0.0), True), ((-1.0, 0.0), True)],
)
def test_what_counts_as_noise(settled: tuple[float, float], noise: bool) -> None:
    """Six found at the front: at least half of it must be there."""
    answer = solve(sweep("0 3 6 3"))
    assert _is_noise(Step("shim"), answer, settled) is noise


def test_table_counts_each_kind_of_ending() -> None:
    jobs = [
        Job(2, 2, claimed=True, within=True, could_prove=True, intervals=[True, True]),
        Job(2, 2, claimed=True, within=False, intervals=[True, False]),
        Job(3, 2, could_prove=True),
        Job(5, 2, within=True),
        Job(ended="stuck"),
    ]
    few = [Job(1, 1, claimed=True, within=True)]
    drawn = table({"4 thou": jobs, "8 thou": few}, [True, False])
    lines = {" ".join(line.split()) for line in drawn.splitlines()}
    assert "5 machines, tolerance over the sweep 4 thou 8 thou goal" in lines
    assert "jobs that came to their end 80.0 % 100.0 % 100 %" in lines
    assert "said to be within, but was not 20.0 % 0.0 % < 5 %" in lines
    assert "stopped too early: better was possible, and provable 20.0 % 0.0 % < 5 %" in lines
    assert "not provable with these leaves and this noise, and said so 20.0 % 0.0 %" in lines
    assert "corrections that chased more noise than error - - < 5 %" in lines
    assert "sweeps a job 3.00 1.00" in lines
    assert "not ended: stuck" in lines


def test_the_fewest_sweeps_by_hand() -> None:
    """One axis of u 0.5, of which a mean of n keeps 0.5 / sqrt n: a disc of radius 1.

    By the Rayleigh distribution (a textbook one) the middle of a disc holds
    1 - exp(-1 / (2 u^2)): 0.86 for one sweep, 0.98 for two, so that a level table takes two.
    """
    one = Budget((Component("surface", 0.5),))
    budget = SweepBudget(one, one, one, ((0.25, 0.0), (0.0, 0.25)))
    single = replace(solve(sweep("0 0 0 0")), budget=budget)
    assert proving_sweeps(single, 1.0, 0.0) == 2
    assert proving_sweeps(single, 4.0, 3.0) == 1
    assert proving_sweeps(single, 4.0, 4.0) is None


def test_machines_differ_and_tell_their_owner_little() -> None:
    drawn = [draw(seed) for seed in range(40)]
    assert len({machine.response for machine, _ in drawn}) == 40
    assert {profile.span is None for _, profile in drawn} == {True, False}
    assert min(hypot(m.front_minus_back, m.right_minus_left) for m, _ in drawn) < 3


def test_command_prints_the_table(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--machines", "2", "--tolerances", "4"]) == 0
    assert "2 machines" in capsys.readouterr().out
    with pytest.raises(SystemExit):
        main(["--machines", "0"])
    assert "give a count" in capsys.readouterr().err
    with pytest.raises(SystemExit):
        main(["--tolerances", "0"])
    assert "give sizes in thou" in capsys.readouterr().err
