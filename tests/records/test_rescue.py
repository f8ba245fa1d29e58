"""A damaged record is set aside whole and read as far as it goes."""

import random
import sqlite3
from decimal import Decimal
from pathlib import Path

import pytest

from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Heard, Started
from assistant.records.faults import RecordError
from assistant.records.journal.journal import Journal
from assistant.records.journal.writer_lock import lock_path
from grammar.meaning import Reading

AT = "2031-05-04T08:00:00Z"
PAGE = 4096


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "jobs.db"


def fill(path: Path, jobs: int, events: int) -> None:
    with Journal.open(path) as journal:
        for job in range(jobs):
            journal.start(f"job-{job}", f"machine {job}", AT)
            journal.append(f"job-{job}", Started(AT, f"job-{job}", Profile(name=f"machine {job}")))
            for turn in range(1, events):
                journal.append(f"job-{job}", heard(turn))


def heard(turn: int) -> Heard:
    meaning = Reading(Decimal(turn % 30), True)
    return Heard(AT, turn, "text", "accept", f"reading number {turn} of this job", meaning)


def assert_prefixes(journal: Journal) -> int:
    """Every job holds its first events, nothing else; how many there are in all."""
    total = 0
    for job in journal.jobs():
        events = journal.events(job.id)
        if events:
            assert events[0] == Started(AT, job.id, Profile(name=job.machine))
            assert events[1:] == tuple(heard(turn) for turn in range(1, len(events)))
        total += len(events)
    return total


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("whole") / "jobs.db"
    fill(path, jobs=3, events=40)
    return path.read_bytes()


@pytest.mark.parametrize("seed", range(30))
def test_damage_anywhere_leaves_beginnings_and_the_damaged_file(
    path: Path, whole: bytes, seed: int
) -> None:
    lock_path(path).touch()
    chance = random.Random(seed)
    data = bytearray(whole)
    start = chance.randrange(len(data) - 1)
    size = chance.choice([1, 16, 512, PAGE, 3 * PAGE])
    for place in range(start, min(start + size, len(data))):
        data[place] = chance.randrange(256)
    path.write_bytes(data)
    with Journal.open(path) as journal:
        kept = assert_prefixes(journal)
        saved = journal.rescued
        if saved is None:
            # Bytes that nothing uses, or a row of the same content.
            assert kept == 120
        else:
            assert saved.aside.read_bytes() == data
            assert (saved.events, saved.left) == (kept, saved.left)
            assert saved.events + saved.left <= 120
            assert str(saved.aside) in saved.text()
            assert saved.text().isprintable()
    with Journal.open(path) as journal:
        assert journal.rescued is None
        assert assert_prefixes(journal) == kept


def test_a_torn_page_in_the_middle_costs_only_what_is_behind_it(path: Path) -> None:
    fill(path, jobs=4, events=50)
    data = bytearray(path.read_bytes())
    place = data.index(b"reading number 25 of this job")
    page = place // PAGE * PAGE
    data[page : page + PAGE] = bytes(PAGE)
    path.write_bytes(data)
    with Journal.open(path) as journal:
        assert journal.rescued is not None
        counts = [job.events for job in journal.jobs()]
        assert_prefixes(journal)
    assert sum(count == 50 for count in counts) >= 3
    assert sum(counts) >= 150


def test_a_file_cut_short_gives_what_is_left(path: Path) -> None:
    fill(path, jobs=1, events=200)
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2 // PAGE * PAGE])
    with Journal.open(path) as journal:
        assert journal.rescued is not None
        assert journal.rescued.jobs == 1
        assert 20 < assert_prefixes(journal) < 180


@pytest.mark.parametrize("content", [b"", b"\0" * 100_000, b"no database at all " * 1000])
def test_a_record_that_is_no_database_any_more_is_set_aside(path: Path, content: bytes) -> None:
    fill(path, jobs=1, events=3)
    path.write_bytes(content)
    with Journal.open(path) as journal:
        assert journal.jobs() == ()
        if content:
            assert journal.rescued is not None
            assert journal.rescued.aside.read_bytes() == content
        journal.start("new", "drill", AT)


def test_damaged_files_of_different_days_do_not_overwrite_each_other(path: Path) -> None:
    fill(path, jobs=1, events=3)
    names = set()
    for content in (b"x" * 5000, b"y" * 5000, b"z" * 5000):
        path.write_bytes(content)
        with Journal.open(path) as journal:
            assert journal.rescued is not None
            names.add(journal.rescued.aside)
    assert sorted(name.read_bytes()[:1] for name in names) == [b"x", b"y", b"z"]


@pytest.mark.parametrize("content", [b"Dear diary, " * 100, b"\x89PNG\r\n\x1a\n" + b"\0" * 500])
def test_a_stranger_s_file_is_refused_and_not_touched(path: Path, content: bytes) -> None:
    path.write_bytes(content)
    for write in (True, False):
        with pytest.raises(RecordError, match=r"not a record of jobs.*--db") as caught:
            Journal.open(path, write=write)
        assert caught.value.code == "not_a_record"
    assert path.read_bytes() == content
    assert [file.name for file in path.parent.iterdir()] == ["jobs.db"]


def test_a_stranger_s_database_is_refused_and_not_touched(path: Path) -> None:
    connection = sqlite3.connect(path)
    connection.execute("CREATE TABLE songs (title)")
    connection.close()
    content = path.read_bytes()
    for write in (True, False):
        with pytest.raises(RecordError, match="not a record of jobs"):
            Journal.open(path, write=write)
    assert path.read_bytes() == content
    assert [file.name for file in path.parent.iterdir()] == ["jobs.db"]


@pytest.mark.parametrize("tables", [False, True])
def test_a_record_whose_making_was_stopped_is_made_again(path: Path, tables: bool) -> None:
    lock_path(path).touch()
    if tables:
        sqlite3.connect(path).execute("PRAGMA journal_mode = WAL").connection.close()
    else:
        path.touch()
    with pytest.raises(RecordError) as caught:
        Journal.open(path, write=False)
    assert caught.value.code == "no_record"
    with Journal.open(path) as journal:
        assert journal.rescued is None
        assert journal.jobs() == ()


def test_a_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(RecordError) as caught:
        Journal.open(tmp_path)
    assert caught.value.code == "cannot_open"
    with pytest.raises(RecordError) as caught:
        Journal.open(tmp_path, write=False)
    assert caught.value.code == "cannot_open"


def test_the_log_goes_along_and_its_events_are_saved(path: Path) -> None:
    """Events that are still in the write-ahead log only are read from it as well."""
    journal = Journal.open(path)
    journal.start("job-0", "machine 0", AT)
    journal.append("job-0", Started(AT, "job-0", Profile(name="machine 0")))
    copy = path.with_name("copy.db")
    wal = path.with_name("jobs.db-wal")
    data, log = path.read_bytes(), wal.read_bytes()
    journal.close()
    assert b'"started"' not in data
    assert b'"started"' in log
    damaged = bytearray(data)
    damaged[PAGE + 8 : PAGE + 50] = b"\xff" * 42
    copy.write_bytes(damaged)
    copy.with_name("copy.db-wal").write_bytes(log)
    lock_path(copy).touch()
    with Journal.open(copy) as journal:
        saved = assert_prefixes(journal)
        assert saved == 1
        if journal.rescued is not None:
            aside = journal.rescued.aside
            assert aside.with_name(aside.name + "-wal").read_bytes() == log


class Stopped(BaseException):
    """Stands for the end of the program."""


@pytest.mark.parametrize("rename", range(4))
def test_a_rescue_stopped_at_any_rename_loses_nothing(
    path: Path, rename: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    fill(path, jobs=2, events=30)
    data = bytearray(path.read_bytes())
    data[data.index(b"reading number 20") + 15] ^= 1
    path.write_bytes(data)
    real, calls = Path.rename, iter(range(100))

    def rename_until(self: Path, target: Path) -> Path:
        if next(calls) == rename:
            raise Stopped
        return real(self, target)

    monkeypatch.setattr(Path, "rename", rename_until)
    try:
        Journal.open(path).close()
    except Stopped:
        monkeypatch.undo()
        Journal.open(path).close()
    with Journal.open(path) as journal:
        assert sorted(job.events for job in journal.jobs()) == [20, 30]
        assert_prefixes(journal)
    assert data in [file.read_bytes() for file in path.parent.glob("jobs.db.damaged-*")]


def test_reading_a_damaged_record_says_what_to_do(path: Path) -> None:
    fill(path, jobs=2, events=30)
    path.write_bytes(path.read_bytes()[:PAGE] + b"\xff" * 20 * PAGE)
    with (
        pytest.raises(RecordError, match="sets it aside") as caught,
        Journal.open(path, write=False) as journal,
    ):
        journal.jobs()
    assert caught.value.code == "damaged"
