"""The journal keeps every event, in order, for one writer at a time."""

import os
import sqlite3
import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import pytest

from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Event, Heard, KeyPressed, Resumed, Started
from assistant.records.faults import RecordError
from assistant.records.journal import schema
from assistant.records.journal.codec import DamagedEvent
from assistant.records.journal.journal import Journal
from assistant.records.journal.writer_lock import lock_path, lock_record
from grammar.meaning import Reading

AT = "2031-05-04T08:00:00Z"
STARTED = Started(AT, "j1", Profile())


def reading(turn: int, value: str) -> Heard:
    return Heard(AT, turn, "text", "accept", value, Reading(Decimal(value), True, "back"))


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "shop" / "jobs.db"


def one_job(path: Path, *events: Event, job: str = "j1") -> None:
    with Journal.open(path) as journal:
        journal.start(job, "drill press", AT)
        for event in events:
            journal.append(job, event)


def test_what_was_appended_is_there_after_closing(path: Path) -> None:
    one_job(path, STARTED, reading(1, "6"), reading(2, "-3.5"))
    with Journal.open(path) as journal:
        assert journal.events("j1") == (STARTED, reading(1, "6"), reading(2, "-3.5"))
        assert journal.events("j1", after=2) == (reading(2, "-3.5"),)
        assert journal.append("j1", Resumed(AT)) == 4


def test_jobs_do_not_mix(path: Path) -> None:
    one_job(path, STARTED, reading(1, "6"))
    one_job(path, Started(AT, "j2", Profile(name="mill")), job="j2")
    with Journal.open(path) as journal:
        assert journal.append("j1", reading(2, "1")) == 3
        assert journal.append("j2", reading(2, "2")) == 2
        assert [len(journal.events(job.id)) for job in journal.jobs()] == [3, 2]
        assert [job.id for job in journal.unfinished()] == ["j2", "j1"]


def test_a_closed_job_is_finished_and_takes_nothing_more(path: Path) -> None:
    one_job(path, STARTED)
    with Journal.open(path) as journal:
        journal.close_job("j1", AT)
        journal.close_job("j1", "2031-05-04T09:00:00Z")
        assert journal.job("j1").closed_at == AT
        assert journal.unfinished() == ()
        with pytest.raises(RecordError, match="start a new one") as caught:
            journal.append("j1", Resumed(AT))
        assert caught.value.code == "closed_job"
        assert len(journal.events("j1")) == 1


def test_unfinished_jobs_of_one_machine_newest_first(path: Path) -> None:
    with Journal.open(path) as journal:
        # The clock goes backwards: the order is that of the record all the same.
        for job, machine, at in (
            ("a", "mill", "2031"),
            ("b", "drill", "2030"),
            ("c", "mill", "2029"),
        ):
            journal.start(job, machine, at)
            journal.append(job, STARTED)
        journal.start("never-began", "mill", "2032")
        assert [job.id for job in journal.unfinished("mill")] == ["c", "a"]
        assert [job.id for job in journal.unfinished("lathe")] == []


def test_a_job_name_is_used_once_and_is_harmless(path: Path) -> None:
    with Journal.open(path) as journal:
        journal.start("j1", "drill", AT)
        with pytest.raises(RecordError, match="already"):
            journal.start("j1", "drill", AT)
        for name in ("", "../j2", "a/b", "a\\b", ".hidden", "-x", "j\n2", "con", "x" * 65, "j 2"):
            with pytest.raises(RecordError) as caught:
                journal.start(name, "drill", AT)
            assert caught.value.code == "bad_name"
        assert [job.id for job in journal.jobs()] == ["j1"]


def test_an_unknown_job_is_an_error_that_says_what_to_do(path: Path) -> None:
    with Journal.open(path) as journal:
        for call in (
            lambda: journal.events("no\x1b[2J"),
            lambda: journal.job("no\x1b[2J"),
            lambda: journal.append("no\x1b[2J", Resumed(AT)),
            lambda: journal.close_job("no\x1b[2J", AT),
            lambda: journal.readable_events("no\x1b[2J"),
        ):
            with pytest.raises(RecordError, match="job list") as caught:
                call()
            assert str(caught.value).isprintable()


def test_wal_and_full_are_set(path: Path) -> None:
    """SQLite's documentation of PRAGMA synchronous: in WAL mode FULL (2) syncs the log after
    each commit, which NORMAL (1) does not."""
    with Journal.open(path) as journal:
        ask = journal._connection.execute
        assert ask("PRAGMA journal_mode").fetchone() == ("wal",)
        assert ask("PRAGMA synchronous").fetchone() == (2,)
        assert ask("PRAGMA foreign_keys").fetchone() == (1,)
        assert ask("PRAGMA busy_timeout").fetchone() == (5000,)
        strict = ask("SELECT name, strict FROM pragma_table_list WHERE type = 'table'")
        tables = {name: flag for name, flag in strict if not name.startswith("sqlite_")}
        assert tables == dict.fromkeys(("jobs", "events", "closings", "snapshots", "uses"), 1)


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE events SET body = '{}'",
        "DELETE FROM events",
        "UPDATE OR REPLACE events SET number = 2 WHERE number = 1",
        "INSERT OR REPLACE INTO events (job, number, body, crc) VALUES ('j1', 1, '{}', 0)",
        "REPLACE INTO events (position, job, number, body, crc) VALUES (1, 'j1', 1, '{}', 0)",
        "INSERT INTO events (job, number, body, crc) VALUES ('j1', 9, '{}', 0)",
        "INSERT INTO events (job, number, body, crc) VALUES ('j1', NULL, '{}', 0)",
        "INSERT INTO events (job, number, body, crc) VALUES ('none', 1, '{}', 0)",
        "INSERT INTO events (job, number, body, crc) VALUES ('closed', 2, '{}', 0)",
        "INSERT INTO events (job, number, body, crc) VALUES ('j1', 3, x'00', 0)",
        "UPDATE jobs SET id = 'j9'",
        "DELETE FROM jobs",
        "UPDATE closings SET at = ''",
        "DELETE FROM closings",
        "DELETE FROM jobs WHERE id = 'closed'",
    ],
)
def test_the_file_itself_refuses_what_is_not_appending(path: Path, change: str) -> None:
    one_job(path, STARTED, reading(1, "6"))
    one_job(path, STARTED, job="closed")
    with Journal.open(path) as journal:
        journal.close_job("closed", AT)
    # A stranger's connection, without any of our settings but foreign keys.
    connection = sqlite3.connect(path)
    connection.execute("PRAGMA foreign_keys = ON")
    with pytest.raises(sqlite3.DatabaseError):
        connection.execute(change)
    connection.close()
    with Journal.open(path) as journal:
        assert journal.rescued is None
        assert journal.events("j1") == (STARTED, reading(1, "6"))
        assert journal.events("closed") == (STARTED,)


def test_a_second_writer_is_refused_and_told_what_to_do(path: Path) -> None:
    with Journal.open(path) as journal:
        with pytest.raises(RecordError, match=r"another sweepsay \(process \d+\).*--db") as caught:
            Journal.open(path)
        assert caught.value.code == "locked"
        journal.start("j1", "drill", AT)
    Journal.open(path).close()


def test_the_lock_ends_with_a_program_that_is_killed(path: Path) -> None:
    program = (
        "import os, sys; from pathlib import Path;"
        "from assistant.records.journal.journal import Journal;"
        "journal = Journal.open(Path(sys.argv[1])); print('open', flush=True); sys.stdin.read()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", program, str(path)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    ) as other:  # fmt: skip
        assert other.stdout is not None
        assert other.stdout.readline() == "open\n"
        with pytest.raises(RecordError, match=f"process {other.pid}"):
            Journal.open(path)
        other.kill()
        other.wait()
        Journal.open(path).close()


def test_a_reader_reads_while_another_writes(path: Path) -> None:
    one_job(path, STARTED)
    with Journal.open(path) as writer, Journal.open(path, write=False) as reader:
        writer.append("j1", reading(1, "6"))
        assert reader.events("j1") == (STARTED, reading(1, "6"))
        assert reader.job("j1").events == 2
        with pytest.raises(RecordError) as caught:
            reader.close_job("j1", AT)
        assert caught.value.code == "read_only"
        assert writer.job("j1").closed_at is None


def test_reading_makes_no_record(path: Path) -> None:
    with pytest.raises(RecordError, match="sweepsay run") as caught:
        Journal.open(path, write=False)
    assert caught.value.code == "no_record"
    assert not path.parent.exists()


def test_a_flipped_digit_is_noticed(path: Path) -> None:
    """SQLite's own check is content with any text: the check sum of the row is not."""
    one_job(path, STARTED, reading(1, "6"), reading(2, "7"))
    with Journal.open(path) as journal:
        journal.close_job("j1", AT)
    data = path.read_bytes()
    assert data.count(b'"value":"6"') == 1
    path.write_bytes(data.replace(b'"value":"6"', b'"value":"9"'))
    connection = sqlite3.connect(path)
    assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    connection.close()
    with Journal.open(path) as journal:
        with pytest.raises(DamagedEvent, match="event 2") as caught:
            journal.events("j1")
        assert caught.value.number == 2
        good, damage = journal.readable_events("j1")
        assert good == (STARTED,)
        assert damage is not None
        assert damage.number == 2


def test_an_event_of_a_newer_version_is_told(path: Path) -> None:
    body = '{"kind":"whistled","at":"2031"}'
    one_job(path, STARTED)
    connection = sqlite3.connect(path)
    connection.execute(
        "INSERT INTO events (job, number, body, crc) VALUES ('j1', 2, ?, ?)",
        (body, schema.crc_of("j1", 2, body.encode())),
    )
    connection.commit()
    connection.close()
    with Journal.open(path) as journal:
        assert journal.rescued is None
        with pytest.raises(DamagedEvent, match="install that version") as caught:
            journal.events("j1")
        assert caught.value.newer


def test_a_record_of_a_newer_version_is_left_alone(path: Path) -> None:
    one_job(path, STARTED)
    connection = sqlite3.connect(path)
    connection.execute("CREATE TABLE later (what TEXT)")
    connection.execute(f"PRAGMA user_version = {schema.VERSION + 1}")
    connection.close()
    before = path.read_bytes()
    for write in (True, False):
        with pytest.raises(RecordError, match="newer sweepsay") as caught:
            Journal.open(path, write=write)
        assert caught.value.code == "newer"
    assert path.read_bytes() == before


@pytest.mark.parametrize("version", range(1, schema.VERSION))
def test_older_records_are_brought_up_to_date(path: Path, version: int) -> None:
    """`record_version_N.sql` is the dump of a record of version N and stays as it is."""
    path.parent.mkdir()
    dump = (Path(__file__).parent / f"record_version_{version}.sql").read_text()
    connection = sqlite3.connect(path)
    connection.executescript(dump)
    connection.close()
    with Journal.open(path, write=False) as reader:
        assert [job.events for job in reader.jobs()] == [2, 1]
        assert reader.snapshot("old-1", "x") is None
        reader.events("old-1")
    with Journal.open(path) as journal:
        assert journal.rescued is None
        assert journal._connection.execute("PRAGMA user_version").fetchone() == (schema.VERSION,)
        assert [(job.id, job.closed_at) for job in journal.jobs()] == [
            ("old-1", None), ("old-2", "2031-05-04T10:00:00Z")]  # fmt: skip
        assert [type(event) for event in journal.events("old-1")] == [Started, KeyPressed]
        journal.save_snapshot("old-1", 2, "x", "{}")
        assert journal.snapshot("old-1", "x") == (2, "{}")


def test_a_migration_is_whole_or_not_at_all(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    one_job(path, STARTED)
    steps = (*schema.MIGRATIONS, "CREATE TABLE half (a) ; CREATE TABLE half (a);")
    monkeypatch.setattr(schema, "MIGRATIONS", steps)
    monkeypatch.setattr(schema, "VERSION", len(steps))
    with pytest.raises(RecordError):
        Journal.open(path)
    monkeypatch.undo()
    with Journal.open(path) as journal:
        assert journal.events("j1") == (STARTED,)
        tables = journal._connection.execute("SELECT name FROM sqlite_schema WHERE name = 'half'")
        assert tables.fetchall() == []


def test_a_snapshot_of_another_version_or_damaged_is_none(path: Path) -> None:
    one_job(path, STARTED)
    with Journal.open(path) as journal:
        assert journal.snapshot("j1", "code 1") is None
        journal.save_snapshot("j1", 1, "code 1", '{"phase": "sweep"}')
        assert journal.snapshot("j1", "code 1") == (1, '{"phase": "sweep"}')
        assert journal.snapshot("j1", "code 2") is None
        journal.save_snapshot("j1", 1, "code 2", "{}")
        assert journal.snapshot("j1", "code 2") == (1, "{}")
        journal._connection.execute("UPDATE snapshots SET body = '[]'")
        assert journal.snapshot("j1", "code 2") is None


def test_a_lock_names_its_holder_whatever_an_earlier_one_left_there(path: Path) -> None:
    path.parent.mkdir()
    lock_path(path).write_bytes(b" 999999999999")
    with lock_record(path), pytest.raises(RecordError) as caught:
        lock_record(path)
    assert caught.value.code == "locked"
    assert f"another sweepsay (process {os.getpid()}) is writing it" in str(caught.value)
    assert lock_path(path).exists()
    lock_record(path).release()
