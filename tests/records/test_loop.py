"""The loop and the record together: taking up, going on, and what is said about faults."""

import sqlite3
from dataclasses import replace
from pathlib import Path
from typing import Literal

import pytest

from assistant.bench.loop import JOBS_LEARNT, Loop, last_lines
from assistant.bench.timekeeping import spoken_day
from assistant.dialogue import wording
from assistant.dialogue.messages import (
    Device,
    DeviceBack,
    DeviceLost,
    Effect,
    Event,
    Heard,
    Listen,
    Resumed,
    Say,
    Started,
)
from assistant.dialogue.questions import question
from assistant.dialogue.step import fold, step
from assistant.records.faults import RecordError
from assistant.records.journal import resume, schema
from assistant.records.journal.journal import Journal
from assistant.records.whole_files import replace_file
from grammar.meaning import Command
from tests.records.jobs import record, rehearsed

EVENTS = rehearsed(1).events
FIRST = EVENTS[0]
assert isinstance(FIRST, Started)
PROFILE = FIRST.profile


def _loop(journal: Journal, effects: list[Effect], at: str = "2031-05-05T08:00:00Z") -> Loop:
    return Loop(journal, PROFILE, effects.append, clock=lambda: at, job_id=lambda: "new-job")


def _said(effects: list[Effect]) -> list[str]:
    return [effect.text for effect in effects if isinstance(effect, Say)]


@pytest.mark.parametrize("count", range(1, len(EVENTS)))
def test_a_job_stopped_anywhere_is_taken_up_where_it_was(tmp_path: Path, count: int) -> None:
    path, effects = tmp_path / "jobs.db", list[Effect]()
    record(path, EVENTS[:count], close=False)
    with Journal.open(path) as journal:
        loop = _loop(journal, effects)
        loop.open_job()
        before = fold(EVENTS[:count])
        assert loop.state is not None
        assert before is not None
        assert (loop.state.job, loop.state.phase) == (before.job, before.phase)
        assert loop.state.readings == before.readings
        assert loop.state.sweeps == before.sweeps
        *kept, resumed = journal.events("job-1")
        assert tuple(kept) == EVENTS[:count]
        assert isinstance(resumed, Resumed)
        assert resumed.day == spoken_day(EVENTS[count - 1].at, resumed.at) != ""
    assert isinstance(effects[-1], Listen)
    assert _said(effects)


def test_what_is_stale_is_dropped(tmp_path: Path) -> None:
    """Input of a turn that is over changes nothing, though it is in the record."""
    path, effects = tmp_path / "jobs.db", list[Effect]()
    record(path, EVENTS[:12], close=False)
    with Journal.open(path) as journal:
        loop = _loop(journal, effects)
        loop.open_job()
        before = loop.state
        assert before is not None
        for turn in (before.turn - 1, 0, before.turn + 1):
            loop.post(Heard("2031", turn, "voice", "accept", "yes", Command("yes")))
            assert loop.state == before


def test_a_clock_that_goes_backwards_changes_no_order(tmp_path: Path) -> None:
    path, effects = tmp_path / "jobs.db", list[Effect]()
    record(path, EVENTS[:12], close=False)
    with Journal.open(path) as journal:
        loop = _loop(journal, effects, at="1999-12-31T23:59:59Z")
        loop.open_job()
        before = fold(EVENTS[:12])
        assert loop.state is not None
        assert before is not None
        assert (loop.state.phase, loop.state.readings) == (before.phase, before.readings)
        loop.post(Heard("1999", loop.state.turn, "voice", "accept", "no", Command("no")))
    with Journal.open(path) as journal:
        assert journal.events("job-1")[13].at == "1999-12-31T23:59:59Z"
        assert [job.id for job in journal.jobs()] == ["job-1", "new-job"]
        assert [job.id for job in journal.unfinished()] == ["new-job", "job-1"]


def test_a_job_that_ended_without_being_closed_is_closed_and_not_offered(tmp_path: Path) -> None:
    path, effects = tmp_path / "jobs.db", list[Effect]()
    record(path, EVENTS, close=False)
    with Journal.open(path) as journal:
        _loop(journal, effects).open_job()
        assert [job.id for job in journal.unfinished()] == ["new-job"]
        assert journal.job("job-1").closed_at is not None
    assert (tmp_path / "job-1.html").exists()
    assert _said(effects)[0] == wording.REPORT_WRITTEN


def test_a_rescued_record_is_told_and_the_job_goes_on(tmp_path: Path) -> None:
    path, effects = tmp_path / "jobs.db", list[Effect]()
    record(path, EVENTS[:20], close=False)
    data = path.read_bytes()
    place = data.index(b'"turn":15,')
    path.write_bytes(data[:place] + b'"turn":99,' + data[place + 10 :])
    with Journal.open(path) as journal:
        loop = _loop(journal, effects)
        loop.open_job()
        assert journal.rescued is not None
        kept = journal.rescued.events
        assert 10 < kept < 20
        assert journal.events("job-1")[:-1] == EVENTS[:kept]
        assert loop.state is not None
        assert loop.state.job == "job-1"
    assert _said(effects)[0] == wording.RECORD_DAMAGED


def test_nothing_is_appended_behind_an_event_of_a_newer_version(tmp_path: Path) -> None:
    path, effects = tmp_path / "jobs.db", list[Effect]()
    record(path, EVENTS[:12], close=False)
    body = '{"kind":"whistled","at":"2031"}'
    connection = sqlite3.connect(path)
    row = ("job-1", 13, body, schema.crc_of("job-1", 13, body.encode()))
    connection.execute("INSERT INTO events (job, number, body, crc) VALUES (?, ?, ?, ?)", row)
    connection.commit()
    connection.close()
    with Journal.open(path) as journal:
        loop = _loop(journal, effects)
        loop.open_job()
        assert loop.state is not None
        assert loop.state.job == "new-job"
        assert journal.job("job-1").events == 13
    assert _said(effects)[0] == wording.RECORD_DAMAGED


def test_snapshots_are_kept_by_the_loop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(resume, "EVERY", 5)
    with Journal.open(tmp_path / "jobs.db") as journal:
        loop = _loop(journal, [])
        loop.begin()
        for event in EVENTS[1:]:
            loop.post(event)
        kept = journal.snapshot("new-job", resume.code_version())
        assert kept is not None
        assert kept[0] == len(EVENTS) // 5 * 5


def test_a_report_that_cannot_be_written_is_told_and_the_job_is_closed(tmp_path: Path) -> None:
    effects: list[Effect] = []
    (tmp_path / "new-job.html").mkdir()
    with Journal.open(tmp_path / "jobs.db") as journal:
        loop = _loop(journal, effects)
        loop.begin()
        for event in EVENTS[1:]:
            loop.post(event)
        assert _said(effects)[-1] == wording.REPORT_FAILED
        assert loop.report is None
        assert journal.job("new-job").closed_at is not None
    with pytest.raises(RecordError):
        replace_file(tmp_path / "new-job.html", b"x")


def _kinds(events: tuple[Event, ...]) -> list[type]:
    return [type(event) for event in events]


def _no(loop: Loop) -> None:
    assert loop.state is not None
    loop.post(Heard("2031", loop.state.turn, "voice", "accept", "no", Command("no")))


def test_a_job_that_is_not_wanted_now_is_kept_and_the_one_before_is_offered(
    tmp_path: Path,
) -> None:
    path, effects = tmp_path / "jobs.db", list[Effect]()
    record(path, EVENTS[:12], close=False)
    assert isinstance(EVENTS[0], Started)
    record(path, (replace(EVENTS[0], job="job-2"), *EVENTS[1:9]), close=False)
    with Journal.open(path) as journal:
        loop = _loop(journal, effects)
        loop.open_job()
        assert loop.state is not None
        assert loop.state.job == "job-2"
        _no(loop)
        assert loop.state.job == "job-1"
        _no(loop)
        assert loop.state.job == "new-job"
        assert _kinds(journal.events("new-job")) == [Started]
        assert {row.id for row in journal.unfinished()} == {"job-1", "job-2", "new-job"}


def test_files_deleted_during_a_job_are_told_spoken_and_named_at_the_end(tmp_path: Path) -> None:
    path, effects, read = tmp_path / "jobs.db", list[Effect](), list[str]()
    with Journal.open(path) as journal:
        loop = Loop(journal, PROFILE, effects.append, problem=read.append)
        loop.begin()
        assert last_lines(loop)[0].startswith("job ")
        for file in tmp_path.iterdir():
            file.unlink()
        effects.clear()
        assert loop.state is not None
        loop.post(Heard("2031", loop.state.turn, "text", "accept", "yes", Command("yes")))
        assert _said(effects)[0] == wording.RECORD_MOVED
        assert len(_said(effects)) == 2
        assert read == [f"the record's files were deleted or replaced: all is kept in {path}"]
        assert last_lines(loop)[0].endswith(f"all is kept in {path}")
        assert len(journal.events(loop.state.job)) == 2


@pytest.mark.parametrize("device", ["speaker", "voice"])
def test_what_is_asked_is_said_again_when_it_can_be_heard_again(device: Device) -> None:
    state = fold(EVENTS[:9])
    assert state is not None
    lost, _ = step(state, DeviceLost("2031", device, "pulled out"))
    back, effects = step(lost, DeviceBack("2031", device))
    # The turn stays: what is being answered meanwhile counts.
    assert back == state
    assert _said(list(effects)) == [wording.device_back(device), question(state)]
    assert _said(list(step(back, DeviceBack("2031", device))[1])) == []
    waiting, _ = step(replace(lost, standing_by=True), DeviceBack("2031", device))
    assert _said(list(step(replace(lost, standing_by=True), DeviceBack("2031", device))[1])) == [
        wording.device_back(device)
    ]
    assert waiting.standing_by


@pytest.mark.parametrize(
    ("then", "spoken"),
    [
        ("2031-05-14T12:00:00Z", "today"), ("2031-05-13T12:00:00Z", "yesterday"),
        ("2031-05-10T12:00:00Z", "Saturday"), ("2031-05-07T12:00:00Z", "one week ago"),
        ("2031-04-20T12:00:00Z", "three weeks ago"), ("2030-12-01T12:00:00Z", "five months ago"),
        ("2027-05-01T12:00:00Z", "four years ago"), ("2032-01-01T12:00:00Z", "today"),
        ("no time", ""),
    ],
)  # fmt: skip
def test_a_day_is_spoken_of_as_people_do(then: str, spoken: str) -> None:
    assert spoken_day(then, "2031-05-14T13:00:00Z") == spoken


@pytest.mark.parametrize(
    ("finished", "prompts", "short"),
    [
        (JOBS_LEARNT - 1, "usual", False), (JOBS_LEARNT, "usual", True),
        (JOBS_LEARNT, "long", False), (0, "short", True),
    ],
)  # fmt: skip
def test_who_finished_three_jobs_hears_the_short_form_unless_it_is_set(
    tmp_path: Path, finished: int, prompts: Literal["usual", "short", "long"], short: bool
) -> None:
    first = EVENTS[0]
    assert isinstance(first, Started)
    with Journal.open(tmp_path / "jobs.db") as journal:
        for n in range(JOBS_LEARNT + 1):
            # One more was begun and not finished: it teaches nothing. Machines do not matter.
            journal.start(f"old-{n}", f"machine {n}", "2031-01-01T12:00:00Z")
            journal.append(f"old-{n}", replace(first, job=f"old-{n}"))
            if n < finished:
                journal.close_job(f"old-{n}", "2031-01-02T12:00:00Z")
        effects: list[Effect] = []
        loop = Loop(journal, PROFILE, effects.append, job_id=lambda: "new", prompts=prompts)
        loop.begin()
        assert loop.state is not None
        assert loop.state.short is short
        (started,) = journal.events("new")
        assert isinstance(started, Started)
        assert started.short is short
    assert _said(effects)[0].startswith("Unplugged," if short else "Is the machine unplugged?")
