"""Loaded before every test: the program's own settings come before numpy does."""

import os
import tempfile
from collections.abc import Iterator

import pytest
from hypothesis import settings

import assistant  # noqa: F401  it limits the threads of linear algebra, which numpy reads once

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
