"""A disk that is full, read-only or refuses: one clear error, nothing lost, and on it goes."""

import os
import sqlite3
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

from assistant.bench.loop import Loop
from assistant.dialogue.messages import Effect, Event, Listen, Say, Started
from assistant.dialogue.state import State
from assistant.dialogue.step import fold
from assistant.records.faults import RecordError
from assistant.records.journal.journal import Journal
from assistant.records.whole_files import replace_file
from tests.records.forked import files_at_most, in_child, open_folder, without_rights
from tests.records.jobs import as_it_came, record, rehearsed

# Forking is what is wanted here; later Pythons warn because of numpy's threads.
pytestmark = pytest.mark.filterwarnings("ignore:.*fork:DeprecationWarning")

EVENTS = rehearsed(1).events
PAGE = 4096


def _code(work: Callable[[], object]) -> tuple[str, str]:
    try:
        work()
    except RecordError as error:
        return error.code, str(error)
    return "", ""


def _opening(path: Path, *, write: bool) -> tuple[str, str]:
    return _code(lambda: Journal.open(path, write=write))


def _append_until_refused(path: Path) -> tuple[int, str, str]:
    """How many events were accepted before the first refusal, and what was said."""
    try:
        with Journal.open(path) as journal:
            journal.start("job-1", "drill press", "2031")
            return _append(journal, EVENTS)
    except RecordError as error:
        return 0, error.code, str(error)


def _append(journal: Journal, events: tuple[Event, ...]) -> tuple[int, str, str]:
    for accepted, event in enumerate(events):
        try:
            journal.append("job-1", event)
        except RecordError as error:
            return accepted, error.code, str(error)
    return len(events), "", ""


@pytest.mark.parametrize("pages", [*range(16), *range(16, 60, 4)])
def test_the_disk_gets_full_at_any_write(tmp_path: Path, pages: int) -> None:
    path = tmp_path / "jobs.db"

    def work() -> tuple[int, str, str]:
        with files_at_most(pages * PAGE):
            return _append_until_refused(path)

    accepted, code, message = in_child(work)
    assert code in ("", "full", "disk_error")
    assert (accepted == len(EVENTS)) == (code == "")
    assert message.count("\n") == 0
    if code:
        assert str(path) in message
        assert "go on" in message or "try again" in message
    with Journal.open(path) as journal:
        assert journal.rescued is None
        if accepted:
            kept = journal.events("job-1")
            assert as_it_came(kept) == EVENTS[: len(kept)]
            # A commit that was refused may still have reached the disk, never the other way.
            assert len(kept) >= accepted


def test_every_limit_was_met_somewhere(tmp_path: Path) -> None:
    """The test above would prove nothing if the limits never bit in the middle of a job."""

    def work() -> set[int]:
        met = set()
        for pages in (10, 20, 30, 40):
            with files_at_most(pages * PAGE):
                met.add(_append_until_refused(tmp_path / f"{pages}.db")[0])
        return met

    met = in_child(work)
    assert any(0 < accepted < len(EVENTS) for accepted in met)


def test_the_pages_run_out(tmp_path: Path) -> None:
    """SQLite's own limit gives SQLITE_FULL, the error of a disk without space."""
    path = tmp_path / "jobs.db"
    record(path, EVENTS[:1], close=False)
    with Journal.open(path) as journal:
        ask = journal._connection.execute
        used = ask("PRAGMA page_count").fetchone()[0]
        ask(f"PRAGMA max_page_count = {used}")
        accepted, code, message = _append(journal, EVENTS[1:])
        accepted += 1
        assert code == "full"
        assert "free some space" in message
        assert as_it_came(journal.events("job-1")) == EVENTS[:accepted]
        for call in (
            lambda: journal.append("job-1", EVENTS[accepted]),
            lambda: journal.start("x" * 60, "y" * 200, "z" * 200),
        ):
            assert _code(call)[0] in ("full", "")
        ask(f"PRAGMA max_page_count = {used + 1000}")
        for event in EVENTS[len(journal.events("job-1")) :]:
            journal.append("job-1", event)
        assert as_it_came(journal.events("job-1")) == EVENTS


def test_a_job_goes_on_when_there_is_space_again(tmp_path: Path) -> None:
    """Through the loop: what is not kept does not happen, is said, and can be said again."""
    path = tmp_path / "jobs.db"

    def work() -> tuple[State | None, int]:
        effects: list[Effect] = []
        refused = 0
        first = EVENTS[0]
        assert isinstance(first, Started)
        with Journal.open(path) as journal:
            loop = Loop(
                journal, first.profile, effects.append, clock=lambda: first.at,
                job_id=lambda: first.job,
            )  # fmt: skip
            loop.begin()
            for event in EVENTS[1:]:
                before = loop.state
                effects.clear()
                with files_at_most(PAGE):
                    loop.post(event)
                assert loop.state == before
                # It is said, and what was listened for is listened for again.
                refused += [type(effect) for effect in effects] == [Say, Listen]
                loop.post(event)
            return loop.state, refused

    state, refused = in_child(work)
    assert refused == len(EVENTS) - 1
    assert state == rehearsed(1).state
    with Journal.open(path) as journal:
        assert as_it_came(journal.events("job-1")) == EVENTS


# -- read-only -------------------------------------------------------------------------------


@pytest.mark.parametrize(("of_file", "of_folder"), [(0o444, 0o777), (0o444, 0o555), (0o666, 0o555)])
def test_a_record_that_may_not_be_written(of_file: int, of_folder: int) -> None:
    with open_folder() as folder:
        path = folder / "jobs.db"
        record(path, EVENTS)
        (folder / "jobs.db.lock").unlink()
        path.chmod(of_file)
        folder.chmod(of_folder)
        before = path.read_bytes()

        def work() -> tuple[tuple[str, str], tuple[Event, ...]]:
            refused = _opening(path, write=True)
            with Journal.open(path, write=False) as journal:
                return refused, journal.events("job-1")

        (code, message), events = without_rights(work)
        assert code == "read_only"
        assert "make it writable" in message
        assert as_it_came(events) == EVENTS
        assert path.read_bytes() == before


def test_a_folder_that_may_not_be_written() -> None:
    with open_folder() as folder:
        folder.chmod(0o555)
        for path in (folder / "jobs.db", folder / "deeper" / "jobs.db"):
            code, message = without_rights(partial(_opening, path, write=True))
            assert code == "read_only"
            assert "name another place" in message or "make it writable" in message
        assert list(folder.iterdir()) == []


def test_a_record_that_may_not_be_read() -> None:
    with open_folder() as folder:
        path = folder / "jobs.db"
        record(path, EVENTS)
        path.chmod(0)
        for write in (True, False):
            code, message = without_rights(partial(_opening, path, write=write))
            assert code in ("read_only", "cannot_open")
            assert "--db" in message or "another place" in message


# -- other files -----------------------------------------------------------------------------


@pytest.mark.parametrize("size", [0, 1, 4095, 99_999])
def test_a_file_is_replaced_whole_or_not_at_all(tmp_path: Path, size: int) -> None:
    target = tmp_path / "report.html"
    target.write_bytes(b"old")

    def work() -> tuple[str, str]:
        with files_at_most(size):
            return _code(lambda: replace_file(target, b"x" * 100_000))

    code, message = in_child(work)
    assert code == "full"
    assert "free some space" in message
    assert target.read_bytes() == b"old"
    assert [path.name for path in tmp_path.iterdir()] == ["report.html"]


def test_another_program_that_holds_the_database_is_waited_for_and_then_named(
    tmp_path: Path,
) -> None:
    path = tmp_path / "jobs.db"
    record(path, EVENTS, close=False)
    with Journal.open(path) as journal:
        journal._connection.execute("PRAGMA busy_timeout = 1")
        other = sqlite3.connect(path, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(RecordError, match="close that program") as caught:
            journal.close_job("job-1", "2031")
        assert caught.value.code == "busy"
        other.execute("ROLLBACK")
        other.close()
        journal.close_job("job-1", "2031")
        assert fold(journal.events("job-1")) == rehearsed(1).state


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no terminals among its files")
def test_what_is_no_file_is_written_into_and_stays() -> None:
    reader, writer = os.openpty()
    try:
        path = Path(os.ttyname(writer))
        replace_file(path, b"page")
        assert os.read(reader, 10) == b"page"
        assert path.is_char_device()
    finally:
        os.close(reader)
        os.close(writer)


def test_a_folder_in_the_place_of_a_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(RecordError, match="folder"):
        replace_file(tmp_path, b"page")
    assert tmp_path.is_dir()
