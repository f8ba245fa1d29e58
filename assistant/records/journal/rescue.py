"""A damaged record: read as far as it goes, and set aside with everything that belongs to it.

The new record is built complete beside the damaged one before anything is renamed, so that
being stopped at any moment loses nothing: see `finish_interrupted`. Nothing is written into the
damaged files: they are renamed, and read through connections that cannot write.
"""

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, field
from itertools import count, takewhile
from pathlib import Path
from typing import Any

from assistant.dialogue.messages import Started
from assistant.records.faults import RecordError
from assistant.records.journal import schema
from assistant.records.journal.codec import DamagedEvent, read_event
from assistant.records.journal.log_file import write_pages
from assistant.records.journal.record_files import (
    PRIVATE,
    companions,
    has_content,
    journal_of,
    log_of,
)
from assistant.records.journal.soundness import (
    BUSY_S,
    Damaged,
    check,
    connect,
    damage_told,
    rolled_back,
)
from assistant.records.names import check_job_id, one_line
from assistant.records.whole_files import sync_folder

_MOST_ROWS = 2_000_000
"""Rows that are looked for one by one where nothing says how many there are."""


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


_Events = dict[str, dict[int, tuple[str, int]]]
"""The bodies of each job by their number, with their check sums."""


@dataclass(slots=True)
class _Found:
    """What could be read. ``apart``: events that contradict those in ``events``."""

    jobs: dict[str, tuple[str, str]] = field(default_factory=dict)
    events: _Events = field(default_factory=dict)
    closings: dict[str, str] = field(default_factory=dict)
    apart: int = 0


def rescue(path: Path) -> Rescue:
    """Replace a damaged record by what can be read of it; the damaged file is kept.

    Raises RecordError, sqlite3.Error or OSError when the disk is full or read-only; the
    damaged file is then still in its place.
    """
    found = _read_what_goes(path, scratch_of(path))
    fresh = fresh_path(path)
    for old in (fresh, *companions(fresh)):
        old.unlink(missing_ok=True)
    jobs, events, left = _write(fresh, found)
    aside = _free_name(path)
    # From here to the last rename, the absence of `path` says that `fresh` is complete.
    path.rename(aside)
    _move_companions(path, aside)
    fresh.rename(path)
    sync_folder(path.parent)
    return Rescue(aside, jobs, events, left)


def scratch_of(path: Path) -> Path:
    """A folder for copies of this record that are looked into."""
    return path.with_name(path.name + ".looked-into")


def was_interrupted(path: Path) -> bool:
    """Whether a rescue was stopped between setting aside and putting in place."""
    return not path.exists() and fresh_path(path).exists()


def finish_interrupted(path: Path) -> None:
    """Go on with a rescue that was stopped between setting aside and putting in place.

    Where somebody took the record away, what a rescue left may be half-built: it is then set
    aside, too.
    """
    if not was_interrupted(path):
        return
    fresh, before = fresh_path(path), _aside_names(path)
    if before:
        _move_companions(path, before[-1])
    if not before and not _whole(fresh):
        aside = _free_name(path)
        fresh.rename(aside)
        _move_companions(fresh, aside)
        return
    fresh.rename(path)
    sync_folder(path.parent)


def _whole(path: Path) -> bool:
    if has_content(journal_of(path)):
        return False
    try:
        with damage_told(), closing(connect(path, "immutable=1")) as connection:
            check(connection, path)
            return not schema.is_empty(connection)
    except (Damaged, RecordError, sqlite3.Error):
        return False


def fresh_path(path: Path) -> Path:
    """Where what replaces a record is built; it is taken up where the record is gone."""
    return path.with_name(path.name + ".rescued")


def _move_companions(path: Path, aside: Path) -> None:
    """The write-ahead log belongs to the damaged file: it goes along under a matching name."""
    for part, name in zip(companions(path), companions(aside), strict=True):
        if part.exists():
            part.rename(name)


def _aside_names(path: Path) -> list[Path]:
    """The names of damaged files so far, oldest first."""
    return list(
        takewhile(Path.exists, (path.with_name(f"{path.name}.damaged-{k}") for k in count(1)))
    )


def _free_name(path: Path) -> Path:
    return path.with_name(f"{path.name}.damaged-{len(_aside_names(path)) + 1}")


# -- reading ---------------------------------------------------------------------------------


def _read_what_goes(path: Path, scratch: Path) -> _Found:
    """What any view of the damaged record shows: a log may hide rows as well as hold them."""
    found = _Found()
    for view in (_with_log, _alone, _with_whole_log, _undone, _with_new_first_page):
        # A view that is not there, or cannot be had on this disk, leaves the others.
        with suppress(Damaged, OSError, sqlite3.Error), view(path, scratch) as connection:
            _add(found, _read(connection))
    for job, bodies in found.events.items():
        if 1 in bodies:
            _job_from_first_event(found, job, bodies[1][0])
    return found


@contextmanager
def _with_log(path: Path, _scratch: Path) -> Iterator[sqlite3.Connection]:
    if not has_content(path):
        # SQLite deletes the log of an empty file, by whatever connection.
        raise Damaged("empty")
    with closing(connect(path, "mode=ro")) as connection:
        yield connection


@contextmanager
def _alone(path: Path, _scratch: Path) -> Iterator[sqlite3.Connection]:
    with closing(connect(path, "immutable=1")) as connection:
        yield connection


@contextmanager
def _with_whole_log(path: Path, scratch: Path) -> Iterator[sqlite3.Connection]:
    """A copy with what stands in the log behind a damaged frame, too."""
    if not has_content(log_of(path)):
        raise Damaged("no log")
    with _copied(path, scratch) as copy:
        write_pages(log_of(path), copy)
        with closing(connect(copy, "immutable=1")) as connection:
            yield connection


@contextmanager
def _copied(path: Path, scratch: Path) -> Iterator[Path]:
    shutil.rmtree(scratch, ignore_errors=True)
    scratch.mkdir()
    try:
        yield Path(shutil.copyfile(path, scratch / "copy.db"))
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


@contextmanager
def _undone(path: Path, scratch: Path) -> Iterator[sqlite3.Connection]:
    if not has_content(journal_of(path)):
        raise Damaged("no journal")
    with rolled_back(path, scratch) as copy, closing(connect(copy, "mode=ro")) as connection:
        yield connection


@contextmanager
def _with_new_first_page(path: Path, scratch: Path) -> Iterator[sqlite3.Connection]:
    """A copy whose first page is that of a record just made: it says where the tables are, and
    that is the same in every record, since they are all made in one order."""
    with _copied(path, scratch) as copy:
        made = scratch / "made.db"
        with closing(sqlite3.connect(made, isolation_level=None)) as connection:
            schema.migrate(connection)
            size = int(connection.execute("PRAGMA page_size").fetchone()[0])
        page = bytearray(made.read_bytes()[:size])
        pages = max(copy.stat().st_size // size, 1)
        page[18:20] = b"\2\2"
        page[28:32] = pages.to_bytes(4, "big")
        with copy.open("r+b") as file:
            file.write(page)
        if has_content(log_of(path)):
            shutil.copyfile(log_of(path), log_of(copy))
        with closing(connect(copy, "mode=ro")) as connection:
            yield connection


def _add(found: _Found, more: _Found) -> None:
    for job, about in more.jobs.items():
        found.jobs.setdefault(job, about)
    for job, at in more.closings.items():
        found.closings.setdefault(job, at)
    for job, bodies in more.events.items():
        known = found.events.setdefault(job, {})
        if all(known.get(number, body) == body for number, body in bodies.items()):
            known.update(bodies)
            continue
        # Two histories of one job, by a log of another record: one is whole, no mixture is.
        longer, shorter = sorted((known, bodies), key=len, reverse=True)
        found.events[job] = longer
        found.apart += len(shorter)


def _read(connection: sqlite3.Connection) -> _Found:
    found = _Found()
    # Nothing can be written here; it lets SQLite read a file that is shorter than it should be.
    connection.execute("PRAGMA writable_schema = ON")
    for job, machine, at in _rows(connection, "id, machine, started_at", "jobs"):
        if type(job) is type(machine) is type(at) is str:
            found.jobs.setdefault(job, (machine, at))
    for job, number, body, crc in _rows(
        connection, "job, number, CAST(body AS BLOB), crc", "events"
    ):
        known = type(job) is str and type(number) is int and type(body) is bytes
        if known and crc == schema.crc_of(job, number, body):
            text = body.decode("ascii", "replace")
            found.events.setdefault(job, {}).setdefault(number, (text, crc))
    for job, at in _rows(connection, "job, at", "closings"):
        if type(job) is type(at) is str:
            found.closings.setdefault(job, at)
    return found


def _rows(connection: sqlite3.Connection, columns: str, table: str) -> Iterator[tuple[Any, ...]]:
    """All rows that can be read: from both ends, then those between, one by one."""
    query = f"SELECT rowid, {columns} FROM {table}"
    first, whole = _until_damage(connection, f"{query} ORDER BY rowid")
    yield from (row[1:] for row in first)
    if whole:
        return
    last, _ = _until_damage(connection, f"{query} ORDER BY rowid DESC")
    yield from (row[1:] for row in last)
    begin = first[-1][0] + 1 if first else 1
    end = last[-1][0] if last else min(begin + _MOST_ROWS, _pages(connection) * 200)
    for place in range(begin, end):
        one, _ = _until_damage(connection, f"{query} WHERE rowid = {place}")
        yield from (row[1:] for row in one)


def _pages(connection: sqlite3.Connection) -> int:
    row, _ = _until_damage(connection, "PRAGMA page_count")
    return int(row[0][0]) if row else 0


def _until_damage(connection: sqlite3.Connection, query: str) -> tuple[list[tuple[Any, ...]], bool]:
    """The rows up to the first that cannot be read, and whether those were all."""
    rows: list[tuple[Any, ...]] = []
    try:
        with damage_told():
            rows.extend(iter(connection.execute(query)))
    except (Damaged, sqlite3.Error):
        return [row for row in rows if type(row[0]) is int], False
    return rows, True


def _job_from_first_event(found: _Found, job: str, body: str) -> None:
    """A job's machine as its first event has it, which has a check sum where the row has none."""
    try:
        event = read_event(body, 1)
    except DamagedEvent:
        return
    if isinstance(event, Started):
        found.jobs[job] = (one_line(event.profile.name), one_line(event.at))


# -- writing ---------------------------------------------------------------------------------


def _write(fresh: Path, found: _Found) -> tuple[int, int, int]:
    """Make the new record; the numbers of jobs and events saved, and of events behind a gap."""
    jobs, saved, total = 0, 0, sum(len(bodies) for bodies in found.events.values())
    fresh.touch(PRIVATE)
    connection = sqlite3.connect(fresh, isolation_level=None, timeout=BUSY_S)
    try:
        connection.execute("PRAGMA synchronous = FULL")
        schema.migrate(connection)
        connection.execute("BEGIN IMMEDIATE")
        for job, (machine, at) in sorted(found.jobs.items(), key=lambda item: item[1][1]):
            bodies = found.events.get(job, {})
            if not _is_a_job(job, bodies):
                continue
            connection.execute(
                "INSERT INTO jobs (id, machine, started_at) VALUES (?, ?, ?)", (job, machine, at)
            )
            jobs, number = jobs + 1, 1
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
    return jobs, saved, total - saved + found.apart


def _is_a_job(job: str, bodies: dict[int, tuple[str, int]]) -> bool:
    """A name that is none comes from a damaged row, unless events bear it out."""
    try:
        check_job_id(job)
    except RecordError:
        return bool(bodies)
    return True
