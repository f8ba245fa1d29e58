"""Killed and gone on with: nothing that was shown is lost, and the job ends the same.

`python -m tests.records.killing` does the same at every event, for more jobs, and at random
moments.
"""

from pathlib import Path

import pytest

from tests.records.killing import (
    Kill,
    Stage,
    ending,
    events_of,
    operator_at,
    play,
    steady_machine,
)

# Forking is what is wanted here; later Pythons warn because of numpy's threads.
pytestmark = pytest.mark.filterwarnings("ignore:.*fork:DeprecationWarning")


def test_killed_at_any_event_nothing_is_lost_and_the_end_is_the_same(tmp_path: Path) -> None:
    plain = play(tmp_path / "plain.db", operator_at(steady_machine(1)))
    count = events_of(tmp_path / "plain.db")
    assert count > 30
    assert plain.lost == 0
    # Each job is killed twice: the second time half a job on, behind the three events that take it
    # up again.
    half = (count + 1) // 2
    for number in range(1, half + 1, 3):
        # Before a commit and after it, in turn.
        stage: Stage = "before" if number % 2 else "after"
        kills = (Kill(number, stage), Kill(half + 3, stage))
        outcome = play(tmp_path / f"{number}.db", operator_at(steady_machine(1)), kills=kills)
        assert outcome.lives == 3, number
        assert outcome.lost == 0, number
        assert ending(outcome.state) == ending(plain.state), number


def test_killed_again_and_again_the_job_still_comes_to_its_end(tmp_path: Path) -> None:
    kills = tuple(Kill(9, "after" if k % 2 else "before") for k in range(6))
    operator = operator_at(steady_machine(2, "mm"), "mm")
    outcome = play(tmp_path / "jobs.db", operator, "mm", kills)
    assert outcome.lives == 7
    assert outcome.lost == 0
    assert outcome.state.phase == "closed"
