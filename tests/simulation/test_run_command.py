"""The real command played by the simulated person, to the end and through being killed."""

import random
from pathlib import Path

import pytest

from assistant.dialogue import pending
from assistant.dialogue.machine import Profile
from assistant.dialogue.procedures import close, safety
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.state import State
from assistant.dialogue.step import fold
from assistant.records.journal.codec import write_event
from assistant.records.journal.history import history_of
from assistant.records.journal.journal import Journal
from assistant.simulation.bench import Bench, draw_machine
from assistant.simulation.caller import Operator
from assistant.simulation.wording import EVERYDAY
from tests.simulation.command import Command

ALL = 300


def _person(seed: int) -> Operator:
    return Operator(Bench(draw_machine(seed)), Profile(), random.Random(seed), EVERYDAY)


def _state(record: Path) -> State:
    with Journal.open(record, write=False) as journal:
        (job,) = journal.jobs()
        state = fold(journal.events(job.id))
    assert state is not None
    return state


def test_a_whole_job_through_the_command(tmp_path: Path) -> None:
    person = _person(3)
    with Command(tmp_path / "job.db") as command:
        answered = command.play(person, ALL)
        assert command.end() == 0
    assert answered < ALL
    said = command.said()
    assert said[0] == safety.UNPLUGGED
    assert any(text.endswith(close.CLOSE) for text in said)
    state = _state(tmp_path / "job.db")
    assert state.phase is Close.CLOSED
    assert person.bench.tilt <= 4.0
    results = [row for row in command.rows if row.get("effect") == "result"]
    # A sweep whose last reading is taken back and called again is answered twice.
    numbers = dict.fromkeys(row["sweep"] for row in results)
    assert list(numbers) == list(range(1, len(state.sweeps) + 1))
    assert results[-1]["verdict"] == "within"


@pytest.mark.parametrize("first", [4, 11, 19])
def test_a_job_killed_on_the_way_goes_on_where_it_was(tmp_path: Path, first: int) -> None:
    record = tmp_path / "job.db"
    person = _person(5)
    with Command(record) as command:
        assert command.play(person, first) == first
        command.kill()
    printed = [row["event"] for row in command.rows if "event" in row]
    assert len(printed) == first + 1
    before = _state(record)
    with Command(record) as again:
        again.play(person, ALL)
        assert again.end() == 0
    assert again.said()[0].endswith(pending.GO_ON)
    assert again.said()[1] == pending.STILL_UNPLUGGED
    with Journal.open(record, write=False) as journal:
        (job,) = journal.jobs()
        kept = [write_event(event) for event in journal.events(job.id)]
    assert len(kept) > len(printed)
    after = _state(record)
    assert after.phase is Close.CLOSED
    assert person.bench.tilt <= 4.0
    with Journal.open(record, write=False) as journal:
        accepted = [kept.taken for kept in history_of(journal, job.id).readings]
    assert set(before.readings) <= set(accepted)


def test_the_end_of_input_keeps_the_job_for_the_next_time(tmp_path: Path) -> None:
    person = _person(8)
    with Command(tmp_path / "job.db") as command:
        command.play(person, 9)
        assert command.end() == 0
    state = _state(tmp_path / "job.db")
    assert state.phase is not Close.CLOSED
    assert not state.stopped
