"""A record that an earlier version wrote opens, is gone on with and shows the same."""

import json
import shutil
from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path

import pytest

from assistant.bench.loop import Loop
from assistant.devices.text.lines import event_of
from assistant.dialogue.messages import Effect, Event, Say, Started
from assistant.dialogue.step import fold
from assistant.records.journal import resume
from assistant.records.journal.codec import Json, encode
from assistant.records.journal.history import history_of
from assistant.records.journal.journal import Journal
from assistant.records.journal.resume import load_state
from tests.records.golden_record import (
    AT,
    FINISHED,
    LEFT,
    LEFT_OFF,
    LOOSE,
    MID_SWEEP,
    RECORD,
    TEXT,
    shown,
)

COME_TO = {"table-doubtful-12": (3, 0), "script-gap-asked": (0, 3)}
"""Sweeps finished, and readings of the next one with its zero, by the record's own events.

The first was left in the middle by the rules of its day; by today's its events go to the end.
"""


@pytest.fixture
def record(tmp_path: Path) -> Path:
    return Path(shutil.copy(RECORD, tmp_path))


def test_it_opens_undamaged_and_its_jobs_are_there(record: Path) -> None:
    with Journal.open(record) as journal:
        assert journal.rescued is None
        assert [(row.id, row.closed_at) for row in journal.jobs()] == [
            *((name, None) for name in LEFT_OFF),
            (FINISHED, AT),
        ]
        assert [row.id for row in journal.unfinished()] == list(reversed(LEFT_OFF))
        for row in journal.jobs():
            # Every event is read as it was written; a field added since has its default value.
            stored = journal._connection.execute(
                "SELECT body FROM events WHERE job = ? ORDER BY number", (row.id,)
            ).fetchall()
            events = journal.events(row.id)
            assert len(events) == len(stored) == row.events
            for event, (body,) in zip(events, stored, strict=True):
                assert _holds(encode(event, Event), json.loads(body)), body


def _holds(now: Json, then: Json) -> bool:
    """Whether everything that was written then is there now, at its place."""
    if isinstance(then, dict) and isinstance(now, dict):
        return all(key in now and _holds(now[key], each) for key, each in then.items())
    if isinstance(then, list) and isinstance(now, list):
        return len(now) == len(then) and all(map(_holds, now, then))
    return bool(now == then)


def test_what_is_shown_and_said_is_what_it_was(record: Path) -> None:
    meant = "if this is meant: python -m tests.records.golden_record writes it down"
    assert shown(record) == TEXT.read_text(encoding="utf-8"), meant
    left = Path(shutil.copy(LEFT, record.parent))
    assert shown(left) == LEFT.with_suffix(".txt").read_text(encoding="utf-8"), meant


@pytest.mark.parametrize("code", ["today's", "another"])
@pytest.mark.parametrize("name", LEFT_OFF)
def test_a_job_is_taken_up_from_its_events_whatever_the_snapshot_holds(
    record: Path, name: str, code: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    if code == "another":
        monkeypatch.setattr(resume, "code_version", lambda: "0" * 64)
    with Journal.open(record) as journal:
        kept = journal._connection.execute("SELECT number, length(body) FROM snapshots").fetchall()
        assert [number for number, _ in kept] == [count - 3 for count in LEFT_OFF.values()]
        assert min(size for _, size in kept) > 1000
        state = load_state(journal, name)
        assert state == fold(journal.events(name))
        assert state is not None
        assert (len(state.sweeps), len(state.readings)) == COME_TO[name]


def test_an_event_can_be_appended(record: Path) -> None:
    name = next(iter(LEFT_OFF))
    with Journal.open(record) as journal:
        number = journal.append(name, journal.events(name)[-1])
    assert number == LEFT_OFF[name] + 1


@pytest.fixture
def left(tmp_path: Path) -> Path:
    return Path(shutil.copy(LEFT, tmp_path))


def _go_on(record: Path, job: str, lines: Sequence[str]) -> tuple[Loop, list[str]]:
    """Take this job up and type these lines; the loop, and all that was said."""
    said: list[str] = []

    def perform(effect: Effect) -> None:
        if isinstance(effect, Say):
            said.append(effect.text)

    with Journal.open(record) as journal:
        first = journal.events(job)[0]
        assert isinstance(first, Started)
        loop = Loop(journal, first.profile, perform, clock=lambda: AT)
        loop.open_job()
        while loop.state is not None and loop.state.job != job:
            loop.post(event_of("no", AT, loop.state.turn, first.profile.scale))
        for line in lines:
            assert loop.state is not None
            loop.post(event_of(line, AT, loop.state.turn, first.profile.scale))
    return loop, said


def test_a_job_left_in_mid_sweep_is_finished_with_what_was_read(left: Path) -> None:
    loop, said = _go_on(left, MID_SWEEP, ("yes", "yes", "yes"))
    assert loop.state is not None
    assert [(one.station, one.value) for one in loop.state.readings] == [
        ("back", Decimal(0)), ("right", Decimal(3)),
    ]  # fmt: skip
    assert said[-1] == "Front?"
    loop, _ = _go_on(left, MID_SWEEP, ("yes", "yes", "yes", "plus six", "plus three", "zero"))
    assert loop.state is not None
    (sweep,) = loop.state.sweeps
    assert sweep.answer.front_minus_back == 6
    with Journal.open(left) as journal:
        history = history_of(journal, MID_SWEEP)
    # The sweep before it, of which nobody could say that it still held.
    assert [kept.undone.reason for kept in history.undone if kept.undone] == ["moved since"] * 2


def test_a_job_left_with_the_bolt_loose_says_so_and_takes_no_reading(left: Path) -> None:
    loop, said = _go_on(left, LOOSE, ("yes", "yes", "plus one", "right zero"))
    assert any("The table is loose. Hold it." in text for text in said)
    assert loop.state is not None
    assert loop.state.loosened
    assert loop.state.readings == ()
    level = ("zero", "zero", "zero", "zero")
    loop, said = _go_on(left, LOOSE, ("yes", "yes", "locked", "zeroed", *level, "yes", "done"))
    assert loop.over
    assert loop.report is not None
    with Journal.open(left) as journal:
        assert journal.job(LOOSE).closed_at == AT
        assert [len(sweep.readings) for sweep in history_of(journal, LOOSE).sweeps] == [5, 5]
