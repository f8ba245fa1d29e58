"""Whole records that several tests damage, made once."""

from collections.abc import Iterator

import pytest

from assistant.dialogue.messages import Effect, Event
from assistant.dialogue.state import State
from assistant.dialogue.step import step
from assistant.records.journal import history
from tests.records import damaging
from tests.records.jobs import Stepper


@pytest.fixture(scope="package")
def whole(tmp_path_factory: pytest.TempPathFactory) -> dict[str, damaging.Files]:
    """The files of whole records by their kind; each test writes a copy of its own."""
    return damaging.originals(tmp_path_factory.mktemp("whole"))


@pytest.fixture
def stepped_once() -> Iterator[Stepper]:
    """Histories of more and more of one job step through what they share only once."""
    known: dict[tuple[int, int], tuple[State | None, Event, tuple[State, tuple[Effect, ...]]]] = {}

    def once(state: State | None, event: Event) -> tuple[State, tuple[Effect, ...]]:
        # Both are kept, so that no other object takes their identity.
        key = id(state), id(event)
        if key not in known:
            known[key] = state, event, step(state, event)
        return known[key][-1]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(history, "step", once)
        yield once
