"""The program killed just before any of its calls that touch files, and started again.

It counts from the first `open` on: while the record is made, read for the first time, brought
up to date, set aside, written. A library in C that is loaded before all others does the killing.
As a command it prints a table: ``python -m tests.records.killing --calls 10000``.
"""

import ctypes
import io
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from assistant.bench.typed_job import run_typed
from assistant.bench.which_machine import which_machine
from assistant.commands.job import job_list
from assistant.dialogue.messages import Event
from assistant.records.faults import RecordError
from assistant.records.journal.codec import encode
from assistant.records.journal.journal import Journal
from assistant.records.machines.folder import Shelf
from tests.records import damaging

SOURCE = Path(__file__).with_name("kill_at_call.c")
ROOT = Path(__file__).parents[2]
LINES = ("yes", "yes", "yes", "yes", "locked", "zeroed", "plus three", "plus six")

MISSING = "" if shutil.which("gcc") else "gcc not installed (apt install gcc)"


def run_killing(
    calls: int, limit_s: float, out: int | None = None, seed: int = 1
) -> "subprocess.CompletedProcess[str]":
    """Run this module as a command with the counting library loaded before all others.

    ``out``: where it prints, or subprocess.PIPE; by default on our own output. ``seed``: in which
    order the calls are taken.
    """
    with tempfile.TemporaryDirectory() as folder:
        library = Path(folder) / "kill_at_call.so"
        subprocess.run(
            ["gcc", "-O1", "-shared", "-fPIC", "-o", str(library), str(SOURCE), "-ldl"], check=True
        )
        return subprocess.run(
            [sys.executable, "-m", "tests.records.killing_at_calls", str(calls), str(limit_s),
             str(seed)],
            cwd=ROOT, env=os.environ | {"LD_PRELOAD": str(library)},
            stdout=out, text=True, check=False,
        )  # fmt: skip


# -- what is killed --------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Life:
    """A life of the program on a record: how it is found, and what is done with it.

    ``damaged``: it is set aside, with all that was found.
    """

    before: Callable[[Path], None]
    play: Callable[[Path, int], None]
    damaged: bool = False


def _play(record: Path, out: int) -> None:
    """What `run` does, typed: look whose job it is, then play it."""
    shelf = Shelf(record.parent / "machines")
    profile, machines = which_machine(None, shelf, record, asks=None, here=False, err=io.StringIO())
    with os.fdopen(os.dup(out), "w") as stdout:
        run_typed(
            profile, record, silent=True, as_json=True, machines=machines,
            stdin=io.StringIO("\n".join(LINES)), stdout=stdout, stderr=io.StringIO(),
        )  # fmt: skip


def _list(record: Path, _out: int) -> None:
    job_list(record, as_json=False, out=io.StringIO(), err=io.StringIO())


def _nothing(_record: Path) -> None:
    """The first start of all."""


def _begun(record: Path) -> None:
    """A job that ended by the end of its input."""
    out = os.open(os.devnull, os.O_WRONLY)
    _play(record, out)
    _list(record, out)
    os.close(out)


def _of_version_1(record: Path) -> None:
    import sqlite3

    dump = (Path(__file__).parent / "record_version_1.sql").read_text()
    connection = sqlite3.connect(record)
    connection.executescript(dump)
    connection.close()


def _cut_off(record: Path) -> None:
    """As a power cut leaves it: part of it is in the log alone."""
    damaging.put(record.parent, _WHOLE["cut off"], lock=True)


def _damaged(record: Path) -> None:
    """A log of another time beside it, that hides what the file holds."""
    files = {"": _WHOLE["closed"][""], "-wal": _WHOLE["begun"]["-wal"]}
    damaging.put(record.parent, files, lock=True)


_WHOLE: dict[str, damaging.Files] = {}

LIVES: dict[str, Life] = {
    "the record is made": Life(_nothing, _play),
    "a job is gone on with": Life(_begun, _play),
    "jobs are listed": Life(_begun, _list),
    "after a power cut": Life(_cut_off, _play),
    "jobs listed after a power cut": Life(_cut_off, _list),
    "brought up to date": Life(_of_version_1, _play),
    "set aside": Life(_damaged, _play, damaged=True),
    "set aside to be listed": Life(_damaged, _list, damaged=True),
}


# -- killing ---------------------------------------------------------------------------------


@dataclass(slots=True)
class _Died:
    events: list[str]
    killed: bool
    calls: int


def _live(library: ctypes.CDLL, life: Life, record: Path, at: int) -> _Died:
    """One life in a process of its own, ended before call ``at``; 0 lets it live and counts."""
    source, target = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(source)
        code = 70
        try:
            library.kill_at_call(at)
            life.play(record, target)
            calls = int(library.calls_made())
            library.kill_at_call(-1)
            os.write(target, b"%d\n" % calls)
            code = 0
        except BaseException:  # noqa: BLE001 - it is printed, and the code tells the parent
            library.kill_at_call(-1)
            traceback.print_exc()
        finally:
            os._exit(code)
    os.close(target)
    with os.fdopen(source, "rb") as pipe:
        lines = [line for line in pipe.read().split(b"\n")[:-1] if line]
    _, status = os.waitpid(child, 0)
    killed = os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL
    if not killed and os.waitstatus_to_exitcode(status) != 0:
        raise AssertionError(f"it ended with {os.waitstatus_to_exitcode(status)}")
    calls = 0 if killed else int(lines.pop())
    rows = [json.loads(line) for line in lines]
    return _Died([json.dumps(row["event"]) for row in rows if "event" in row], killed, calls)


def _after(life: Life, record: Path, shown: list[str], before: Counter[str]) -> list[str]:
    """What is wrong when the program is started again after a kill."""
    out, err = io.StringIO(), io.StringIO()
    try:
        job_list(record, as_json=False, out=out, err=err)
    except RecordError as error:
        if error.code != "no_record":
            return [f"dead end: {error}"]
    try:
        _begun(record)
        with Journal.open(record) as journal:
            problems = [f"told: {line}" for line in journal.told()]
            kept = [
                json.dumps(encode(event, Event))
                for job in journal.jobs()
                for event in journal.events(job.id)
            ]
    except RecordError as error:
        return [f"dead end: {error}"]
    told = [line for line in err.getvalue().splitlines() if "a job may be going on" not in line]
    if told and not life.damaged:
        problems.append(f"told: {told[0]}")
    lost = (Counter(shown) | before) - Counter(kept)
    if lost:
        problems.append(f"lost: {lost.total()} events")
    turns = Counter(text for text in kept if '"heard"' in text and '"2026' in text)
    doubled = [text for text, count in turns.items() if count > 1 and before[text] < count]
    if doubled:
        problems.append(f"doubled: {doubled[0]}")
    aside = record.with_name(record.name + ".damaged-1")
    if life.damaged and not aside.exists():
        problems.append("the damaged file is gone")
    return problems


def _held(record: Path) -> Counter[str]:
    """The events that a record holds, read from a copy; of a damaged one what is saved."""
    if not record.exists():
        return Counter()
    with tempfile.TemporaryDirectory(dir=damaging.memory()) as folder:
        copy = Path(shutil.copytree(record.parent, Path(folder) / "copy")) / record.name
        with Journal.open(copy) as journal:
            return Counter(
                json.dumps(encode(event, Event))
                for job in journal.jobs()
                for event in journal.events(job.id)
            )


def _kill_once(library: ctypes.CDLL, life: Life, at: int) -> tuple[_Died, list[str]]:
    with tempfile.TemporaryDirectory(dir=damaging.memory()) as folder:
        record = Path(folder) / "jobs.db"
        life.before(record)
        before = _held(record)
        died = _live(library, life, record, at)
        return died, _after(life, record, died.events, before)


def main() -> int:
    """Print the table; 1 if there was a dead end or anything was lost."""
    wanted, until = int(sys.argv[1]), time.monotonic() + float(sys.argv[2])
    library = ctypes.CDLL(os.environ["LD_PRELOAD"])
    with tempfile.TemporaryDirectory() as folder:
        _WHOLE.update(damaging.originals(Path(folder)))
    chance, bad, all_kills = random.Random(sys.argv[3]), 0, 0
    sys.stdout.write(f"{'life':32} calls  kills  dead ends  lost  other\n")
    for number, (name, life) in enumerate(LIVES.items()):
        share = (until - time.monotonic()) / (len(LIVES) - number) + time.monotonic()
        # What is imported late is imported by then, as it would be in a program of its own.
        calls = [_kill_once(library, life, 0)[0].calls for _ in range(2)][-1]
        kinds: Counter[str] = Counter()
        problems: list[str] = []
        kills = missed = 0
        places = list(range(1, calls + 1))
        chance.shuffle(places)
        while kills < wanted / len(LIVES) and time.monotonic() < share:
            at = places[kills % calls]
            died, found = _kill_once(library, life, at)
            kills += 1
            missed += not died.killed
            kinds.update(text.split(":")[0] for text in found)
            problems += [f"call {at}: {text}" for text in found]
        # Their number varies by a few, as names of temporary files do.
        assert missed <= 1 + kills // 20, f"{missed} of {kills} were not killed"
        all_kills += kills - missed
        bad += len(problems)
        other = kinds.total() - kinds["dead end"] - kinds["lost"]
        sys.stdout.write(
            f"{name:32} {calls:5}  {kills:5}  {kinds['dead end']:9}  {kinds['lost']:4}  {other:5}\n"
        )
        sys.stdout.writelines(f"    {text[:200]}\n" for text in problems[:5])
        sys.stdout.flush()
    sys.stdout.write(f"{all_kills} kills, {bad} problems\n")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
