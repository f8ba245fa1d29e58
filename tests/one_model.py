"""The embedded recogniser's models are read and prepared once for all tests of a process."""

from collections.abc import Iterator

import pytest

from assistant.devices.ears.fallback import pocketsphinx_ears
from assistant.devices.ears.fallback.acoustics.evidence import Searcher
from assistant.devices.ears.fallback.pocketsphinx_library import Dictionary


@pytest.fixture(autouse=True, scope="session")
def _one_model() -> Iterator[None]:
    prepare = pocketsphinx_ears.listening
    ready: list[Searcher] = []

    def prepared_once(dictionary: Dictionary) -> Searcher:
        # What it keeps does not change by searching; each recogniser has a person of its own.
        if not ready:
            ready.append(prepare(dictionary))
        return ready[0]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pocketsphinx_ears, "listening", prepared_once)
        yield
