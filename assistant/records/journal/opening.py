"""The door to a record: for writing, alone and checked; for reading, beside a writer.

Belongs here: what is done to a file before its first row is read. A file that is not ours is
never touched, and one that is ours is never refused for what is in it: a damaged one is set
aside, one whose making was stopped is made to the end.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from assistant.locks.program_lock import ProgramLock
from assistant.records.faults import RecordError, from_sqlite, from_system
from assistant.records.journal import schema
from assistant.records.journal.record_files import (
    Held,
    check_place,
    companions,
    has_content,
    journal_of,
    log_of,
)
from assistant.records.journal.rescue import (
    Rescue,
    finish_interrupted,
    rescue,
    scratch_of,
    was_interrupted,
)
from assistant.records.journal.soundness import (
    BUSY_S,
    HEADER,
    Damaged,
    NotOurs,
    a_stranger_s,
    check,
    check_files,
    connect,
    damage_told,
)
from assistant.records.journal.writer_lock import lock_path, lock_record
from assistant.records.places import is_default_record
from assistant.records.whole_files import sync_folder

MEMORY = ":memory:"
"""SQLite's name for a database that is in no file."""

NOTHING_KEPT = f"--db {MEMORY} keeps nothing: when this ends, the job is gone; name a file"


@dataclass(frozen=True, slots=True)
class Opened:
    """A record that may be written by this program alone.

    ``beside``: what SQLite keeps beside it while it is open. ``rescued``: what was saved when it
    was found damaged. ``notes``: lines for the person.
    """

    connection: sqlite3.Connection
    lock: ProgramLock | None = None
    held: Held | None = None
    beside: tuple[Path, ...] = ()
    rescued: Rescue | None = None
    notes: tuple[str, ...] = ()

    def is_gone(self, path: Path) -> bool:
        """Whether somebody deleted or replaced a file of it since it was opened."""
        if self.held is None:
            return False
        return not self.held.is_at(path) or not all(part.exists() for part in self.beside)

    def close(self) -> None:
        """Close it for this program and let others write; may be called twice."""
        try:
            if self.held is not None:
                _note_closed(self.connection)
            self.connection.close()
        finally:
            self.release()

    def release(self) -> None:
        """Let others write."""
        if self.held is not None:
            self.held.release()
        if self.lock is not None:
            self.lock.release()


def open_to_write(path: Path) -> Opened:
    """Make or open the record, lock it, bring it up to date and check it.

    Raises RecordError; the lock is then free and nothing is changed.
    """
    _check_sqlite()
    if str(path) == MEMORY:
        return _in_memory()
    check_place(path)
    with _told(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        if a_stranger_s(path):
            raise _not_a_record(path)
        known = lock_path(path).exists()
        lock = lock_record(path)
        try:
            return _open_locked(path, lock)
        except BaseException as error:
            if isinstance(error, NotOurs) and not known:
                lock_path(path).unlink(missing_ok=True)
            lock.release()
            raise


def open_to_read(
    path: Path, *, briefly: bool = False
) -> tuple[sqlite3.Connection, tuple[str, ...]]:
    """Open an existing record for reading only; also gives lines for the person.

    Raises RecordError: "damaged" also for what only a writer can put in order. ``briefly``: what
    nobody has open is read without the files that SQLite makes beside it for others.
    """
    _check_sqlite()
    check_place(path)
    with _told(path):
        if str(path) == MEMORY or not path.exists():
            if was_interrupted(path):
                raise Damaged("it was being set aside")
            raise _no_record(path)
        if not has_content(path):
            if has_content(log_of(path)):
                raise Damaged("the file is empty, its log is not")
            raise _no_record(path)
        log = has_content(log_of(path))
        alone = briefly and not any(part.exists() for part in companions(path))
        try:
            connection = _connect_to_read(path, "immutable=1" if alone else "mode=ro")
        except sqlite3.OperationalError:
            if has_content(journal_of(path)):
                raise Damaged("its making was stopped") from None
            if log_of(path).exists():
                raise
            # A folder that cannot be written: SQLite then reads only what it may believe
            # that nobody changes, and without a write-ahead log nobody does.
            connection = _connect_to_read(path, "immutable=1")
        with damage_told():
            return connection, () if log else _without_log(connection, path)


@contextmanager
def _told(path: Path) -> Iterator[None]:
    """Every error as the RecordError that says what to do."""
    try:
        yield
    except NotOurs:
        raise _not_a_record(path) from None
    except Damaged as error:
        if a_stranger_s(path):
            raise _not_a_record(path) from None
        raise from_sqlite(error, path) from error
    except sqlite3.Error as error:
        raise from_sqlite(error, path) from error
    except OSError as error:
        raise from_system(error, path) from None


def _check_sqlite() -> None:
    if sqlite3.sqlite_version_info < (3, 37, 0):
        raise RecordError(
            "cannot_open",
            f"SQLite {sqlite3.sqlite_version} is too old: use a Python with SQLite 3.37 or newer",
        )


def _in_memory() -> Opened:
    connection = sqlite3.connect(MEMORY, isolation_level=None)
    _settings(connection)
    schema.migrate(connection)
    return Opened(connection, notes=(NOTHING_KEPT,))


def _open_locked(path: Path, lock: ProgramLock) -> Opened:
    finish_interrupted(path)
    held, saved = Held(path), None
    try:
        try:
            check_files(path, held.beginning(HEADER), scratch_of(path))
        except (Damaged, NotOurs) as error:
            if isinstance(error, NotOurs) and not is_default_record(path):
                raise
            held.release()
            saved = rescue(path)
            held = Held(path)
        connection, notes = _connect_to_write(path)
        held.lock()
    except BaseException:
        held.release()
        raise
    beside = tuple(part for part in companions(path) if part.exists())
    return Opened(connection, lock, held, beside, saved, notes)


def _connect_to_write(path: Path) -> tuple[sqlite3.Connection, tuple[str, ...]]:
    log = has_content(log_of(path))
    connection = sqlite3.connect(path, isolation_level=None, timeout=BUSY_S)
    try:
        _settings(connection)
        # Tables before WAL, so that the file's header says whose it is from the first commit.
        schema.migrate(connection)
        connection.execute("PRAGMA journal_mode = WAL")
        notes = () if log else _without_log(connection, path)
        # Noted in the file itself, so that a copy of it alone knows what it lacks. A file that
        # may not be written is noticed here, too.
        schema.note_log(connection, is_open=True)
        connection.execute("PRAGMA wal_checkpoint(PASSIVE)")
        sync_folder(path.parent)
    except BaseException:
        connection.close()
        raise
    return connection, notes


def _note_closed(connection: sqlite3.Connection) -> None:
    """Closing puts everything into the file; a disk that refuses this refuses that as well."""
    try:
        schema.note_log(connection, is_open=False)
    except sqlite3.Error:
        return


def _without_log(connection: sqlite3.Connection, path: Path) -> tuple[str, ...]:
    if schema.version_of(connection) < schema.VERSION or not schema.log_was_open(connection):
        return ()
    return (
        f"record {path} was not closed, and its log {log_of(path).name} is not beside it: what "
        "was written last may be missing; where the original is, 'sweepsay job backup FILE' "
        "copies it whole",
    )


def _connect_to_read(path: Path, mode: str) -> sqlite3.Connection:
    connection = connect(path, mode)
    try:
        with damage_told():
            if schema.is_empty(connection):
                # Ours, if the program was stopped while it made it.
                raise _no_record(path) if lock_path(path).exists() else _not_a_record(path)
            check(connection, path)
            _settings(connection)
    except BaseException:
        connection.close()
        raise
    return connection


def _settings(connection: sqlite3.Connection) -> None:
    # A text that is not UTF-8 is damage, which the check sum of the row tells better.
    connection.text_factory = lambda data: data.decode("utf-8", "replace")
    connection.execute("PRAGMA synchronous = FULL")
    # Without this a system that knows it tells the disk but does not wait for it.
    connection.execute("PRAGMA fullfsync = ON")
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA trusted_schema = OFF")


def _not_a_record(path: Path) -> RecordError:
    return RecordError(
        "not_a_record", f"{path} is not a record of jobs: name another file with --db"
    )


def _no_record(path: Path) -> RecordError:
    return RecordError("no_record", f"there is no record {path} yet: 'sweepsay run' makes it")
