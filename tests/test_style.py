"""Types and lint are tests like the others, so that one command checks everything."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent


def test_ruff_finds_nothing() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "ruff", "check", "."],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, f"{done.stdout}\n{done.stderr}"


def test_everything_is_typed() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "mypy"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, f"{done.stdout}\n{done.stderr}"
