"""Whole records that several tests damage, made once; histories are stepped through once."""

import pytest

from tests.records import damaging
from tests.stepping import stepped_once

__all__ = ["stepped_once"]


@pytest.fixture(scope="package")
def whole(tmp_path_factory: pytest.TempPathFactory) -> dict[str, damaging.Files]:
    """The files of whole records by their kind; each test writes a copy of its own."""
    return damaging.originals(tmp_path_factory.mktemp("whole"))


@pytest.fixture(autouse=True)
def _stepped_once(stepped_once: object) -> None:
    """For all that is done with records."""
