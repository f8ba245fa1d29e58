"""Each recogniser is loaded once for all tests of hearing."""

from typing import TYPE_CHECKING

import pytest

from assistant.devices.ears.fallback.pocketsphinx_ears import PocketSphinx
from assistant.devices.ears.neural.model_files import why_not
from tests.one_model import _one_model

__all__ = ["_one_model"]

if TYPE_CHECKING:
    from assistant.devices.ears.neural.neural_ears import Neural


@pytest.fixture(scope="session")
def recogniser() -> PocketSphinx:
    return PocketSphinx()


@pytest.fixture(scope="session")
def neural() -> "Neural":
    if missing := why_not():
        pytest.skip(missing)
    from assistant.devices.ears.neural.neural_ears import Neural

    return Neural()
