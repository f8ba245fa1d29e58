"""The lowest versions that pyproject.toml allows, put together and tried.

As a command it makes an environment of its own with exactly these versions and runs tests in it:
``python -m tests.lowest_versions [FOLDER] [-- PYTEST ARGUMENTS]``. `lowest_versions.txt` beside
it holds the versions with which the tests named there went through; a test compares the two.
"""

import argparse
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

from packaging.requirements import Requirement
from packaging.version import Version

ROOT = Path(__file__).parent.parent
TRIED = Path(__file__).with_suffix(".txt")


def requirements(*extras: str) -> list[Requirement]:
    """What is asked for in pyproject.toml (PEP 508), with that of these extras."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    wanted = [*project["dependencies"]]
    for extra in extras:
        wanted += project["optional-dependencies"][extra]
    return [Requirement(text) for text in wanted]


def lowest(requirement: Requirement) -> str | None:
    """The lowest version that is allowed, None where none is said (PEP 440, ">=", "==", "~=")."""
    bounds = [
        Version(each.version.removesuffix(".*"))
        for each in requirement.specifier
        if each.operator in (">=", "==", "~=")
    ]
    return str(max(bounds)) if bounds else None


def pins(*extras: str) -> list[str]:
    """One line for each requirement: its name and the lowest version."""
    found = {
        f"{each.name.lower()}=={lowest(each)}"
        for each in requirements(*extras)
        if each.marker is None or each.marker.evaluate()
    }
    return sorted(found)


def tried() -> list[str]:
    """The versions that were tried."""
    lines = TRIED.read_text(encoding="utf-8").splitlines()
    return [line for line in lines if line and not line.startswith("#")]


def main() -> int:
    """Make the environment and run pytest in it; its exit code."""
    parser = argparse.ArgumentParser()
    parser.add_argument("folder", nargs="?", type=Path, help="where to make it (default: new)")
    parser.add_argument("tests", nargs="*", help="arguments for pytest, after --")
    arguments = parser.parse_args()
    folder = arguments.folder or Path(tempfile.mkdtemp()) / "lowest"
    python = folder / "bin" / "python"
    if not python.exists():
        subprocess.run([sys.executable, "-m", "venv", str(folder)], check=True)
    wanted = pins("test")
    sys.stdout.write("\n".join(wanted) + "\n")
    sys.stdout.flush()
    subprocess.run([str(python), "-m", "pip", "install", "-q", *wanted], check=True)
    # Types and lint are the developers' business: newer checkers find other things.
    deselected = ["--deselect", "tests/test_style.py"]
    return subprocess.run(
        [str(python), "-m", "pytest", *deselected, *arguments.tests], cwd=ROOT, check=False
    ).returncode


if __name__ == "__main__":
    sys.exit(main())
