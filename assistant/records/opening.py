"""Opening the record: for writing, alone and checked; for reading, beside a writer.

Belongs here: what is done to a file before its first row is read. A file that is not ours is
never touched.
"""

import sqlite3
import time
from pathlib import Path

from assistant.records import schema
from assistant.records.faults import RecordError, from_sqlite, from_system
from assistant.records.rescue import Rescue, finish_interrupted, rescue
from assistant.records.whole_files import sync_folder
from assistant.records.writer_lock import WriterLock, lock_path

BUSY_S = 5.0
"""How long another program's lock on the database is waited for."""

CHECK_S = 2.0
"""How long the check at the start may take; what is not through by then is left off, since
the rows of a job are checked again when they are read."""

_ID_PLACE = 68  # SQLite's file format, 1.3 "The Database Header"


def open_to_write(path: Path) -> tuple[sqlite3.Connection, WriterLock, Rescue | None]:
    """Make or open the record, lock it, bring it up to date and check it.

    Raises RecordError; the lock is then free and nothing is changed.
    """
    _check_sqlite()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        ours = _surely_ours(path)
        known = lock_path(path).exists()
    except OSError as error:
        raise from_system(error, path.parent) from None
    lock = WriterLock(path)
    try:
        return _open_locked(path, lock, ours)
    except RecordError as error:
        if error.code == "not_a_record" and not known:
            lock_path(path).unlink()
        lock.release()
        raise
    except sqlite3.Error as error:
        lock.release()
        raise from_sqlite(error, path) from error
    except OSError as error:
        lock.release()
        raise from_system(error, path) from None
    except BaseException:
        lock.release()
        raise


def open_to_read(path: Path) -> sqlite3.Connection:
    """Open an existing record for reading only; raises RecordError."""
    _check_sqlite()
    try:
        there = path.exists()
    except OSError as error:
        raise from_system(error, path) from None
    if not there:
        raise _no_record(path)
    try:
        try:
            connection = _connect_to_read(path, "mode=ro")
        except sqlite3.OperationalError:
            if path.with_name(path.name + "-wal").exists():
                raise
            # A folder that cannot be written: SQLite then reads only what it may believe
            # that nobody changes, and without a write-ahead log nobody does.
            connection = _connect_to_read(path, "immutable=1")
    except sqlite3.Error as error:
        if _kind(error) == sqlite3.SQLITE_NOTADB and not _surely_ours(path):
            raise _not_a_record(path) from None
        raise from_sqlite(error, path) from error
    return connection


def _check_sqlite() -> None:
    if sqlite3.sqlite_version_info < (3, 37, 0):
        raise RecordError(
            "cannot_open",
            f"SQLite {sqlite3.sqlite_version} is too old: use a Python with SQLite 3.37 or newer",
        )


def _open_locked(
    path: Path, lock: WriterLock, ours: bool
) -> tuple[sqlite3.Connection, WriterLock, Rescue | None]:
    finish_interrupted(path)
    try:
        return _connect_to_write(path), lock, None
    except _Damaged:
        if not ours:
            raise _not_a_record(path) from None
    saved = rescue(path)
    return _connect_to_write(path), lock, saved


class _Damaged(Exception):
    """The file is no whole database."""


def _connect_to_write(path: Path) -> sqlite3.Connection:
    made = not path.exists()
    connection = sqlite3.connect(path, isolation_level=None, timeout=BUSY_S)
    try:
        _check_owner(connection, path)
        _settings(connection)
        # Before anything is written: what is damaged is set aside as it was found.
        if schema.version_of(connection):
            _check(connection)
        # Tables before WAL, so that the file's header says whose it is from the first commit.
        schema.migrate(connection)
        connection.execute("PRAGMA journal_mode = WAL")
        # SQLite opens a file that may not be written for reading, and says so at a write only.
        connection.execute(f"PRAGMA user_version = {schema.VERSION}")
        if made:
            sync_folder(path.parent)
    except sqlite3.DatabaseError as error:
        connection.close()
        if _kind(error) in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
            raise _Damaged from error
        raise
    except BaseException:
        connection.close()
        raise
    return connection


def _connect_to_read(path: Path, mode: str) -> sqlite3.Connection:
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?{mode}", uri=True, isolation_level=None, timeout=BUSY_S
    )
    try:
        _check_owner(connection, path)
        if schema.is_empty(connection):
            # Ours, if the program was stopped while it made it.
            raise _no_record(path) if lock_path(path).exists() else _not_a_record(path)
        _settings(connection)
    except BaseException:
        connection.close()
        raise
    return connection


def _settings(connection: sqlite3.Connection) -> None:
    # A text that is no UTF-8 is damage, which the check sum of the row tells better.
    connection.text_factory = lambda data: data.decode("utf-8", "replace")
    connection.execute("PRAGMA synchronous = FULL")
    # Without this a system that knows it tells the disk but does not wait for it.
    connection.execute("PRAGMA fullfsync = ON")
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA trusted_schema = OFF")


def _check_owner(connection: sqlite3.Connection, path: Path) -> None:
    if schema.is_empty(connection):
        return
    if schema.application_of(connection) != schema.APPLICATION_ID:
        raise _not_a_record(path)
    if schema.version_of(connection) > schema.VERSION:
        raise RecordError(
            "newer",
            f"record {path} was written by a newer sweepsay: install that one, "
            "or name another file with --db",
        )


def _check(connection: sqlite3.Connection) -> None:
    """Raise _Damaged when pages, or rows of jobs that can be gone on with, are damaged."""
    until = time.monotonic() + CHECK_S
    connection.set_progress_handler(lambda: time.monotonic() > until, 10_000)
    try:
        answer = connection.execute("PRAGMA integrity_check(1)").fetchone()
        if answer != ("ok",):
            raise _Damaged(str(answer))
        rows = connection.execute(
            "SELECT job, number, CAST(body AS BLOB), crc FROM events"
            " WHERE job NOT IN (SELECT job FROM closings) ORDER BY job, number"
        )
        last = ("", 0)
        for job, number, body, crc in rows:
            expected = last[1] + 1 if job == last[0] else 1
            if number != expected or crc != schema.crc_of(job, number, body):
                raise _Damaged(f"event {number} of job {job}")
            last = (job, number)
    except sqlite3.OperationalError as error:
        if _kind(error) != sqlite3.SQLITE_INTERRUPT:
            raise
    finally:
        connection.set_progress_handler(None, 0)


def _surely_ours(path: Path) -> bool:
    """Whether a file that SQLite cannot read is a record of ours all the same."""
    if lock_path(path).exists():
        # The file is made by every program that writes the record, and by nothing else.
        return True
    if not path.is_file():
        return False
    with path.open("rb") as file:
        header = file.read(_ID_PLACE + 4)
    return header[_ID_PLACE:] == schema.APPLICATION_ID.to_bytes(4, "big")


def _not_a_record(path: Path) -> RecordError:
    return RecordError(
        "not_a_record", f"{path} is not a record of jobs: name another file with --db"
    )


def _no_record(path: Path) -> RecordError:
    return RecordError("no_record", f"there is no record {path} yet: 'sweepsay run' makes it")


def _kind(error: sqlite3.Error) -> int:
    return getattr(error, "sqlite_errorcode", 0) & 0xFF
