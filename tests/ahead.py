"""Programs of their own that tests wait for, begun on another core before those tests come.

Types are checked, the wheel is built and played, and the live loop is timed in other processes:
nothing is gained by waiting for them while one core has nothing to do. They are begun with the
first test of the dialogue, when those that play in real time are through; where no such test is
asked for, whoever needs one of them starts it and waits.
"""

import json
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from threading import Lock
from typing import Any, TypeVar

import pytest

from tests.installed_wheel import InstalledWheel, installed_wheel
from tests.socket_guard import NO_SOCKETS, run_command

ROOT = Path(__file__).parent.parent
LONGEST_S = 280.0

PROGRAMS = ("types_checked", "played_demo", "timed_call")

T = TypeVar("T")


@dataclass(frozen=True)
class PlayedDemo:
    """A demo as the installed command plays it, watched for connections; what came of it."""

    seed: int
    out: Path
    done: "subprocess.CompletedProcess[bytes]"


class Ahead:
    """Each program runs once; one after the other where they are begun ahead."""

    def __init__(self) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="ahead-")
        self._worker = ThreadPoolExecutor(1)
        self._locks = {name: Lock() for name in (*PROGRAMS, "wheel")}
        self._done: dict[str, Any] = {}
        self._begun = False

    def begin(self, tests: Iterable[pytest.Item]) -> None:
        """Begin what these tests ask for; what goes wrong is told to whoever takes the result."""
        if self._begun:
            return
        self._begun = True
        wanted = {name for test in tests for name in getattr(test, "fixturenames", ())}
        for name in PROGRAMS:
            if name in wanted:
                self._worker.submit(getattr(self, name))

    def end(self) -> None:
        """No more are begun; waits for the one that runs."""
        self._worker.shutdown(cancel_futures=True)
        self._folder.cleanup()

    def types_checked(self) -> "subprocess.CompletedProcess[str]":
        """What mypy says of everything."""
        return self._once("types_checked", lambda: self._run("-m", "mypy"))

    def wheel(self) -> InstalledWheel:
        """The wheel, built and installed in an environment of its own."""
        return self._once("wheel", lambda: installed_wheel(self._made_folder("wheel")))

    def played_demo(self) -> PlayedDemo:
        """A demo played by the installed wheel, from a folder of no meaning."""
        return self._once("played_demo", self._play)

    def timed_call(self) -> dict[str, Any]:
        """One call in the live loop, timed as the benchmark does it; nobody else used its ears."""
        return self._once("timed_call", self._time)

    def _once(self, name: str, make: Callable[[], T]) -> T:
        with self._locks[name]:
            if name not in self._done:
                self._done[name] = make()
            made: T = self._done[name]
            return made

    def _play(self) -> PlayedDemo:
        elsewhere = self._made_folder("demo")
        seed, out = 4, elsewhere / "new" / "folder"
        arguments = ("demo", "--seed", str(seed), "--out", str(out), "--json")
        python = self.wheel().python
        done = run_command(*arguments, before=NO_SOCKETS, python=python, folder=elsewhere)
        return PlayedDemo(seed, out, done)

    def _time(self) -> dict[str, Any]:
        code = (
            "import io, json, pathlib, sys; from tests.benchmarks.live_trial import spoken, trial; "
            "told = trial(pathlib.Path(sys.argv[1]), io.StringIO(), spoken(), calls=('plus six',), "
            "commands=1, idle_s=0.1); print(json.dumps(told))"
        )
        done = self._run("-c", code, str(self._made_folder("trial")))
        assert done.returncode == 0, done.stderr
        told: dict[str, Any] = json.loads(done.stdout)
        return told

    def _run(self, *arguments: str) -> "subprocess.CompletedProcess[str]":
        return subprocess.run(
            [sys.executable, *arguments], cwd=ROOT, capture_output=True, text=True, check=False,
            timeout=LONGEST_S,
        )  # fmt: skip

    def _made_folder(self, name: str) -> Path:
        folder = Path(self._folder.name) / name
        folder.mkdir()
        return folder
