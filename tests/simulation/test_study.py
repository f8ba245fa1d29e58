"""The study of many machines: its judging, and a few jobs of it."""

from decimal import Decimal
from math import hypot

import pytest

from assistant.dialogue.messages import Step
from assistant.metrology.solve import solve
from assistant.simulation.study import Job, OpenBench, _is_noise, draw, main, play, table
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
    lines = {" ".join(line.split()) for line in table(jobs, [True, False]).splitlines()}
    assert "5 machines" in lines
    assert "jobs that came to their end 80.0 % 100 %" in lines
    assert "said to be within, but was not 20.0 % < 5 %" in lines
    assert "stopped beyond tolerance though better was possible 20.0 % < 5 %" in lines
    assert "sweeps a job 3.00" in lines
    assert "not ended: stuck" in lines


def test_machines_differ_and_tell_their_owner_little() -> None:
    drawn = [draw(seed) for seed in range(40)]
    assert len({machine.response for machine, _ in drawn}) == 40
    assert {profile.span is None for _, profile in drawn} == {True, False}
    assert min(hypot(m.front_minus_back, m.right_minus_left) for m, _ in drawn) < 3


def test_command_prints_the_table(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--machines", "2"]) == 0
    assert "2 machines" in capsys.readouterr().out
    with pytest.raises(SystemExit):
        main(["--machines", "0"])
    assert "give a count" in capsys.readouterr().err
