"""The wheel as users get it: built from a copy of the sources, in an environment of its own.

The environment sees the libraries of the one that runs the tests, so that nothing is fetched and
only the packaging is tried.
"""

import os
import shutil
import subprocess
import sys
import sysconfig
import venv
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

from filelock import FileLock

ROOT = Path(__file__).parents[1]
SHIPPED = ("assistant", "grammar", "audio_fixtures")
LONGEST_S = 240.0


@dataclass(frozen=True)
class InstalledWheel:
    """``wheel``: the file. ``command``: ``sweepsay`` in the environment that it is installed in."""

    wheel: Path
    python: Path
    command: Path


def installed_wheel(folder: Path) -> InstalledWheel:
    """Install it under this folder, or take what another process of the tests installed there.

    Raises ``CalledProcessError``.
    """
    environment = folder / "environment"
    scripts = environment / ("Scripts" if os.name == "nt" else "bin")
    installed = folder / "installed"
    with FileLock(folder / "wheel.lock", timeout=LONGEST_S):
        if not installed.exists():
            _install(_built(folder), environment, scripts / "python")
            installed.touch()
    (wheel,) = folder.glob("*.whl")
    return InstalledWheel(wheel, scripts / "python", scripts / "sweepsay")


def _built(folder: Path) -> Path:
    # A build leaves folders beside its sources, and takes up what an older one left.
    sources = folder / "sources"
    for name in SHIPPED:
        shutil.copytree(ROOT / name, sources / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, sources)
    _pip("wheel", *_build_options(), "--wheel-dir", str(folder), str(sources))
    (wheel,) = folder.glob("*.whl")
    return wheel


def _install(wheel: Path, environment: Path, python: Path) -> None:
    venv.create(environment, with_pip=False, symlinks=os.name != "nt")
    _pip("--python", str(python), "install", "--no-deps", "--no-index", str(wheel))
    paths = sysconfig.get_paths(vars={"base": str(environment), "platbase": str(environment)})
    libraries = Path(paths["purelib"]) / "libraries_of_the_tests.pth"
    libraries.write_text(f"{sysconfig.get_paths()['purelib']}\n", encoding="utf-8")


def _build_options() -> tuple[str, ...]:
    """Build with the setuptools that is here; where it is too old, pip fetches one."""
    needed = 77
    present = int(version("setuptools").split(".")[0])
    return ("--no-deps", "--no-index", "--no-build-isolation")[: 3 if present >= needed else 1]


def _pip(*arguments: str) -> None:
    command = [sys.executable, "-m", "pip", "--quiet", "--disable-pip-version-check", "--no-input"]
    # What is found by way of PYTHONPATH would count as installed already.
    own = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    subprocess.run([*command, *arguments], check=True, timeout=LONGEST_S, env=own)
