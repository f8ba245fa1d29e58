"""Loaded before every test: the program's own settings come before numpy does."""

import os
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings

import assistant  # noqa: F401  it limits the threads of linear algebra, which numpy reads once
from tests.installed_wheel import InstalledWheel, installed_wheel
from tests.played_demo import PlayedDemo, played_demo

if TYPE_CHECKING:
    from xdist.remote import Producer

    from tests.longest_first import LongestFirst

# How long an example takes says nothing about whether it is right.
settings.register_profile("patient", deadline=None)
settings.load_profile("patient")


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: "Producer") -> "LongestFirst | None":
    """Files that last long are not left for the end."""
    if config.getvalue("dist") != "loadfile":
        return None
    from tests.longest_first import LongestFirst

    return LongestFirst(config, log)


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


@pytest.fixture(scope="session")
def shared_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One folder for all processes that share the tests between them."""
    own = tmp_path_factory.getbasetemp()
    return own.parent if "PYTEST_XDIST_WORKER" in os.environ else own


@pytest.fixture(autouse=True, scope="session")
def _compiled_once(shared_folder: Path) -> Iterator[None]:
    """Where Python may leave nothing beside the sources, the programs that tests start would each
    compile them anew."""
    if not sys.dont_write_bytecode:
        yield
        return
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("PYTHONDONTWRITEBYTECODE", raising=False)
        patch.setenv("PYTHONPYCACHEPREFIX", str(shared_folder / "bytecode"))
        yield


@pytest.fixture(scope="session")
def wheel(shared_folder: Path) -> InstalledWheel:
    """The wheel, built and installed in an environment of its own."""
    return installed_wheel(shared_folder)


@pytest.fixture(scope="session")
def demo(shared_folder: Path, wheel: InstalledWheel) -> PlayedDemo:
    """One demo for all the tests of what it prints, leaves behind and connects to."""
    return played_demo(shared_folder, wheel)
