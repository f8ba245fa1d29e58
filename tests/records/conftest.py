"""Whole records that several tests damage, made once."""

import pytest

from tests.records import damaging


@pytest.fixture(scope="package")
def whole(tmp_path_factory: pytest.TempPathFactory) -> dict[str, damaging.Files]:
    """The files of whole records by their kind; each test writes a copy of its own."""
    return damaging.originals(tmp_path_factory.mktemp("whole"))
