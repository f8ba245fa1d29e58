"""Every way to corrupt a database that SQLite's document knows, tried on the record.

"How To Corrupt An SQLite Database File"; names and numbers of its cases are from memory. With
them those of "Atomic Commit In SQLite", 9, "Things That Can Go Wrong", which are among them:
locks that do not hold, flushes that are not complete, files deleted in part, garbage written into
a file, a hot journal deleted or renamed. Not tried: disks and systems that lie about a flush
(3.1, 4, 6), memory that is overwritten (5), errors in SQLite itself (8).
"""

import os
import shutil
import sqlite3
import stat
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from assistant.records.faults import RecordError
from assistant.records.journal.journal import Journal
from assistant.records.journal.record_files import log_of
from assistant.records.journal.writer_lock import lock_path
from tests.records import damaging
from tests.records.answering import answered

# Forking is what is wanted here; later Pythons warn because of numpy's threads.
pytestmark = pytest.mark.filterwarnings("ignore:.*fork:DeprecationWarning")

RUN = ("run", "--no-ask", "--ears", "text", "--voice", "text")
ROOT = Path(__file__).parents[2]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "jobs.db"


def test_1_1_nothing_is_printed_into_the_record_where_streams_are_closed(path: Path) -> None:
    """A file opened while the error stream is closed would get its number."""
    command = f"{sys.executable} -m assistant {' '.join(RUN)} --db {path} <&- 2>&- >{path}.out"
    done = subprocess.run(["bash", "-c", command], cwd=ROOT, check=False, timeout=60)
    assert done.returncode == 0
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    with Journal.open(path) as journal:
        assert journal.told() == ()


def test_1_3_a_hot_journal_deleted(path: Path) -> None:
    """What was half-written stays half-written: what can be read is taken over, and it starts."""
    with damaging.begin(path):
        pass
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")
        connection.execute("PRAGMA cache_size = 1")
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("CREATE TABLE big AS SELECT randomblob(90000)")
        half = path.read_bytes()
        connection.execute("ROLLBACK")
    copy = path.with_name("copy.db")
    copy.write_bytes(half)
    lock_path(copy).touch()
    with Journal.open(copy) as journal:
        assert journal.events("job-0") == damaging.TRUTH["job-0"][:5]


def test_1_2_a_copy_of_the_file_alone_says_what_it_lacks(
    path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = path.with_name("copy.db")
    with damaging.begin(path):
        shutil.copy(path, copy)
    for command in (("job", "list"), RUN):
        code, _, err = answered(monkeypatch, capsys, *command, "--db", str(copy))
        assert code == 0
        assert "its log copy.db-wal is not beside it" in err
        assert "'sweepsay job backup FILE' copies it whole" in err
    # Told once; the original was closed and lacks nothing.
    assert answered(monkeypatch, capsys, "job", "list", "--db", str(copy))[2] == ""
    assert answered(monkeypatch, capsys, "job", "list", "--db", str(path))[2] == ""


def test_1_2_a_backup_is_whole_while_a_job_is_played(
    path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    target = path.with_name("kept") / "backup.db"
    with damaging.begin(path) as journal:
        code, _, err = answered(monkeypatch, capsys, "job", "list", "--db", str(path))
        assert "'sweepsay job backup FILE' copies the record whole" in err
        code, out, err = answered(
            monkeypatch, capsys, "job", "backup", str(target), "--db", str(path)
        )
        assert (code, err) == (0, "")
        assert f"{target}: 1 jobs" in out
        journal.append("job-0", damaging.TRUTH["job-0"][5])
    assert stat.S_IMODE(target.stat().st_mode) == 0o600
    assert [file.name for file in target.parent.iterdir()] == ["backup.db"]
    connection = sqlite3.connect(target)
    assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    connection.close()
    with Journal.open(target) as restored:
        assert restored.told() == ()
        assert restored.events("job-0") == damaging.TRUTH["job-0"][:5]
    # What was kept before is not written over.
    before = target.read_bytes()
    for there in (target, path):
        code, _, err = answered(monkeypatch, capsys, "job", "backup", str(there), "--db", str(path))
        assert code == 1
        assert "is there already: give a new name" in err
    assert target.read_bytes() == before


def test_1_4_a_journal_of_another_record_undoes_nothing(whole: dict[str, damaging.Files]) -> None:
    result = damaging.one(whole, "journal of another time", 1)
    assert result.problems == []
    assert result.kept == 120


@pytest.mark.parametrize("names", [("",), ("", "-wal", "-shm"), ("-wal",), ("", ".lock")], ids=str)
def test_2_4_files_deleted_while_a_job_is_played(path: Path, names: tuple[str, ...]) -> None:
    events = damaging.TRUTH["job-0"]
    with damaging.begin(path) as journal:
        for ending in names:
            path.with_name(path.name + ending).unlink()
        journal.append("job-0", events[5])
        assert journal.path == path
        assert "files were deleted or replaced: all is kept in" in journal.news()
        assert journal.news() == ""
        journal.append("job-0", events[6])
        assert journal.news() == ""
        # As a crash would leave it now: everything is under the old names.
        crashed = path.parent / "crashed"
        crashed.mkdir()
        for file in path.parent.glob("jobs.db*"):
            shutil.copy(file, crashed / file.name)
    for found in (path, crashed / path.name):
        with Journal.open(found) as again:
            assert again.rescued is None
            assert again.events("job-0") == events[:7]


def test_2_4_a_folder_deleted_while_a_job_is_played(tmp_path: Path) -> None:
    path = tmp_path / "shop" / "jobs.db"
    with damaging.begin(path) as journal:
        shutil.rmtree(path.parent)
        journal.append("job-0", damaging.TRUTH["job-0"][5])
    with Journal.open(path) as again:
        assert again.job("job-0").events == 6


def test_2_4_another_record_put_in_its_place_is_left_alone(path: Path) -> None:
    events = damaging.TRUTH["job-0"]
    with damaging.begin(path) as journal:
        for ending in ("", "-wal", "-shm", ".lock"):
            path.with_name(path.name + ending).unlink()
        # In a process of its own, which another program is.
        child = os.fork()
        if child == 0:
            other = Journal.open(path)
            other.start("other", "mill", "2031")
            os._exit(0)
        assert os.waitpid(child, 0)[1] == 0
        log = log_of(path).read_bytes()
        journal.append("job-0", events[5])
        kept = journal.path
        assert kept == path.with_name("jobs.db.kept-1")
        assert str(kept) in journal.news()
        journal.append("job-0", events[6])
    assert log_of(path).read_bytes() == log
    with Journal.open(kept) as again:
        assert again.events("job-0") == events[:7]
    with Journal.open(path) as other:
        assert [job.id for job in other.jobs()] == ["other"]


_WRITER = (
    "import sys; from pathlib import Path; from assistant.records.journal.journal import Journal;"
    "journal = Journal.open(Path(sys.argv[1])); print('open', flush=True); sys.stdin.read()"
)


@pytest.fixture
def writer(path: Path) -> Iterator["subprocess.Popen[str]"]:
    """Another program that writes the record."""
    with subprocess.Popen(
        [sys.executable, "-c", _WRITER, str(path)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    ) as other:  # fmt: skip
        assert other.stdout is not None
        assert other.stdout.readline() == "open\n"
        yield other
        other.kill()


@pytest.mark.skipif(sys.platform == "win32", reason="an open file cannot be deleted on Windows")
def test_2_2_and_2_3_the_lock_file_deleted_there_is_still_one_writer(
    path: Path, writer: "subprocess.Popen[str]"
) -> None:
    lock_path(path).unlink()
    for _ in range(2):
        with pytest.raises(RecordError, match="another sweepsay is writing it") as caught:
            Journal.open(path)
        assert caught.value.code == "locked"
        lock_path(path).unlink(missing_ok=True)
    with Journal.open(path, write=False) as reader:
        assert reader.jobs() == ()
    writer.kill()
    writer.wait()
    Journal.open(path).close()


def test_2_5_a_link_leads_to_the_one_record(path: Path) -> None:
    with damaging.begin(path):
        link = path.parent / "link.db"
        link.symlink_to(path)
        with pytest.raises(RecordError) as caught:
            Journal.open(link)
        assert caught.value.code == "locked"
        with Journal.open(link, write=False) as reader:
            assert reader.job("job-0").events == 5
    with Journal.open(link) as journal:
        assert journal.path == path
    assert not link.with_name("link.db-wal").exists()


def test_3_2_every_commit_is_flushed(path: Path) -> None:
    with damaging.begin(path) as journal:
        assert journal._connection.execute("PRAGMA synchronous").fetchone() == (2,)
