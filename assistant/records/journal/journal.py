"""The journal: every event of every job, on the disk before anything is done about it.

SQLite in WAL mode with synchronous=FULL: according to SQLite's documentation ("Write-Ahead
Logging", "PRAGMA synchronous") a transaction is then durable when its commit returns, through
a crash of the program, of the system and of the power. Not here: the meaning of the events.
"""

import os
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType

from assistant.dialogue.messages import Event
from assistant.records.faults import RecordError, from_sqlite
from assistant.records.journal.codec import DamagedEvent, read_event, write_event
from assistant.records.journal.elsewhere import written_elsewhere
from assistant.records.journal.opening import MEMORY, Opened, open_to_read, open_to_write
from assistant.records.journal.schema import crc_of
from assistant.records.journal.soundness import Damaged, damage_told
from assistant.records.names import check_job_id, one_line


@dataclass(frozen=True, slots=True)
class JobRow:
    """A job in the record. ``closed_at`` is None while it can be gone on with."""

    id: str
    machine: str
    started_at: str
    closed_at: str | None
    events: int


class Journal:
    """An open record; use `Journal.open` in a `with` statement, in one thread.

    Every method raises RecordError when the disk or another program is in the way; nothing is
    then half-written, and the same call can be made again. ``rescued`` tells what was saved
    when the file was found damaged at opening, None otherwise; ``notes`` are lines for the
    person. ``path`` may change when somebody deletes the files of an open record, ``moved`` says
    that it did or was written again: see `append`.
    """

    def __init__(self, path: Path, opened: Opened, *, write: bool) -> None:
        self.path = path
        self.rescued = opened.rescued
        self.notes = opened.notes
        self._opened = opened
        self._connection = opened.connection
        self._writes = write
        self.moved = False
        self._is_open = True
        self._news = ""

    @staticmethod
    def open(path: Path, *, write: bool = True) -> "Journal":
        """Open a record: for writing by this program alone, or for reading beside a writer.

        For writing it is made where there is none, brought up to date, checked, and set aside
        when it is damaged. Raises RecordError; "damaged" only for reading, see `read`.
        """
        # One file has one log, whatever links lead to it.
        path = path if str(path) == MEMORY else Path(os.path.realpath(path))
        if not write:
            connection, notes = open_to_read(path)
            return Journal(path, Opened(connection, notes=notes), write=False)
        return Journal(path, open_to_write(path), write=True)

    @staticmethod
    def read(path: Path, tell: Callable[[str], None]) -> "Journal":
        """Open a record to read it; a damaged one is set aside first, and read as it goes.

        ``tell`` is given every line for the person. Raises RecordError.
        """
        try:
            journal = Journal.open(path, write=False)
        except RecordError as error:
            if error.code != "damaged":
                raise
            journal = Journal.open(path)
        for line in journal.told():
            tell(line)
        return journal

    def told(self) -> tuple[str, ...]:
        """What is to be said of the opening, line by line."""
        return (*self.notes, *((self.rescued.text(),) if self.rescued is not None else ()))

    def news(self) -> str:
        """What has happened to the files since it was last asked; empty if nothing."""
        news, self._news = self._news, ""
        return news

    def copy_to(self, target: sqlite3.Connection) -> None:
        """Copy everything into another database, as it is now, beside whoever writes."""
        with self._errors():
            self._connection.backup(target)

    def close(self) -> None:
        """Close the record and let others write it; may be called twice."""
        self._opened.close()

    def __enter__(self) -> "Journal":
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def start(self, job_id: str, machine: str, at: str) -> None:
        """Note a new job; its first event should be appended at once."""
        check_job_id(job_id)
        with self._writing():
            if self._row(job_id) is not None:
                raise _taken(job_id)
            self._connection.execute(
                "INSERT INTO jobs (id, machine, started_at) VALUES (?, ?, ?)",
                (job_id, one_line(machine), one_line(at)),
            )

    def append(self, job_id: str, event: Event) -> int:
        """Commit one event and return its number, from 1; on the disk when this returns.

        Files that somebody deleted or replaced meanwhile would take everything with them when
        the program ends: all is written again first, where ``path`` then is, and `news` says so.
        """
        body = write_event(event)
        with self._writing():
            row = self._row(job_id)
            if row is None:
                raise _no_job(job_id)
            if row.closed_at is not None:
                raise RecordError("closed_job", f"job {job_id} is closed: start a new one")
            number = row.events + 1
            self._connection.execute(
                "INSERT INTO events (job, number, body, crc) VALUES (?, ?, ?, ?)",
                (job_id, number, body, crc_of(job_id, number, body.encode())),
            )
        return number

    def events(self, job_id: str, after: int = 0) -> tuple[Event, ...]:
        """The events of a job in order, those after number ``after``.

        Raises DamagedEvent with the number of the first one that cannot be read.
        """
        bodies = self._bodies(job_id, after)
        return tuple(read_event(body, k) for k, body in enumerate(bodies, after + 1))

    def readable_events(self, job_id: str) -> tuple[tuple[Event, ...], DamagedEvent | None]:
        """The events before the first damaged one, and what is wrong with that one."""
        good: list[Event] = []
        try:
            for number, body, crc in self._rows(job_id, 0):
                good.append(read_event(_body(job_id, number, body, crc), number))
        except DamagedEvent as error:
            return tuple(good), error
        return tuple(good), None

    def jobs(self) -> tuple[JobRow, ...]:
        """Every job, in the order in which they were started."""
        with self._errors():
            rows = self._connection.execute(f"{_JOBS} ORDER BY jobs.position").fetchall()
        return tuple(JobRow(*row) for row in rows)

    def job(self, job_id: str) -> JobRow:
        """One job; raises RecordError "no_job"."""
        with self._errors():
            row = self._row(job_id)
        if row is None:
            raise _no_job(job_id)
        return row

    def unfinished(self, machine: str | None = None) -> tuple[JobRow, ...]:
        """The jobs that can be gone on with, newest first; those of one machine if it is named.

        A job without any event is none: the program was stopped between the two.
        """
        wanted = None if machine is None else one_line(machine)
        return tuple(
            job
            for job in reversed(self.jobs())
            if job.closed_at is None and job.events and wanted in (None, job.machine)
        )

    def close_job(self, job_id: str, at: str) -> None:
        """Note that a job is over; a second time changes nothing."""
        with self._writing():
            if self._row(job_id) is None:
                raise _no_job(job_id)
            self._connection.execute(
                "INSERT INTO closings (job, at) VALUES (?, ?) ON CONFLICT (job) DO NOTHING",
                (job_id, one_line(at)),
            )

    def add_job(self, row: JobRow, events: Sequence[Event]) -> None:
        """Take in a whole job in one transaction; one that is there already must be the same.

        Raises RecordError "bad_name" when another job has its name.
        """
        check_job_id(row.id)
        bodies = [write_event(event) for event in events]
        with self._writing():
            if self._row(row.id) is not None:
                if self._bodies(row.id, 0) != bodies:
                    raise _taken(row.id)
                return
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                self._add(row, bodies)
                self._connection.execute("COMMIT")
            finally:
                if self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")

    def _add(self, row: JobRow, bodies: Sequence[str]) -> None:
        self._connection.execute(
            "INSERT INTO jobs (id, machine, started_at) VALUES (?, ?, ?)",
            (row.id, row.machine, row.started_at),
        )
        self._connection.executemany(
            "INSERT INTO events (job, number, body, crc) VALUES (?, ?, ?, ?)",
            (
                (row.id, number, body, crc_of(row.id, number, body.encode()))
                for number, body in enumerate(bodies, 1)
            ),
        )
        if row.closed_at is not None:
            self._connection.execute(
                "INSERT INTO closings (job, at) VALUES (?, ?)", (row.id, row.closed_at)
            )

    def save_snapshot(self, job_id: str, number: int, code: str, body: str) -> None:
        """Keep what the first ``number`` events gave, made by the version ``code``."""
        with self._errors():
            self._connection.execute(
                "INSERT OR REPLACE INTO snapshots (job, number, code, body, crc)"
                " VALUES (?, ?, ?, ?, ?)",
                (job_id, number, code, body, crc_of(job_id, number, body.encode())),
            )

    def snapshot(self, job_id: str, code: str) -> tuple[int, str] | None:
        """The snapshot made by the version ``code``: number of events and body, or None."""
        if not self._writes:
            return None
        with self._errors():
            row = self._connection.execute(
                "SELECT number, body, crc FROM snapshots WHERE job = ? AND code = ?",
                (job_id, code),
            ).fetchone()
        # A snapshot can be made again: one that is damaged is as good as none.
        if row is None or row[2] != crc_of(job_id, row[0], row[1].encode()):
            return None
        return row[0], row[1]

    def _row(self, job_id: str) -> JobRow | None:
        row = self._connection.execute(f"{_JOBS} WHERE jobs.id = ?", (job_id,)).fetchone()
        return None if row is None else JobRow(*row)

    def _rows(self, job_id: str, after: int) -> list[tuple[int, bytes, int]]:
        with self._errors():
            if self._row(job_id) is None:
                raise _no_job(job_id)
            return self._connection.execute(
                "SELECT number, CAST(body AS BLOB), crc FROM events"
                " WHERE job = ? AND number > ?"
                " ORDER BY number",
                (job_id, after),
            ).fetchall()

    def _bodies(self, job_id: str, after: int) -> list[str]:
        bodies: list[str] = []
        for expected, (number, body, crc) in enumerate(self._rows(job_id, after), after + 1):
            if number != expected:
                raise DamagedEvent(expected, "it is missing")
            bodies.append(_body(job_id, number, body, crc))
        return bodies

    @contextmanager
    def _writing(self) -> Iterator[None]:
        if self._is_open and self._opened.is_gone(self.path):
            self.path = written_elsewhere(self.path, self._opened)
            self._is_open, self.moved = False, True
            self._news = f"the record's files were deleted or replaced: all is kept in {self.path}"
        if not self._is_open:
            self._opened = open_to_write(self.path)
            self._connection, self._is_open = self._opened.connection, True
        with self._errors():
            yield

    @contextmanager
    def _errors(self) -> Iterator[None]:
        try:
            with damage_told():
                yield
        except sqlite3.ProgrammingError:
            raise
        except (sqlite3.Error, Damaged) as error:
            raise from_sqlite(error, self.path) from error


def look_into(path: Path) -> tuple[int, tuple[str, ...]]:
    """How many jobs a record holds and what there is to say of it; nothing is left behind.

    Raises RecordError.
    """
    connection, notes = open_to_read(path, briefly=True)
    with Journal(path, Opened(connection, notes=notes), write=False) as journal:
        return len(journal.jobs()), notes


_JOBS = """
    SELECT jobs.id, jobs.machine, jobs.started_at, closings.at,
        (SELECT coalesce(max(number), 0) FROM events WHERE events.job = jobs.id)
    FROM jobs LEFT JOIN closings ON closings.job = jobs.id
"""


def _body(job_id: str, number: int, body: bytes, crc: int) -> str:
    if type(body) is not bytes or crc != crc_of(job_id, number, body):
        raise DamagedEvent(number, "its check sum is wrong")
    return body.decode("ascii", "replace")


def _taken(job_id: str) -> RecordError:
    return RecordError("bad_name", f"there is another job {job_id} already: use a new name")


def _no_job(job_id: str) -> RecordError:
    name = one_line(job_id)
    return RecordError("no_job", f"there is no job {name}: 'sweepsay job list' shows them")
