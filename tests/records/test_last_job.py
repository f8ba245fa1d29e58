"""What a further job takes from the record of the machine's earlier ones."""

import sqlite3
from collections.abc import Sequence
from contextlib import closing
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from assistant.bench.last_job import LOOKED_BACK, last_job
from assistant.bench.loop import Loop
from assistant.bench.timekeeping import aged
from assistant.devices.text.lines import event_of
from assistant.dialogue.facts import LastJob
from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Effect, Event, Say, Started
from assistant.dialogue.state import PACK_SIDES, State
from assistant.dialogue.step import fold, step
from assistant.metrology.lengths import Length
from assistant.records.journal import schema
from assistant.records.journal.history import history_of
from assistant.records.journal.journal import Journal
from assistant.records.journal.resume import load_state
from assistant.records.report.last_job_text import last_job_words
from assistant.records.report.wording import Words
from grammar.scale import Scale
from tests.dialogue.typed import FRONT_HIGH_SIX, LEVEL, PACKED, READY, RIGHT_HIGH_SIX, USUAL
from tests.records.jobs import record

MACHINE = replace(USUAL, name="knee mill, west")
SHIMMED = (*READY, "zeroed", *FRONT_HIGH_SIX, "done", "shim three above", "locked", "zeroed",
           *LEVEL, "yes", "done")  # fmt: skip
"""Six taken away by three above the bolt; left square (invented)."""
LEFT_OUT = (
    *READY,
    "zeroed",
    "plus twelve",
    "zero",
    "minus twelve",
    "zero",
    "finish",
    "yes",
    "done",
)
NOW = "2031-09-10T12:00:00Z"


def _job(
    name: str, day: str, lines: Sequence[str], profile: Profile = MACHINE
) -> tuple[Event, ...]:
    started = Started(f"{day}T08:00:00Z", name, profile)
    state, _ = step(None, started)
    events: list[Event] = [started]
    for line in lines:
        events.append(event_of(line, f"{day}T09:00:00Z", state.turn, profile.scale))
        state, _ = step(state, events[-1])
    return tuple(events)


def _told(path: Path, profile: Profile = MACHINE, at: str = NOW) -> LastJob | None:
    with Journal.open(path) as journal:
        return last_job(journal, profile, at)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "jobs.db"


def test_a_machine_without_a_job_has_no_last_one(path: Path) -> None:
    assert _told(path) is None
    record(path, _job("a", "2031-09-08", ("yes", "yes")))
    assert _told(path) is None


def test_the_last_job_tells_day_verdict_shim_and_response(path: Path) -> None:
    record(path, _job("a", "2031-09-08", SHIMMED))
    told = _told(path)
    assert told is not None
    assert (told.day, told.finished, told.within) == ("Monday", True, Length.of(4, "thou"))
    assert told.shim == 3
    (learnt,) = told.learnt
    assert (learnt.kind, learnt.over, learnt.at) == ("shim", Length.of(10, "in"), told.at)
    assert learnt.value == pytest.approx(2.0, abs=0.1)
    assert learnt.days == pytest.approx(2.125)


def test_a_job_left_out_of_square_tells_when_it_was_square_and_what_was_learnt(path: Path) -> None:
    record(path, _job("a", "2031-03-01", SHIMMED), _job("b", "2031-09-09", LEFT_OUT))
    told = _told(path)
    assert told is not None
    assert (told.day, told.within, told.square_day) == ("yesterday", None, "six months ago")
    assert told.tilt == pytest.approx(24.0)
    assert [round(one.days) for one in told.learnt] == [193]


def test_the_newest_of_what_was_learnt_counts_and_older_squares_are_not_told(path: Path) -> None:
    record(path, _job("a", "2030-03-01", SHIMMED), _job("b", "2031-09-09", SHIMMED))
    told = _told(path)
    assert told is not None
    assert (told.day, told.square_day) == ("yesterday", "")
    assert [round(one.days) for one in told.learnt] == [1]


def test_a_job_that_was_not_finished_tells_the_shim_as_it_stood(path: Path) -> None:
    record(path, _job("a", "2031-09-08", SHIMMED[:-8]), close=False)
    told = _told(path)
    assert told is not None
    assert (told.finished, told.within, told.shim) == (False, None, Decimal(3))
    assert told.learnt == ()


def test_square_is_only_what_was_gone_through_to_the_end(path: Path) -> None:
    record(path, _job("a", "2031-03-01", SHIMMED))
    record(path, _job("b", "2031-09-08", SHIMMED[:-2]), close=False)
    told = _told(path)
    assert told is not None
    assert (told.finished, told.within, told.square_day) == (False, None, "six months ago")


def test_a_job_begun_first_and_finished_last_is_the_last_one(path: Path) -> None:
    early, late = _job("a", "2031-09-01", SHIMMED), _job("b", "2031-09-05", LEFT_OUT)
    finished_later = tuple(
        event if place < 12 else replace(event, at="2031-09-08T09:00:00Z")
        for place, event in enumerate(early)
    )
    record(path, finished_later, late)
    told = _told(path)
    assert told is not None
    assert (told.day, told.shim) == ("Monday", Decimal(3))


@pytest.mark.parametrize(
    ("name", "same"),
    [
        ("Knee Mill, west", False),  # no name of a file, so it is taken letter by letter
        ("knee mill, wes", False), ("knee mill, west 2", False), ("", False),
        ("knee mill, west", True),
    ],
)  # fmt: skip
def test_machines_of_alike_names_are_not_mixed_up(path: Path, name: str, same: bool) -> None:
    record(path, _job("a", "2031-09-08", SHIMMED))
    assert (_told(path, replace(MACHINE, name=name)) is not None) == same


@pytest.mark.parametrize(
    ("name", "same"),
    [("Bench Drill-two", True), ("bench drill two 2", False), ("bench drill", False)],
)
def test_names_of_one_file_are_of_one_machine(path: Path, name: str, same: bool) -> None:
    record(path, _job("a", "2031-09-08", SHIMMED, replace(MACHINE, name="bench drill two")))
    assert (_told(path, replace(MACHINE, name=name)) is not None) == same


def test_a_machine_with_another_dial_now_is_told_in_its_counts(path: Path) -> None:
    record(path, _job("a", "2031-09-08", SHIMMED))
    told = _told(path, replace(MACHINE, scale=Scale("mm", 50, Decimal(1))))
    assert told is not None
    assert told.shim == Decimal("7.5")  # 0.003 in are 0.0762 mm, to half a hundredth
    assert told.within == Length.of(4, "thou")


def test_shims_under_the_feet_come_with_what_they_did(path: Path) -> None:
    lines = (*READY, "zeroed", *RIGHT_HIGH_SIX, "done", "done", "locked", "zeroed", *LEVEL,
             "yes", "done")  # fmt: skip
    packed = replace(PACKED, name=MACHINE.name)
    record(path, _job("a", "2031-09-08", lines, packed))
    told = _told(path, packed)
    assert told is not None
    assert told.under_left > 0
    assert [one.kind for one in told.learnt] == [PACK_SIDES]


def test_a_job_that_cannot_be_read_is_passed_over(path: Path) -> None:
    record(path, _job("a", "2031-03-01", SHIMMED))
    record(path, _job("b", "2031-09-09", LEFT_OUT[:-2]), close=False)
    body = '{"kind":"whistled","at":"2031"}'
    number = len(LEFT_OUT)
    row = ("b", number, body, schema.crc_of("b", number, body.encode()))
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("INSERT INTO events (job, number, body, crc) VALUES (?, ?, ?, ?)", row)
        connection.commit()
    told = _told(path)
    assert told is not None
    assert told.day == "six months ago"


def test_no_more_jobs_are_read_than_help(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    record(path, *(_job(f"j{n}", f"2031-08-{n + 1:02}", LEFT_OUT) for n in range(LOOKED_BACK + 3)))
    read: list[str] = []

    def noted(journal: Journal, job: str) -> State | None:
        read.append(job)
        return load_state(journal, job)

    monkeypatch.setattr("assistant.bench.last_job.load_state", noted)
    assert _told(path) is not None
    assert read == [f"j{n}" for n in reversed(range(3, LOOKED_BACK + 3))]
    read.clear()
    record(path, _job("square", "2031-09-09", SHIMMED))
    _told(path)
    assert read == ["square"]


def test_nobody_waits_for_a_job_of_thousands_of_events(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    events = _job("a", "2031-09-08", SHIMMED)
    record(path, events)
    monkeypatch.setattr("assistant.bench.last_job.MOST_EVENTS", len(events) - 1)
    assert _told(path) is None
    monkeypatch.setattr("assistant.bench.last_job.MOST_EVENTS", len(events))
    assert _told(path) is not None


def test_the_loop_begins_with_it_and_the_record_and_report_keep_it(path: Path) -> None:
    record(path, _job("a", "2031-09-08", SHIMMED))
    effects: list[Effect] = []
    with Journal.open(path) as journal:
        loop = Loop(journal, MACHINE, effects.append, clock=lambda: NOW, job_id=lambda: "b")
        loop.open_job()
        (started,) = journal.events("b")
        assert isinstance(started, Started)
        assert started.last == last_job(journal, MACHINE, NOW)
        said = [effect.text for effect in effects if isinstance(effect, Say)]
        assert said[0].startswith("Knee mill, west, Monday: square within four thou.")
        for line in (*READY[:3], "yes", *READY[3:], "zeroed", *LEVEL):
            assert loop.state is not None
            loop.post(event_of(line, NOW, loop.state.turn, MACHINE.scale))
        assert fold(journal.events("b")) == loop.state
        state = history_of(journal, "b").state
    notes = last_job_words(state, Words(MACHINE))
    assert notes[:2] == (
        "the job before was on 8 September 2031",
        "its shim of 3 thou above the tilt bolt was in as found",
    )
    assert notes[2].startswith(
        "a shim at the tilt bolt was first reckoned by the job of 8 September 2031: 2"
    )


@pytest.mark.parametrize(
    ("day", "days"), [("2026-02-11", 20), ("2025-03-03", 365), ("", 0), ("2027-01-01", 0), ("x", 0)]
)
def test_the_noise_of_a_machine_is_as_old_as_its_file_says(day: str, days: float) -> None:
    told = aged(Profile(surface_on=day), "2026-03-03T10:00:00.000Z")
    assert (told.surface_days, told.relock_days) == (days, 0)
