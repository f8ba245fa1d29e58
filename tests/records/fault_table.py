"""Every fault of record and bench, provoked, and what the person reads or hears of it.

``python -m tests.records.fault_table`` prints the table; `faults.txt` beside it is the one
that was reviewed, and a test compares them.
"""

import contextlib
import io
import json
import re
import sqlite3
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from assistant.bench.loop import Loop
from assistant.bench.session import run_live
from assistant.bench.wishes import Wishes
from assistant.devices.ears.fallback.pocketsphinx_ears import PocketSphinx
from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Effect, Say, Started
from assistant.records.export import export_json, import_job
from assistant.records.faults import RecordError
from assistant.records.journal import schema
from assistant.records.journal.history import history_of
from assistant.records.journal.journal import Journal
from assistant.records.machines.folder import Shelf
from assistant.records.machines.machine_toml import write_profile
from assistant.records.report.files import write_report
from tests.records.bench_faults import BENCH_FAULTS
from tests.records.forked import files_at_most, in_child
from tests.records.jobs import record, rehearsed

Fault = Callable[[Path], str]
"""Provokes a fault in a folder of its own; gives what is read or heard."""

EVENTS = rehearsed(1).events

DAY_AFTER = "2024-03-05T09:00:00.000Z"
"""When an unfinished job is taken up: what is said of its day would change with the calendar."""


def _message(work: Callable[[], object]) -> str:
    try:
        work()
    except RecordError as error:
        return f"[{error.code}] {error}"
    return "nothing"


def _heard(path: Path, size: int | None = None) -> str:
    """What the loop says when it takes up the record and hears one event."""
    effects: list[Effect] = []
    first = EVENTS[0]
    assert isinstance(first, Started)
    with Journal.open(path) as journal:
        loop = Loop(
            journal,
            first.profile,
            effects.append,
            clock=lambda: DAY_AFTER,
            job_id=lambda: "new-job",
        )
        loop.open_job()
        if size is not None:
            effects.clear()
            with files_at_most(size):
                loop.post(EVENTS[1])
    return " / ".join(f'"{effect.text}"' for effect in effects if isinstance(effect, Say))


def _opening(path: Path, *, write: bool = True) -> str:
    def work() -> None:
        with Journal.open(path, write=write) as journal:
            journal.jobs()

    return _message(work)


def _second_program(folder: Path) -> str:
    with Journal.open(folder / "jobs.db"):
        return _opening(folder / "jobs.db")


def _begun(record: Path) -> str:
    """What is said when a job is to begin at this record and cannot."""
    out, wishes = io.StringIO(), Wishes(ears="off", voice="text", keypad=False)
    with contextlib.suppress(RecordError):
        run_live(
            Profile(), record, wishes, PocketSphinx,
            stdin=io.StringIO(), stdout=out, stderr=io.StringIO(),
        )  # fmt: skip
    return " / ".join(f'"{line.removeprefix("say: ")}"' for line in out.getvalue().splitlines())


def _second_heard(folder: Path) -> str:
    with Journal.open(folder / "jobs.db"):
        return _begun(folder / "jobs.db")


def _held(folder: Path) -> str:
    path = folder / "jobs.db"
    record(path, EVENTS, close=False)
    with Journal.open(path) as journal:
        journal._connection.execute("PRAGMA busy_timeout = 1")
        other = sqlite3.connect(path, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        told = _message(lambda: journal.close_job("job-1", "2031"))
        other.close()
    return told


def _newer(folder: Path) -> str:
    path = folder / "jobs.db"
    record(path, EVENTS)
    connection = sqlite3.connect(path)
    connection.execute("CREATE TABLE later (what TEXT)")
    connection.execute(f"PRAGMA user_version = {schema.VERSION + 1}")
    connection.close()
    return _opening(path)


def _stranger(folder: Path) -> str:
    (folder / "song.db").write_bytes(b"la la la " * 100)
    return _opening(folder / "song.db")


def _folder(folder: Path) -> str:
    return _opening(folder)


def _nothing_to_read(folder: Path) -> str:
    return _opening(folder / "jobs.db", write=False)


def _damage(folder: Path, *, close: bool) -> Path:
    path = folder / "jobs.db"
    record(path, EVENTS[:20], close=close)
    data = path.read_bytes()
    place = data.index(b'"turn":15,')
    path.write_bytes(data[:place] + b'"turn":99,' + data[place + 10 :])
    return path


def _damaged_heard(folder: Path) -> str:
    return _heard(_damage(folder, close=False))


def _damaged_printed(folder: Path) -> str:
    with Journal.open(_damage(folder, close=False)) as journal:
        assert journal.rescued is not None
        return journal.rescued.text()


def _damaged_page(folder: Path) -> str:
    path = folder / "jobs.db"
    record(path, EVENTS)
    data = path.read_bytes()
    path.write_bytes(data[:4096] + bytes(4096) + data[8192:])
    return _opening(path, write=False)


def _damaged_closed(folder: Path) -> str:
    with Journal.open(_damage(folder, close=True)) as journal:
        return str(history_of(journal, "job-1").damage)


def _full_heard(folder: Path) -> str:
    record(folder / "jobs.db", EVENTS[:1], close=False)
    return str(in_child(lambda: _heard(folder / "jobs.db", size=4096)))


def _full_pages(folder: Path) -> str:
    path = folder / "jobs.db"
    record(path, EVENTS[:1], close=False)

    def work() -> None:
        with Journal.open(path) as journal:
            used = journal._connection.execute("PRAGMA page_count").fetchone()[0]
            journal._connection.execute(f"PRAGMA max_page_count = {used}")
            for event in EVENTS[1:]:
                journal.append("job-1", event)

    return _message(work)


def _full_at_start(folder: Path) -> str:
    def work() -> str:
        with files_at_most(4096):
            return _opening(folder / "jobs.db")

    return str(in_child(work))


def _read_only(folder: Path) -> str:
    record(folder / "jobs.db", EVENTS)

    def work() -> None:
        with Journal.open(folder / "jobs.db", write=False) as journal:
            journal.start("job-9", "drill press", "2031")

    return _message(work)


def _on_a_record(folder: Path, work: Callable[[Journal], object]) -> str:
    record(folder / "jobs.db", EVENTS)
    with Journal.open(folder / "jobs.db") as journal:
        return _message(lambda: work(journal))


def _report(folder: Path) -> str:
    (folder / "wall").touch()
    return _on_a_record(folder, lambda j: write_report(j, "job-1", folder / "wall" / "page.html"))


def _exported(folder: Path, **changes: object) -> str:
    record(folder / "source.db", EVENTS)
    with Journal.open(folder / "source.db") as journal:
        document = json.loads(export_json(history_of(journal, "job-1")))
    with Journal.open(folder / "jobs.db") as journal:
        return _message(lambda: import_job(journal, json.dumps(document | changes).encode()))


def _profile(folder: Path, old: str, new: str) -> str:
    text = write_profile(Profile(name="mill"))
    assert old in text
    (folder / "mill.toml").write_text(text.replace(old, new), encoding="utf-8")
    return _message(lambda: Shelf(folder).load("mill"))


FAULTS: dict[str, Fault] = {
    "a second program is started": _second_program,
    "a second program is started, heard": _second_heard,
    "another program holds the database": _held,
    "the record is of a newer version": _newer,
    "--db names another kind of file": _stranger,
    "--db names a folder": _folder,
    "--db names a folder, heard": _begun,
    "jobs are asked for and there is no record": _nothing_to_read,
    "the record is damaged, heard at the start": _damaged_heard,
    "the record is damaged, read at the start": _damaged_printed,
    "the record is damaged, jobs are asked for": _damaged_page,
    "one event of a closed job is damaged": _damaged_closed,
    "the disk refuses an event, heard": _full_heard,
    "the disk is full": _full_pages,
    "the disk is full at the start": _full_at_start,
    "the record may not be written": _read_only,
    "the job does not exist": lambda f: _on_a_record(f, lambda j: j.events("job-7")),
    "the job is closed": lambda f: _on_a_record(f, lambda j: j.append("job-1", EVENTS[0])),
    "the job's name is taken": lambda f: _on_a_record(f, lambda j: j.start("job-1", "x", "2031")),
    "the job's name would leave the folder": lambda f: _on_a_record(
        f, lambda j: j.start("../x", "x", "2031")
    ),
    "the report has no place": _report,
    "the file to import is not an export": lambda f: _exported(f, format="recipe"),
    "the file to import is of a newer version": lambda f: _exported(f, version=99),
    "the file to import holds a damaged event": lambda f: _exported(f, events=[{"kind": 3}]),
    "the machine does not exist": lambda f: _message(lambda: Shelf(f).load("mill")),
    "the machine's name would leave the folder": lambda f: _message(lambda: Shelf(f).load("../x")),
    "the profile is not TOML": lambda f: _profile(f, '"mill"', "mill"),
    "the profile has an unknown key": lambda f: _profile(f, "tolerance =", "tolerence ="),
    "the profile has an impossible value": lambda f: _profile(f, '"10 in"', '"10 feet"'),
}


def table() -> str:
    """The table as text: the fault, then what is read (with its code) or heard (in quotes)."""
    rows: list[str] = []
    for name, fault in (FAULTS | BENCH_FAULTS).items():
        with tempfile.TemporaryDirectory() as folder:
            told = fault(Path(folder)).replace(folder, "FOLDER")
        told = re.sub(r"process [0-9]+", "process N", told)
        told = re.sub(r"[0-9]{8}-[0-9]{6}-[0-9a-f]{4}", "JOB", told)
        rows.append(f"{name}\n    {told}\n")
    return "".join(rows)


if __name__ == "__main__":
    sys.stdout.write(table())
