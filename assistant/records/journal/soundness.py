"""Looking into a record without touching a byte of it: whose it is, and whether it is whole.

Belongs here: the looking. What is done about it is `opening`'s and `rescue`'s business.
"""

import shutil
import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from assistant.dialogue.messages import Started
from assistant.records.faults import RecordError
from assistant.records.journal import schema
from assistant.records.journal.codec import DamagedEvent, read_event
from assistant.records.journal.log_file import hides_commits
from assistant.records.journal.record_files import has_content, journal_of, log_of
from assistant.records.journal.writer_lock import lock_path
from assistant.records.names import one_line
from assistant.records.places import is_default_record

BUSY_S = 5.0
"""How long another program's lock on the database is waited for."""

CHECK_S = 2.0
"""How long the check at the start may take; what is not through by then is left off, since
the rows of a job are checked again when they are read."""

HEADER = 100
"""Bytes of SQLite's header: file format, 1.3 "The Database Header"."""

_MAGIC = b"SQLite format 3\0"
_FORMATS = slice(18, 20)  # file format write and read version: 1 journal, 2 log
_ID = slice(68, 72)

_MARKS = (b"the record is append-only", b'{"kind":"started"')
"""Text that stands in every record, by which it is known when its header is gone."""

_SEARCHED = 1 << 20

# What says nothing of the content: locks, rights, space, the disk itself, our own time limit.
_OUTSIDE = frozenset(
    (
        sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, sqlite3.SQLITE_FULL, sqlite3.SQLITE_READONLY,
        sqlite3.SQLITE_PERM, sqlite3.SQLITE_AUTH, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_IOERR,
        sqlite3.SQLITE_INTERRUPT,
    )
)  # fmt: skip


class Damaged(Exception):
    """The file is ours and is not a whole record."""


class NotOurs(Exception):
    """Somebody else's database."""


@contextmanager
def damage_told() -> Iterator[None]:
    """What SQLite and Python raise over damaged pages, as Damaged; everything else passes.

    A damaged schema may not be UTF-8 in SQLite's message, a damaged length ask for more memory
    than there is.
    """
    try:
        yield
    except sqlite3.ProgrammingError:
        raise
    except sqlite3.Error as error:
        if kind(error) in _OUTSIDE:
            raise
        raise Damaged(str(error)) from error
    except (UnicodeDecodeError, MemoryError, OverflowError) as error:
        raise Damaged(type(error).__name__) from error


def kind(error: sqlite3.Error) -> int:
    """SQLite's primary result code."""
    return getattr(error, "sqlite_errorcode", 0) & 0xFF


def connect(path: Path, mode: str) -> sqlite3.Connection:
    """A connection by SQLite's URI parameters; text that is not UTF-8 is not an error in it."""
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?{mode}", uri=True, isolation_level=None, timeout=BUSY_S
    )
    connection.text_factory = lambda data: data.decode("utf-8", "replace")
    return connection


def a_stranger_s(path: Path) -> bool:
    """Whether a file that no lock file stands beside holds something of somebody else's.

    A record whose first page is destroyed is known by what stands in the others; whatever is
    at the usual place is ours.
    """
    if not has_content(path) or lock_path(path).exists() or is_default_record(path):
        return False
    with path.open("rb") as file:
        begins = file.read(_SEARCHED)
    return begins[_ID] != _ID_BYTES and not any(mark in begins for mark in _MARKS)


_ID_BYTES = schema.APPLICATION_ID.to_bytes(4, "big")


def check_files(path: Path, header: bytes, scratch: Path) -> None:
    """Look into a record that nobody else writes; `header`: its first bytes.

    Raises Damaged, NotOurs, RecordError "newer", sqlite3.Error. ``scratch``: a folder that may
    be made; it is gone afterwards.
    """
    if has_content(journal_of(path)):
        # SQLite would undo in the file itself what the journal says was begun; the journal may
        # be of another time. A copy tells.
        with rolled_back(path, scratch) as copy:
            _compare(copy, path)
            with closing(connect(copy, "mode=ro")) as connection:
                check(connection, copy)
        return
    if not header:
        if has_content(log_of(path)):
            raise Damaged("the file is empty, its log is not")
        return
    if not header.startswith(_MAGIC) or not set(header[_FORMATS]) <= {1, 2}:
        raise Damaged("its header is not a database's")
    if has_content(log_of(path)):
        if hides_commits(log_of(path)):
            raise Damaged("its log is damaged")
        _compare(path, path)
    with closing(connect(path, "mode=ro")) as connection:
        try:
            check(connection, path)
        except NotOurs:
            if header[_ID] == _ID_BYTES:
                raise Damaged("its log is another database's") from None
            raise


@contextmanager
def rolled_back(path: Path, scratch: Path) -> Iterator[Path]:
    """A copy of a record after SQLite has undone what its rollback journal says was begun."""
    shutil.rmtree(scratch, ignore_errors=True)
    scratch.mkdir()
    try:
        copy = scratch / "copy.db"
        shutil.copyfile(path, copy)
        shutil.copyfile(journal_of(path), journal_of(copy))
        with damage_told(), closing(sqlite3.connect(copy)) as connection:
            schema.is_empty(connection)
        yield copy
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


def _compare(whole: Path, alone: Path) -> None:
    """Raise Damaged when the file ``alone`` holds more than ``whole`` does with its log.

    Rows are only ever added: what a log of another time hides is noticed by that.
    """
    there: dict[str, int] = {}
    with closing(connect(alone, "immutable=1")) as connection:
        try:
            with damage_told():
                there = _counts(connection)
        except (Damaged, sqlite3.Error):
            # In the middle of being brought up to date it may be anything.
            there = {}
    if not there:
        return
    with damage_told(), closing(connect(whole, "mode=ro")) as connection:
        together = {} if schema.is_empty(connection) else _counts(connection)
    for job, count in there.items():
        if together.get(job, 0) < count:
            raise Damaged(f"its log is of another time than event {count} of job {job}")


def _counts(connection: sqlite3.Connection) -> dict[str, int]:
    rows = connection.execute("SELECT job, max(number) FROM events GROUP BY job")
    return {str(job): number for job, number in rows if type(number) is int}


def check(connection: sqlite3.Connection, path: Path) -> None:
    """Raise Damaged when pages, or rows of jobs that can be gone on with, are damaged.

    Also NotOurs and RecordError "newer". An empty database is whole.
    """
    until = time.monotonic() + CHECK_S
    connection.set_progress_handler(lambda: time.monotonic() > until, 10_000)
    try:
        with damage_told():
            if schema.is_empty(connection):
                if schema.version_of(connection):
                    raise Damaged("it has a version and no tables")
                return
            _check_owner(connection, path)
            answer = connection.execute("PRAGMA integrity_check(1)").fetchone()
            if answer != ("ok",):
                raise Damaged(str(answer))
            _check_rows(connection)
    except sqlite3.OperationalError as error:
        if kind(error) != sqlite3.SQLITE_INTERRUPT:
            raise
    finally:
        connection.set_progress_handler(None, 0)


def _check_owner(connection: sqlite3.Connection, path: Path) -> None:
    there = schema.names_in(connection)
    ours = schema.names(schema.VERSION)
    if schema.application_of(connection) != schema.APPLICATION_ID:
        if there >= schema.names(1):
            raise Damaged("its header is not what its tables are")
        raise NotOurs
    version = schema.version_of(connection)
    if version > schema.VERSION and there - ours:
        raise RecordError(
            "newer",
            f"record {path} was written by a newer sweepsay: install that one, "
            "or name another file with --db",
        )
    # Every version has tables of its own, so that a number they contradict is a damaged one.
    if not 0 < version <= schema.VERSION or there & ours != schema.names(version):
        raise Damaged(f"its version {version} is not that of its tables")


def _check_rows(connection: sqlite3.Connection) -> None:
    rows = connection.execute(
        "SELECT job, number, CAST(body AS BLOB), crc, machine FROM events"
        " LEFT JOIN jobs ON jobs.id = job"
        " WHERE job NOT IN (SELECT job FROM closings) ORDER BY job, number"
    )
    last = ("", 0)
    for job, number, body, crc, machine in rows:
        expected = last[1] + 1 if job == last[0] else 1
        if number != expected or crc != schema.crc_of(job, number, body):
            raise Damaged(f"event {number} of job {job}")
        if number == 1 and machine != _machine_in(body, machine):
            raise Damaged(f"the machine of job {job}")
        last = (job, number)


def _machine_in(body: bytes, otherwise: str | None) -> str | None:
    """The machine that a job's first event names; one that cannot be read says nothing."""
    try:
        event = read_event(body.decode("ascii", "replace"), 1)
    except DamagedEvent:
        return otherwise
    return one_line(event.profile.name) if isinstance(event, Started) else otherwise
