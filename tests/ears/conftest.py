"""The embedded recogniser is loaded once for all tests of hearing."""

import pytest

from assistant.devices.pocketsphinx_ears import PocketSphinx


@pytest.fixture(scope="session")
def recogniser() -> PocketSphinx:
    return PocketSphinx()
