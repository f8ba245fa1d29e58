"""Whole records that several tests damage, made once; histories are stepped through once."""

from collections.abc import Iterator

import pytest

from assistant.dialogue.messages import Effect, Event
from assistant.dialogue.state import State
from assistant.dialogue.step import step
from tests.records import damaging
from tests.records.jobs import Stepper


@pytest.fixture(scope="package")
def whole(tmp_path_factory: pytest.TempPathFactory) -> dict[str, damaging.Files]:
    """The files of whole records by their kind; each test writes a copy of its own."""
    return damaging.originals(tmp_path_factory.mktemp("whole"))


Known = dict[tuple[int, str], tuple[State | None, tuple[State, tuple[Effect, ...]]]]
KNOWN: Known = {}
MOST_KNOWN = 20_000


def _once(state: State | None, event: Event) -> tuple[State, tuple[Effect, ...]]:
    """A step, computed where this very state has not met such an event before.

    By how the event is written: 2 and 2.0 are equal, but they are not the same reading.
    """
    key = id(state), repr(event)
    if key not in KNOWN:
        if len(KNOWN) >= MOST_KNOWN:
            KNOWN.clear()
        # The state is kept, so that no other object takes its identity.
        KNOWN[key] = state, step(state, event)
    return KNOWN[key][1]


@pytest.fixture(autouse=True)
def stepped_once(monkeypatch: pytest.MonkeyPatch) -> Iterator[Stepper]:
    """Whatever replays a job steps through what jobs share only once in a process.

    The tests here are of records, pages and exports; that a step depends on state and event alone
    is for those of the dialogue.
    """
    with monkeypatch.context() as patch:
        for where in (
            "assistant.bench.loop.step", "assistant.dialogue.step.step",
            "assistant.records.journal.history.step", "assistant.simulation.rehearsal.step",
        ):  # fmt: skip
            patch.setattr(where, _once)
        yield _once
