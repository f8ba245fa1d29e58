"""A demo as the installed command plays it, watched for connections.

Several files of tests look at what it prints, leaves behind and connects to. It is played once:
processes that share the tests between them share the folder as well.
"""

import json
import subprocess
from dataclasses import dataclass
from pathlib import Path

from filelock import FileLock

from tests.installed_wheel import LONGEST_S, InstalledWheel
from tests.socket_guard import NO_SOCKETS, run_command

SEED = 7
"""Of a job that is short: a sweep, what it corrects, and a sweep that proves it."""


@dataclass(frozen=True)
class PlayedDemo:
    """``out``: the folder that it wrote. ``done``: how it ended, and what it printed."""

    seed: int
    out: Path
    done: "subprocess.CompletedProcess[bytes]"


def played_demo(folder: Path, wheel: InstalledWheel) -> PlayedDemo:
    """Play it in a folder of no meaning under this one, or take what was played there."""
    elsewhere, told = folder / "demo", folder / "demo.json"
    out = elsewhere / "new" / "folder"
    arguments = ("demo", "--seed", str(SEED), "--out", str(out), "--json")
    with FileLock(folder / "demo.lock", timeout=LONGEST_S):
        if not told.exists():
            elsewhere.mkdir(exist_ok=True)
            done = run_command(*arguments, before=NO_SOCKETS, python=wheel.python, folder=elsewhere)
            printed = [done.stdout.decode("latin-1"), done.stderr.decode("latin-1")]
            told.write_text(json.dumps([done.returncode, *printed]), encoding="ascii")
        code, stdout, stderr = json.loads(told.read_text(encoding="ascii"))
    done = subprocess.CompletedProcess(
        arguments, code, stdout.encode("latin-1"), stderr.encode("latin-1")
    )
    return PlayedDemo(SEED, out, done)
