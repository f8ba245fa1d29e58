"""Exports hold everything, are read by other people's readers, and come back identical."""

import csv
import io
import json
import sqlite3
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from assistant.dialogue.messages import Event, Heard, Resumed, Started
from assistant.dialogue.state import State
from assistant.dialogue.step import fold
from assistant.records.export import export_csv, export_json, import_job
from assistant.records.faults import RecordError
from assistant.records.journal.history import History, history_of, replay
from assistant.records.journal.journal import JobRow, Journal
from grammar.meaning import Command, Unclear
from grammar.scale import System
from tests.records.jobs import corrected, record, rehearsed
from tests.stepping import Stepper

DATA = Path(__file__).parent
SEEDS = (1, 2, 3)


def _history(path: Path, events: tuple[Event, ...], *, close: bool = True) -> History:
    record(path, events, close=close)
    first = events[0]
    assert isinstance(first, Started)
    with Journal.open(path) as journal:
        return history_of(journal, first.job)


@pytest.mark.parametrize("system", ["thou", "mm"])
@pytest.mark.parametrize("seed", SEEDS)
def test_an_exported_job_comes_back_identical(tmp_path: Path, seed: int, system: System) -> None:
    events = rehearsed(seed, system).events
    history = _history(tmp_path / "one.db", events)
    text = export_json(history)
    with Journal.open(tmp_path / "two.db") as journal:
        row = import_job(journal, text.encode())
        again = history_of(journal, row.id)
    assert again.events == events
    assert again.row == history.row
    assert again.state == history.state == rehearsed(seed, system).state
    assert export_json(again) == text


def test_an_unfinished_job_comes_back_unfinished(tmp_path: Path) -> None:
    history = _history(tmp_path / "one.db", rehearsed(1).events[:12], close=False)
    with Journal.open(tmp_path / "two.db") as journal:
        import_job(journal, export_json(history).encode())
        assert [job.id for job in journal.unfinished()] == ["job-1"]


@pytest.mark.parametrize("system", ["thou", "mm"])
def test_the_readings_are_those_of_the_job(tmp_path: Path, system: System) -> None:
    played = rehearsed(2, system)
    document = json.loads(export_json(_history(tmp_path / "one.db", played.events)))
    assert document["unit"] == system
    kept = [taken for sweep in played.state.sweeps for taken in sweep.readings]
    counts = Decimal(1) if system == "thou" else Decimal(100)
    assert [
        (row["sweep"], row["station"], Decimal(row["value"]) * counts, row["unit"], row["at"])
        for row in document["readings"]
    ] == [(t.sweep, t.station, t.value, system, t.at) for t in kept]
    assert [row["event"] for row in document["readings"]] == sorted(
        row["event"] for row in document["readings"]
    )
    found, left = played.state.as_found, played.state.as_left
    assert found is not None
    assert left is not None
    for key, answer in (("as_found", found), ("as_left", left)):
        for name in ("front_minus_back", "right_minus_left", "tilt"):
            assert document[key][name] * float(counts) == pytest.approx(getattr(answer, name))
        assert document[key]["unit"] == system


def test_what_was_taken_back_is_told_with_its_reason(tmp_path: Path) -> None:
    document = json.loads(export_json(_history(tmp_path / "one.db", corrected())))
    undone = [(row["station"], row["value"], row["reason"]) for row in document["undone"]]
    assert undone == [("right", "3", "correction"), ("front", "9", "disregard")]
    standing = [(row["station"], row["value"]) for row in document["readings"]]
    assert standing == [("back", "0"), ("right", "4"), ("front", "6")]
    assert all(row["undone_at"] for row in document["undone"])
    rows = list(csv.DictReader(io.StringIO(export_csv(_csv_history(tmp_path)), newline="")))
    assert [(row["station"], row["value"], row["undone"]) for row in rows] == [
        ("back", "0", ""), ("right", "3", "correction"), ("right", "4", ""),
        ("front", "9", "disregard"), ("front", "6", ""),
    ]  # fmt: skip


def _csv_history(folder: Path) -> History:
    return _history(folder / "csv.db", corrected())


def test_the_csv_is_that_of_rfc_4180(tmp_path: Path) -> None:
    """RFC 4180, 2: CRLF after every record, a header, the same number of fields in each.

    Read by Python's csv and by numpy's own reader."""
    text = export_csv(_history(tmp_path / "one.db", rehearsed(3).events))
    lines = text.split("\r\n")
    assert lines[-1] == ""
    assert "\n" not in text.replace("\r\n", "")
    rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert len({len(row) for row in rows}) == 1
    assert len(rows) == len(lines) - 1
    by_numpy = np.loadtxt(io.StringIO(text), dtype=str, delimiter=",", quotechar='"')
    assert by_numpy.tolist() == rows
    assert rows[0][:6] == ["job", "event", "sweep", "station", "value", "unit"]


def test_the_json_is_that_of_rfc_8259(tmp_path: Path) -> None:
    """Read by SQLite's own JSON reader, and as ASCII by Python's strict one."""
    events = rehearsed(3).events
    said = Heard("2031", 0, "voice", "reject", 'talk "\u2028\ud800\x00\x1b', Unclear("x"), 1.0)
    text = export_json(_history(tmp_path / "one.db", (*events, said)))
    assert text.isascii()
    json.loads(text, parse_constant=pytest.fail)
    connection = sqlite3.connect(":memory:")
    query = "SELECT json_valid(?1), json_extract(?1, '$.job'), json_array_length(?1, '$.events')"
    assert connection.execute(query, (text,)).fetchone() == (1, "job-3", len(events) + 1)
    connection.close()


def test_no_field_of_the_csv_is_a_formula(tmp_path: Path) -> None:
    """A spreadsheet runs fields that begin with = @ + - unless they are plain numbers."""
    at = '=cmd|"/c calc"!A1\x1b[2J'
    started = Started(at, "j1", rehearsed(1).state.profile)
    events = (started, *(_at(event, at) for event in rehearsed(1).events[1:]))
    text = export_csv(_history(tmp_path / "one.db", events))
    assert "\x1b" not in text
    for row in csv.DictReader(io.StringIO(text, newline="")):
        for name, field in row.items():
            if name not in ("value", "confidence"):
                assert not field.startswith(("=", "@", "+", "-", "\t", "\r")), (name, field)
            else:
                Decimal(field)


def _at(event: Event, at: str) -> Event:
    assert isinstance(event, Heard)
    return Heard(at, event.turn, event.source, event.outcome, event.words, event.meaning)


def test_a_job_that_is_there_is_left_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "one.db"
    text = export_json(_history(path, rehearsed(1).events)).encode()
    with Journal.open(path) as journal:
        import_job(journal, text)
        assert len(journal.jobs()) == 1
        other = json.loads(text)
        other["events"] = other["events"][:-1]
        with pytest.raises(RecordError, match="another job job-1") as caught:
            import_job(journal, json.dumps(other).encode())
        assert caught.value.code == "bad_name"
        assert len(journal.events("job-1")) == len(rehearsed(1).events)


def _changed(document: dict[str, Any], **changes: Any) -> bytes:
    return json.dumps(document | changes).encode()


@pytest.mark.parametrize(
    ("changes", "code", "says"),
    [
        ({"format": "recipe"}, "bad_input", "not an exported job"),
        ({"version": 99}, "newer", "install a newer sweepsay"),
        ({"version": True}, "bad_input", "version"),
        ({"version": 0}, "bad_input", "version"),
        ({"job": "../../etc/cron.d/x"}, "bad_name", "job name"),
        ({"job": 7}, "bad_input", '"job" is not text'),
        ({"closed_at": 7}, "bad_input", '"closed_at" is not text'),
        ({"events": []}, "bad_input", '"events" is not a list'),
        ({"events": {}}, "bad_input", '"events" is not a list'),
        ({"events": [{"kind": "resumed", "at": "x"}]}, "bad_input", "first event must be Started"),
        ({"events": [{"kind": "danced", "at": "x"}]}, "newer", "event 1"),
        ({"events": [{"kind": "resumed", "at": 3}]}, "bad_input", "event 1"),
    ],
)
def test_a_bad_export_is_one_named_error_and_nothing_is_kept(
    tmp_path: Path, changes: dict[str, Any], code: str, says: str
) -> None:
    document = json.loads(export_json(_history(tmp_path / "one.db", rehearsed(1).events)))
    with Journal.open(tmp_path / "two.db") as journal:
        with pytest.raises(RecordError, match=says) as caught:
            import_job(journal, _changed(document, **changes))
        assert caught.value.code == code
        assert str(caught.value).isprintable()
        assert journal.jobs() == ()


@pytest.mark.parametrize("data", [b"", b"\xff", b"[" * 100_000, b"[]", b"{}", b"\x1b[2J", b"NaN"])
def test_what_is_no_json_is_one_named_error(tmp_path: Path, data: bytes) -> None:
    with Journal.open(tmp_path / "two.db") as journal:
        with pytest.raises(RecordError, match="not an exported job") as caught:
            import_job(journal, data)
        assert str(caught.value).isprintable()


def test_an_export_with_a_profile_that_cannot_be_is_refused(tmp_path: Path) -> None:
    """A square without its height: no machine's file can say so, an export by hand can."""
    document = json.loads(export_json(_history(tmp_path / "one.db", rehearsed(1).events)))
    document["events"][0]["profile"]["method"] = "square"
    with Journal.open(tmp_path / "two.db") as journal:
        with pytest.raises(RecordError, match="job job-1, event") as caught:
            import_job(journal, json.dumps(document).encode())
        assert caught.value.code == "bad_input"
        assert journal.jobs() == ()


def test_old_exports_stay_readable(tmp_path: Path) -> None:
    """`export_version_1.json` was written by version 1 of the format and stays as it is.

    Its events do not say yet where the job stood: where other advice is given now than then, what
    follows is another job. Up to there it is the same one, and no event is lost.
    """
    data = (DATA / "export_version_1.json").read_bytes()
    old = json.loads(data)
    with Journal.open(tmp_path / "one.db") as journal:
        history = history_of(journal, import_job(journal, data).id)
    new = json.loads(export_json(history))
    said = [[(one["kind"], one["at"], one.get("words")) for one in each["events"]]
            for each in (new, old)]  # fmt: skip
    assert said[0] == said[1]
    three = [one for one in old["readings"] if one["sweep"] <= 3]
    assert new["readings"][: len(three)] == three
    assert new["undone"] == old["undone"]
    for name in ("front_minus_back", "right_minus_left", "tilt"):
        # Reckoned anew, by all sweeps together.
        assert new["as_found"][name] == pytest.approx(old["as_found"][name], abs=0.1)


def test_a_damaged_job_is_exported_as_far_as_it_goes(tmp_path: Path) -> None:
    path = tmp_path / "one.db"
    record(path, rehearsed(1).events)
    data = path.read_bytes()
    place = data.index(b'"turn":15,')
    path.write_bytes(data[:place] + b'"turn":16,' + data[place + 10 :])
    with Journal.open(path) as journal:
        history = history_of(journal, "job-1")
    document = json.loads(export_json(history))
    assert len(document["events"]) < len(rehearsed(1).events)
    assert document["damage"].startswith(f"event {len(document['events']) + 1} ")
    state: State | None = fold(rehearsed(1).events[: len(document["events"])])
    assert history.state == state


def _played(events: tuple[Event, ...], resumed_after: int, step: Stepper) -> tuple[Event, ...]:
    """The same job, stopped after an event and gone on with: "yes" until nothing is asked."""
    done: list[Event] = []
    state: State | None = None

    def play(event: Event) -> None:
        nonlocal state
        if state is not None and isinstance(event, Heard) and event.turn != state.turn:
            event = replace(event, turn=state.turn)
        done.append(event)
        state, _ = step(state, event)

    for number, event in enumerate(events, 1):
        play(event)
        if number == resumed_after:
            play(Resumed("2031-05-04T09:00:00Z"))
            while state is not None and state.pending is not None:
                play(Heard("2031", state.turn, "text", "accept", "yes", Command("yes")))
    return tuple(done)


def test_a_step_is_exported_once_however_often_the_job_was_gone_on_with(
    stepped_once: Stepper,
) -> None:
    events = rehearsed(2).events
    row = JobRow("job", "drill press", "2031", None, len(events))
    plain = [(told.sweep, told.step) for told in replay(row, events).steps]
    assert plain
    for number in range(1, len(events), 7):
        again = replay(row, _played(events, number, stepped_once))
        assert [(told.sweep, told.step) for told in again.steps] == plain, number
