"""A damaged record: read as far as it goes, and set aside without touching a byte of it.

The new record is built complete beside the damaged one before anything is renamed, so that
being stopped at any moment loses nothing: see `finish_interrupted`.
"""

import sqlite3
from dataclasses import dataclass, field
from itertools import count, takewhile
from pathlib import Path
from typing import Any

from assistant.dialogue.messages import Started
from assistant.records import schema
from assistant.records.codec import DamagedEvent, read_event
from assistant.records.whole_files import sync_folder

_BUSY_S = 5.0


@dataclass(frozen=True, slots=True)
class Rescue:
    """What was saved from a damaged record, and where the damaged file is now.

    ``left``: events behind a damaged one; they are in the file set aside only, since a job
    cannot be replayed across a gap.
    """

    aside: Path
    jobs: int
    events: int
    left: int

    def text(self) -> str:
        """One line for the person."""
        left = f"; {self.left} later ones are in that file only" if self.left else ""
        return (
            f"the record was damaged and is set aside as {self.aside}: "
            f"{self.events} events (jobs: {self.jobs}) were read from it{left}"
        )


@dataclass(slots=True)
class _Found:
    """What could be read; the bodies of each job by their number."""

    jobs: dict[str, tuple[str, str]] = field(default_factory=dict)
    events: dict[str, dict[int, tuple[str, int]]] = field(default_factory=dict)
    closings: dict[str, str] = field(default_factory=dict)


def rescue(path: Path) -> Rescue:
    """Replace a damaged record by what can be read of it; the damaged file is kept.

    Raises RecordError, sqlite3.Error or OSError when the disk is full or read-only; the
    damaged file is then still in its place.
    """
    found = _read_what_goes(path)
    fresh = _fresh_path(path)
    for old in (fresh, *_companions(fresh)):
        old.unlink(missing_ok=True)
    events, left = _write(fresh, found)
    aside = _free_name(path)
    # From here to the last rename, the absence of `path` says that `fresh` is complete.
    path.rename(aside)
    _move_companions(path, aside)
    fresh.rename(path)
    sync_folder(path.parent)
    return Rescue(aside, len(found.jobs), events, left)


def finish_interrupted(path: Path) -> None:
    """Go on with a rescue that was stopped between setting aside and putting in place."""
    fresh = _fresh_path(path)
    if fresh.exists() and not path.exists():
        _move_companions(path, _aside_names(path)[-1])
        fresh.rename(path)
        sync_folder(path.parent)


def _fresh_path(path: Path) -> Path:
    return path.with_name(path.name + ".rescued")


def _companions(path: Path) -> tuple[Path, Path, Path]:
    return (
        path.with_name(path.name + "-wal"),
        path.with_name(path.name + "-shm"),
        path.with_name(path.name + "-journal"),
    )


def _move_companions(path: Path, aside: Path) -> None:
    """The write-ahead log belongs to the damaged file: it goes along under a matching name."""
    for part, name in zip(_companions(path), _companions(aside), strict=True):
        if part.exists():
            part.rename(name)


def _aside_names(path: Path) -> list[Path]:
    """The names of damaged files so far, oldest first."""
    return list(
        takewhile(Path.exists, (path.with_name(f"{path.name}.damaged-{k}") for k in count(1)))
    )


def _free_name(path: Path) -> Path:
    return path.with_name(f"{path.name}.damaged-{len(_aside_names(path)) + 1}")


def _read_what_goes(path: Path) -> _Found:
    found = _Found()
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?mode=ro", uri=True, isolation_level=None, timeout=_BUSY_S
    )
    connection.text_factory = lambda data: data.decode("utf-8", "replace")
    # Nothing can be written here; it lets SQLite read a file that is shorter than it should be.
    connection.execute("PRAGMA writable_schema = ON")
    try:
        for order in ("", "DESC"):
            # From both ends, so that damage in the middle hides as little as possible.
            _read(connection, found, order)
    finally:
        connection.close()
    for job, bodies in found.events.items():
        if job not in found.jobs and 1 in bodies:
            _job_from_first_event(found, job, bodies[1][0])
    return found


def _read(connection: sqlite3.Connection, found: _Found, order: str) -> None:
    for job, machine, at in _rows(
        connection, f"SELECT id, machine, started_at FROM jobs ORDER BY position {order}"
    ):
        if type(job) is type(machine) is type(at) is str:
            found.jobs.setdefault(job, (machine, at))
    for job, number, body, crc in _rows(
        connection,
        f"SELECT job, number, CAST(body AS BLOB), crc FROM events ORDER BY position {order}",
    ):
        known = type(job) is str and type(number) is int and type(body) is bytes
        if known and crc == schema.crc_of(job, number, body):
            text = body.decode("ascii", "replace")
            found.events.setdefault(job, {}).setdefault(number, (text, crc))
    for job, at in _rows(connection, f"SELECT job, at FROM closings ORDER BY rowid {order}"):
        if type(job) is type(at) is str:
            found.closings.setdefault(job, at)


def _rows(connection: sqlite3.Connection, query: str) -> list[tuple[Any, ...]]:
    """The rows up to the first that cannot be read; the damage is known, so no error."""
    rows: list[tuple[Any, ...]] = []
    try:
        rows.extend(iter(connection.execute(query)))
    except sqlite3.DatabaseError:
        return rows
    return rows


def _job_from_first_event(found: _Found, job: str, body: str) -> None:
    try:
        event = read_event(body, 1)
    except DamagedEvent:
        return
    if isinstance(event, Started):
        found.jobs[job] = (event.profile.name, event.at)


def _write(fresh: Path, found: _Found) -> tuple[int, int]:
    """Make the new record; the numbers of events saved and of those behind a gap."""
    saved, total = 0, sum(len(bodies) for bodies in found.events.values())
    connection = sqlite3.connect(fresh, isolation_level=None, timeout=_BUSY_S)
    try:
        connection.execute("PRAGMA synchronous = FULL")
        schema.migrate(connection)
        connection.execute("BEGIN IMMEDIATE")
        for job, (machine, at) in sorted(found.jobs.items(), key=lambda item: item[1][1]):
            connection.execute(
                "INSERT INTO jobs (id, machine, started_at) VALUES (?, ?, ?)", (job, machine, at)
            )
            bodies = found.events.get(job, {})
            number = 1
            while number in bodies:
                connection.execute(
                    "INSERT INTO events (job, number, body, crc) VALUES (?, ?, ?, ?)",
                    (job, number, *bodies[number]),
                )
                number += 1
            saved += number - 1
            if job in found.closings:
                connection.execute(
                    "INSERT INTO closings (job, at) VALUES (?, ?)", (job, found.closings[job])
                )
        connection.execute("COMMIT")
    finally:
        connection.close()
    return saved, total - saved
