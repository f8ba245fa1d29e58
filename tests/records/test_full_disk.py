"""A file system that is really full or really read-only: a small one of our own is mounted.

Mounting needs rights that a test may not have; without them these are skipped and say so, and
`test_disk.py` pretends instead.
"""

import errno
import io
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from assistant.bench.loop import Loop
from assistant.dialogue import wording
from assistant.dialogue.messages import Effect, Listen, Say, Started
from assistant.records.export import export_json
from assistant.records.faults import RecordError
from assistant.records.journal.history import history_of
from assistant.records.journal.journal import Journal
from assistant.records.report.files import write_report
from assistant.records.whole_files import replace_file
from tests.records.jobs import as_it_came, record, rehearsed

EVENTS = rehearsed(1).events
FIRST = EVENTS[0]
assert isinstance(FIRST, Started)
AT, JOB, PROFILE = FIRST.at, FIRST.job, FIRST.profile
ROOT = Path(__file__).parents[2]


def _mount(*arguments: str) -> str:
    if shutil.which("mount") is None:
        return "there is no mount command"
    done = subprocess.run(
        ["mount", *arguments], capture_output=True, text=True, check=False, timeout=30
    )
    return "" if done.returncode == 0 else done.stderr.strip() or "mount failed"


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    """An empty file system of 2 MB."""
    folder = tmp_path / "disk"
    folder.mkdir()
    why = _mount("-t", "tmpfs", "-o", "size=2m,mode=0777", "tmpfs", str(folder))
    if why:
        pytest.skip(f"no file system can be mounted here: {why}")
    try:
        yield folder
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True, timeout=30)


class Ballast:
    """Fills what is left of a file system to the last byte, and gives it free again."""

    def __init__(self, folder: Path) -> None:
        self._path = folder / "ballast"

    def fill(self) -> None:
        with self._path.open("ab", buffering=0) as file:
            for size in (65_536, 4_096, 512, 1):
                while _fits(file, bytes(size)):
                    pass

    def empty(self) -> None:
        self._path.unlink()


def _fits(file: io.FileIO, data: bytes) -> bool:
    try:
        return file.write(data) > 0
    except OSError as error:
        if error.errno != errno.ENOSPC:
            raise
        return False


def test_the_disk_is_full_at_every_write_of_a_job(disk: Path) -> None:
    effects: list[Effect] = []
    ballast = Ballast(disk)
    problems: list[str] = []
    refused = 0
    with Journal.open(disk / "jobs.db") as journal:
        loop = Loop(
            journal, PROFILE, effects.append, clock=lambda: AT,
            job_id=lambda: JOB, problem=problems.append,
        )  # fmt: skip
        loop.begin()
        # So that the log does not reuse room that it has already: every write needs some.
        journal._connection.execute("PRAGMA wal_autocheckpoint = 0")
        for event in EVENTS[1:]:
            before = loop.state
            effects.clear()
            ballast.fill()
            loop.post(event)
            ballast.empty()
            if loop.state == before:
                refused += 1
                assert effects[0] == Say(wording.DISK_FULL)
                assert isinstance(effects[-1], Listen)
                assert "the disk is full: free some space" in problems[-1]
                loop.post(event)
        assert loop.state == rehearsed(1).state
    # A log grows by pages: hardly a commit finds room in one that is begun.
    assert refused > 0.9 * len(EVENTS)
    with Journal.open(disk / "jobs.db") as journal:
        assert journal.rescued is None
        assert as_it_came(journal.events(JOB)) == EVENTS


def test_a_disk_that_is_full_when_files_are_made_leaves_nothing_half_written(disk: Path) -> None:
    record(disk / "jobs.db", EVENTS)
    target = disk / "page.html"
    target.write_bytes(b"old")
    ballast = Ballast(disk)
    with Journal.open(disk / "jobs.db") as journal:
        text = export_json(history_of(journal, JOB)).encode()
        ballast.fill()
        works: list[Callable[[], object]] = [
            lambda: write_report(journal, JOB, target),
            lambda: replace_file(target, text),
            lambda: journal.start("job-9", "mill", "2031"),
        ]
        for work in works:
            with pytest.raises(RecordError, match="free some space") as caught:
                work()
            assert caught.value.code == "full"
    assert target.read_bytes() == b"old"
    assert sorted(path.name for path in disk.iterdir() if path.name.startswith(".")) == []
    ballast.empty()
    with Journal.open(disk / "jobs.db") as journal:
        assert as_it_came(journal.events(JOB)) == EVENTS


def test_the_command_on_a_full_and_on_a_read_only_disk(disk: Path) -> None:
    """One line that says what to do, exit code 1, and a record that can still be read."""
    record(disk / "jobs.db", EVENTS)
    ballast = Ballast(disk)
    ballast.fill()
    code, out, err = _command(disk, "run", "--ears", "text", "--voice", "text", typed="yes\n")
    assert (code, out) == (1, f"say: {wording.CANNOT_GO_ON}\n")
    assert err.count("\n") == 1
    assert "the disk is full" in err
    ballast.empty()
    assert _mount("-o", "remount,ro", str(disk)) == ""
    code, out, err = _command(disk, "run", "--ears", "text", "--voice", "text", typed="yes\n")
    assert (code, out) == (1, f"say: {wording.CANNOT_GO_ON}\n")
    assert err.count("\n") == 1
    assert "make it writable" in err
    code, out, err = _command(disk, "job", "list")
    assert (code, err) == (0, "")
    assert JOB in out


def _command(disk: Path, *arguments: str, typed: str = "") -> tuple[int, str, str]:
    done = subprocess.run(
        [sys.executable, "-m", "assistant", *arguments, "--db", str(disk / "jobs.db")],
        cwd=ROOT, input=typed, capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip
    return done.returncode, done.stdout, done.stderr
