"""What replays a job steps through what jobs share only once in a process.

For tests of records, pages, exports and commands, which replay the same few jobs again and again;
that a step depends on nothing but state and event is for the tests of the dialogue.
"""

from collections.abc import Callable, Iterator

import pytest

from assistant.dialogue.messages import Effect, Event
from assistant.dialogue.state import State
from assistant.dialogue.step import step

Stepper = Callable[[State | None, Event], tuple[State, tuple[Effect, ...]]]
"""What makes a state and its effects of the state before and an event."""

WHERE = (
    "assistant.bench.loop.step", "assistant.dialogue.step.step",
    "assistant.records.journal.history.step", "assistant.simulation.rehearsal.step",
)  # fmt: skip

MOST_KNOWN = 20_000

_known: dict[tuple[int, str], tuple[State | None, tuple[State, tuple[Effect, ...]]]] = {}


def once(state: State | None, event: Event) -> tuple[State, tuple[Effect, ...]]:
    """A step, computed where this very state has not met such an event before.

    By how the event is written: 2 and 2.0 are equal, but they are not the same reading.
    """
    key = id(state), repr(event)
    if key not in _known:
        if len(_known) >= MOST_KNOWN:
            _known.clear()
        # The state is kept, so that no other object takes its identity.
        _known[key] = state, step(state, event)
    return _known[key][1]


@pytest.fixture
def stepped_once(monkeypatch: pytest.MonkeyPatch) -> Iterator[Stepper]:
    with monkeypatch.context() as patch:
        for where in WHERE:
            patch.setattr(where, once)
        yield once
