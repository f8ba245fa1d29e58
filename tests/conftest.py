"""Loaded before every test: the program's own settings come before numpy does."""

import os
import subprocess
import tempfile
import time
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import settings

import assistant  # noqa: F401  it limits the threads of linear algebra, which numpy reads once
from tests.ahead import Ahead, PlayedDemo
from tests.installed_wheel import InstalledWheel

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


AHEAD = Ahead()


def pytest_runtest_setup(item: pytest.Item) -> None:
    """With the first test of the dialogue the programs that later ones wait for are begun."""
    if "tests/dialogue/" in item.nodeid:
        AHEAD.begin(item.session.items)


def pytest_sessionfinish() -> None:
    """No program outlives the tests."""
    AHEAD.end()


@pytest.fixture(scope="session")
def wheel() -> InstalledWheel:
    """The wheel, built and installed in an environment of its own."""
    return AHEAD.wheel()


@pytest.fixture(scope="session")
def played_demo() -> PlayedDemo:
    """One demo for all the tests of what it prints, leaves behind and connects to."""
    return AHEAD.played_demo()


@pytest.fixture(scope="session")
def types_checked() -> "subprocess.CompletedProcess[str]":
    """What mypy says of everything."""
    return AHEAD.types_checked()


@pytest.fixture(scope="session")
def timed_call() -> dict[str, Any]:
    """One call in the live loop, timed stage by stage."""
    return AHEAD.timed_call()
