"""Ordinary wishes that belong to no phase: typed at any time, by voice where a row offers them.

Each leaves the job where it is and puts the open question again.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace

from assistant.dialogue.messages import Heard
from assistant.dialogue.procedures.safety import Safety
from assistant.dialogue.state import State
from assistant.dialogue.turn import Turn, ask, go


def _in_few_words(state: State, _: Heard) -> Turn:
    """The short form from here on; what is safe is then asked in one sentence."""
    brief = replace(state, short=True)
    first = state.phase is Safety.UNPLUGGED and state.pending is None
    return go(brief, Safety.ALL) if first else ask(brief)


def _in_full(state: State, _: Heard) -> Turn:
    """The long form from here on."""
    full = replace(state, short=False)
    first = state.phase is Safety.ALL and state.pending is None
    return go(full, Safety.UNPLUGGED) if first else ask(full)


WISHES: Mapping[str, Callable[[State, Heard], Turn]] = {
    "short": _in_few_words,
    "long": _in_full,
}


def meant_by_key(state: State, names: tuple[str, ...]) -> str:
    """Of the wishes that share a key, the one that changes something."""
    unlike = "long" if state.short else "short"
    return unlike if unlike in names else names[0]
