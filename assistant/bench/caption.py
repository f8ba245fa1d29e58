"""What the screen keeps readable of the conversation: the last thing said, the last thing keyed."""

import time
from collections.abc import Callable
from typing import assert_never

from assistant.dialogue.formatting import signed_digits
from assistant.dialogue.keys import pressed
from assistant.dialogue.messages import Event, Heard, KeyPressed
from assistant.dialogue.state import State
from grammar.meaning import (
    Command,
    Meaning,
    OffScale,
    Reading,
    Shim,
    Side,
    Sign,
    Size,
    Unclear,
    Wish,
)

KEYED_S = 2.5
"""How long it is shown what a key completed."""


class Caption:
    """What was said since the last event that had an answer, and what was keyed a moment ago.

    ``clock``: seconds. One thread writes; ``said`` may be read by any.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self.said = ""
        self._clock = clock
        self._old = True
        self._keyed = ""
        self._until = 0.0

    def before(self, state: State | None, event: Event) -> None:
        """An event is about to be answered in this state: what is said next is a new thing."""
        self._old = True
        if isinstance(event, KeyPressed):
            keyed = keyed_words(state, event) if state is not None else ""
            self._keyed, self._until = keyed, self._clock() + KEYED_S

    def say(self, text: str) -> None:
        """This is said now."""
        self.said = text if self._old else f"{self.said} {text}"
        self._old = False

    @property
    def keyed(self) -> str:
        """What was keyed; empty after a moment."""
        return self._keyed if self._clock() < self._until else ""


def keyed_words(state: State, event: KeyPressed) -> str:
    """What this key completes, such as "right +6" or "status"; empty while it is only typed."""
    done = pressed(state, event)
    return _words(done.meaning, state) if isinstance(done, Heard) else ""


def _words(meaning: Meaning, state: State) -> str:
    match meaning:
        case Reading(value=value, signed=signed, station=station):
            digits = signed_digits(value) if signed else signed_digits(value).lstrip("+")
            return f"{station or state.awaited or ''} {digits}".strip()
        case Size(value=value):
            return signed_digits(value).lstrip("+")
        case Shim(total=total, place=place):
            return f"shim {signed_digits(total).lstrip('+')} {place or ''}".strip()
        case Side(station=station):
            return station
        case Command(name=name) | Sign(name=name):
            return name
        case OffScale() | Wish() | Unclear():
            return ""
        case _:
            assert_never(meaning)
