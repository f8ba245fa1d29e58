"""Loaded before every test: the program's own settings come before numpy does."""

import os
import subprocess
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import settings

import assistant  # noqa: F401  it limits the threads of linear algebra, which numpy reads once
from tests.installed_wheel import InstalledWheel, installed_wheel
from tests.socket_guard import NO_SOCKETS, run_command

# How long an example takes says nothing about whether it is right.
settings.register_profile("patient", deadline=None)
settings.load_profile("patient")


@pytest.fixture(autouse=True, scope="session")
def _home_of_nobody() -> Iterator[None]:
    """Machines, settings and records of whoever runs the tests are neither read nor written."""
    names = ("XDG_CONFIG_HOME", "XDG_DATA_HOME")
    before = {name: os.environ.get(name) for name in names}
    with tempfile.TemporaryDirectory() as folder:
        for name in names:
            os.environ[name] = f"{folder}/{name.lower()}"
        yield
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


@pytest.fixture(autouse=True, scope="session")
def _in_one_zone() -> Iterator[None]:
    """Pages tell the local time: here it is UTC, wherever the tests are run."""
    before = os.environ.get("TZ")
    os.environ["TZ"] = "UTC"
    time.tzset()
    yield
    if before is None:
        del os.environ["TZ"]
    else:
        os.environ["TZ"] = before
    time.tzset()


@dataclass(frozen=True)
class PlayedDemo:
    """A demo as the installed command plays it, watched for connections; what came of it."""

    seed: int
    out: Path
    done: "subprocess.CompletedProcess[bytes]"


@pytest.fixture(scope="session")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> InstalledWheel:
    """The wheel, built and installed in an environment of its own."""
    return installed_wheel(tmp_path_factory.mktemp("wheel"))


@pytest.fixture(scope="session")
def played_demo(tmp_path_factory: pytest.TempPathFactory, wheel: InstalledWheel) -> PlayedDemo:
    """One demo for all the tests of what it prints, leaves behind and connects to.

    Played by the installed wheel, from a folder of no meaning.
    """
    elsewhere = tmp_path_factory.mktemp("demo")
    seed, out = 4, elsewhere / "new" / "folder"
    arguments = ("demo", "--seed", str(seed), "--out", str(out), "--json")
    done = run_command(*arguments, before=NO_SOCKETS, python=wheel.python, folder=elsewhere)
    return PlayedDemo(seed, out, done)
