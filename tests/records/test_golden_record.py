"""A record that an earlier version wrote opens, is gone on with and shows the same."""

import shutil
from pathlib import Path

import pytest

from assistant.dialogue.step import fold
from assistant.records import resume
from assistant.records.journal import Journal
from assistant.records.resume import load_state
from tests.dialogue.golden_jobs import files
from tests.records.golden_record import AT, FINISHED, LEFT_OFF, RECORD, TEXT, shown


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
            # But for its name, a job is the golden one.
            assert journal.events(row.id)[1:] == files.read(row.id).events[1 : row.events]


def test_what_is_shown_and_said_is_what_it_was(record: Path) -> None:
    meant = "if this is meant: python -m tests.records.golden_record writes it down"
    assert shown(record) == TEXT.read_text(encoding="utf-8"), meant


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
        assert state.readings


def test_an_event_can_be_appended(record: Path) -> None:
    name = next(iter(LEFT_OFF))
    with Journal.open(record) as journal:
        number = journal.append(name, files.read(name).events[LEFT_OFF[name]])
    assert number == LEFT_OFF[name] + 1
