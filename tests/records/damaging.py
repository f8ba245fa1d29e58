"""Records damaged in every way that can be thought of, and what opening them then saves.

Beside ours, SQLite itself reads every damaged record: what it still can is what must be there.
As a command it prints a table: ``python -m tests.records.damaging --records 1000``.
"""

import argparse
import os
import random
import shutil
import sqlite3
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path

from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Event, Heard, Started
from assistant.records.faults import RecordError
from assistant.records.journal import schema
from assistant.records.journal.codec import write_event
from assistant.records.journal.journal import Journal
from assistant.records.journal.record_files import companions, journal_of
from assistant.records.journal.writer_lock import lock_path
from grammar.meaning import Reading

AT = "2031-05-04T08:00:00Z"
JOBS, EVENTS = 3, 40
PAGE = 4096

Files = dict[str, bytes]
"""What stands under a record's name, by its ending."""


def heard(turn: int) -> Heard:
    """One reading among many, unlike all others."""
    words = f"reading number {turn} of this job"
    return Heard(AT, turn, "text", "accept", words, Reading(Decimal(turn % 30), True))


def first_of(job: int) -> Started:
    """What this job began with."""
    return Started(AT, f"job-{job}", Profile(name=f"machine {job}"))


def events_of(job: int) -> tuple[Event, ...]:
    """What was recorded of this job."""
    return (first_of(job), *(heard(turn) for turn in range(1, EVENTS)))


TRUTH = {f"job-{job}": events_of(job) for job in range(JOBS)}
BODIES = {job: [write_event(event) for event in events] for job, events in TRUTH.items()}


def begin(path: Path) -> Journal:
    """A record open for writing, with the first five events of a job."""
    journal = Journal.open(path)
    _append(journal, 0, 0, 5)
    return journal


def _files(path: Path) -> Files:
    found = {"": path.read_bytes()}
    for part in companions(path):
        if part.exists():
            found[part.name.removeprefix(path.name)] = part.read_bytes()
    return found


def _append(journal: Journal, job: int, first: int, last: int) -> None:
    if first == 0:
        journal.start(f"job-{job}", f"machine {job}", AT)
    for event in events_of(job)[first:last]:
        journal.append(f"job-{job}", event)


def originals(folder: Path) -> dict[str, Files]:
    """Whole records: closed, as a power cut leaves them, partly in the log, and moments of them."""
    found: dict[str, Files] = {}
    path = folder / "jobs.db"
    with Journal.open(path) as journal:
        _append(journal, 0, 0, EVENTS)
        found["begun"] = _files(path)
        _append(journal, 1, 0, EVENTS // 2)
        journal._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        found["in file"] = _files(path)
        _append(journal, 1, EVENTS // 2, EVENTS)
        _append(journal, 2, 0, EVENTS)
        journal.close_job("job-0", AT)
        found["cut off"] = _files(path)
    found["closed"] = _files(path)
    other = folder / "other.db"
    with Journal.open(other) as journal:
        journal.start("other", "mill", AT)
        found["another's"] = _files(other)
    return found


Damage = Callable[[dict[str, Files], random.Random], Files]


def _flip(data: bytes, chance: random.Random, most: int, first: int | None = None) -> bytes:
    changed = bytearray(data)
    for _ in range(chance.randint(1, most)):
        changed[chance.randrange(min(first or len(changed), len(changed)))] ^= (
            1 << chance.randrange(8)
        )
    return bytes(changed)


def _flipped(whole: dict[str, Files], chance: random.Random) -> Files:
    files = dict(whole[chance.choice(["closed", "cut off", "in file"])])
    return files | {"": _flip(files[""], chance, 12)}


def _header(whole: dict[str, Files], chance: random.Random) -> Files:
    files = dict(whole[chance.choice(["closed", "cut off"])])
    return files | {"": _flip(files[""], chance, 2, 100)}


def _overwritten(whole: dict[str, Files], chance: random.Random) -> Files:
    files = dict(whole[chance.choice(["closed", "cut off", "in file"])])
    data = bytearray(files[""])
    size = chance.choice([16, 512, PAGE, 3 * PAGE])
    start = chance.randrange(len(data)) // 512 * 512
    part = len(data[start : start + size])
    data[start : start + part] = bytes(part) if chance.random() < 0.5 else chance.randbytes(part)
    return files | {"": bytes(data)}


def _cut(whole: dict[str, Files], chance: random.Random) -> Files:
    files = dict(whole[chance.choice(["closed", "cut off"])])
    length = chance.randrange(len(files[""]))
    return files | {"": files[""][: length // PAGE * PAGE if chance.random() < 0.5 else length]}


def _log_lost(whole: dict[str, Files], chance: random.Random) -> Files:
    return {"": whole[chance.choice(["cut off", "in file", "begun"])][""]}


def _log_stale(whole: dict[str, Files], chance: random.Random) -> Files:
    log = whole[chance.choice(["begun", "another's"])]
    kept = ("-wal", "-shm") if chance.random() < 0.5 else ("-wal",)
    record = whole[chance.choice(["closed", "cut off"])][""]
    return {"": record} | {ending: log[ending] for ending in kept}


def _log_damaged(whole: dict[str, Files], chance: random.Random) -> Files:
    files = dict(whole["cut off"])
    log = files["-wal"]
    if chance.random() < 0.5:
        return files | {"-wal": log[: chance.randrange(len(log))]}
    return files | {"-wal": _flip(log, chance, 6)}


def _journal_stale(whole: dict[str, Files], chance: random.Random) -> Files:
    """A rollback journal of another time: SQLite would undo in the file what it says."""
    files = dict(whole[chance.choice(["closed", "cut off"])])
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "jobs.db"
        path.write_bytes(whole["begun"][""])
        with closing(sqlite3.connect(path, isolation_level=None)) as connection:
            connection.execute("PRAGMA journal_mode = DELETE")
            connection.execute("PRAGMA cache_size = 1")
            connection.execute("BEGIN IMMEDIATE")
            connection.execute("CREATE TABLE big AS SELECT randomblob(40000)")
            files["-journal"] = journal_of(path).read_bytes()
    return files


def _index(whole: dict[str, Files], chance: random.Random) -> Files:
    files = dict(whole["cut off"])
    return files | {"-shm": chance.randbytes(len(files["-shm"]))}


def _longer(whole: dict[str, Files], chance: random.Random) -> Files:
    files = dict(whole["closed"])
    return files | {"": files[""] + chance.randbytes(chance.choice([1, PAGE, 5 * PAGE]))}


def _emptied(whole: dict[str, Files], chance: random.Random) -> Files:
    files = dict(whole[chance.choice(["cut off", "closed"])])
    return files | {"": b""}


DAMAGES: dict[str, Damage] = {
    "bits flipped": _flipped,
    "bits of the header flipped": _header,
    "overwritten": _overwritten,
    "cut short": _cut,
    "log lost": _log_lost,
    "log of another time or record": _log_stale,
    "log damaged or cut": _log_damaged,
    "journal of another time": _journal_stale,
    "index of the log is noise": _index,
    "longer than it was": _longer,
    "emptied": _emptied,
}

FOREIGN: dict[str, bytes] = {
    "text": b"Dear diary, " * 400,
    "a picture": b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 40,
    "noise": random.Random(1).randbytes(20_000),
}


@dataclass(slots=True)
class Opened:
    """What came of one damaged record; ``problems`` should be empty."""

    kept: int
    readable: int
    told: str
    problems: list[str] = field(default_factory=list)


def put(folder: Path, files: Files, *, lock: bool) -> Path:
    """Write a record's files into a folder."""
    path = folder / "jobs.db"
    for ending, data in files.items():
        path.with_name(path.name + ending).write_bytes(data)
    if lock:
        lock_path(path).touch()
    return path


def _open(folder: Path, files: Files, *, lock: bool) -> Opened:
    """Open a damaged record, and compare with what SQLite could read of it before."""
    before = folder / "before"
    before.mkdir()
    readable = _readable(put(before, files, lock=False))
    shutil.rmtree(before)
    path = put(folder, files, lock=lock)
    try:
        journal = Journal.open(path)
    except RecordError as error:
        return Opened(0, readable.total(), str(error), [f"it does not start: {error}"])
    with journal:
        told = " / ".join(journal.told())
        result = Opened(0, readable.total(), told)
        for job in journal.jobs():
            events, _ = journal.readable_events(job.id)
            result.kept += len(events)
            if job.id in TRUTH and events != TRUTH[job.id][: len(events)]:
                result.problems.append(f"other events in {job.id}")
            readable[job.id] -= len(events)
        lost = {job: count for job, count in readable.items() if count > 0}
        if lost:
            result.problems.append(f"SQLite could still read {lost}")
        if journal.rescued is not None:
            aside = journal.rescued.aside
            if any(
                _aside(aside, ending) != data for ending, data in files.items() if ending != "-shm"
            ):
                result.problems.append("what was set aside is not what was found")
        journal.start("new", Profile().name, AT)
        journal.append("new", Started(AT, "new", Profile()))
    with Journal.open(path) as journal:
        if journal.told() or journal.job("new").events != 1:
            result.problems.append(f"opened again: {journal.told()}")
    if not told.isprintable():
        result.problems.append("what is told is not a line")
    return result


def _aside(aside: Path, ending: str) -> bytes | None:
    path = aside.with_name(aside.name + ending)
    return path.read_bytes() if path.exists() else None


def _readable(path: Path) -> Counter[str]:
    """How many first events of each job SQLite reads, with its log and without."""
    good: dict[str, set[int]] = {}
    for mode in ("immutable=1", "mode=ro"):
        if mode == "mode=ro" and not path.stat().st_size:
            continue
        for job, number, body, crc in _rows(path, mode):
            with suppress(TypeError, AttributeError, IndexError):
                data = body.encode()
                if crc == schema.crc_of(job, number, data) and BODIES[job][number - 1] == body:
                    good.setdefault(job, set()).add(number)
    return Counter(
        {
            job: next(k for k in range(EVENTS + 1) if k + 1 not in numbers)
            for job, numbers in good.items()
        }
    )


def _rows(path: Path, mode: str) -> Iterator[tuple[str, int, str, int]]:
    select = "SELECT job, number, body, crc FROM events"
    queries = [f"{select} ORDER BY position", f"{select} ORDER BY position DESC"]
    queries += [f"{select} WHERE position = {place}" for place in range(1, JOBS * EVENTS + 2)]
    with closing(sqlite3.connect(f"{path.as_uri()}?{mode}", uri=True)) as connection:
        connection.text_factory = lambda data: data.decode("utf-8", "replace")
        for query in queries:
            with suppress(sqlite3.Error, UnicodeDecodeError, MemoryError):
                yield from connection.execute(query)


def memory() -> str | None:
    """A folder in memory, where there is one: what a disk takes its time for is not looked at."""
    return "/dev/shm" if os.access("/dev/shm", os.W_OK) else None


def one(whole: dict[str, Files], name: str, seed: int) -> Opened:
    """One record with a damage of this kind."""
    chance = random.Random(f"{name} {seed}")
    return opened(DAMAGES[name](whole, chance), lock=chance.random() < 0.7)


def opened(files: Files, *, lock: bool) -> Opened:
    """What comes of these files, in a folder of their own."""
    with tempfile.TemporaryDirectory(dir=memory()) as folder:
        return _open(Path(folder), files, lock=lock)


def main() -> int:
    """Print the table; 1 when a record did not start or lost what SQLite could read."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--records", type=int, default=1000)
    records = parser.parse_args().records
    with tempfile.TemporaryDirectory() as folder:
        whole = originals(Path(folder))
    bad = 0
    sys.stdout.write(f"{'damage':32} records  told  kept of what SQLite reads  problems\n")
    for name in DAMAGES:
        results = [one(whole, name, seed) for seed in range(-(-records // len(DAMAGES)))]
        problems = [f"{seed}: {text}" for seed, r in enumerate(results) for text in r.problems]
        bad += len(problems)
        sys.stdout.write(
            f"{name:32} {len(results):7} {sum(bool(r.told) for r in results):5} "
            f"{sum(r.kept for r in results):9} of {sum(r.readable for r in results):9} "
            f"{len(problems):9}\n"
        )
        sys.stdout.writelines(f"    {text}\n" for text in problems[:5])
        sys.stdout.flush()
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
