"""Lines of text as ears and voice: typed words and keys in, prompts or JSON out."""

import json
from collections.abc import Iterator
from typing import TextIO, assert_never

from assistant.dialogue.messages import (
    Closed,
    Effect,
    Event,
    Heard,
    KeyPressed,
    Listen,
    NewJob,
    Result,
    Say,
    Step,
    Tone,
)
from assistant.dialogue.plain_json import answer_json, step_json
from assistant.metrology.answer import Json
from grammar.meaning import Unclear
from grammar.parse import parse
from grammar.scale import Scale

KEY_NAMES: dict[str, str] = {
    "plus": "+", "minus": "-", "star": "*", "slash": "/", "point": ".", "decimal": ".",
    "return": "enter",
}  # fmt: skip
"""Other names for the keys, for those who type ``key:`` lines."""

LONGEST_LINE = 400
"""Longer lines are cut: no utterance is nearly as long."""


def typed(stdin: TextIO) -> Iterator[str]:
    """The lines that hold something, without the space around them."""
    while line := stdin.readline(LONGEST_LINE):
        if line.strip():
            yield line.strip()


def event_of(line: str, at: str, turn: int, scale: Scale) -> Heard | KeyPressed:
    """A typed line as an event: ``key:`` and a key's name, or an utterance in words."""
    if line.lower().startswith("key:"):
        key = line[4:].strip().lower()
        return KeyPressed(at, turn, KEY_NAMES.get(key, key))
    meaning = parse(line, scale)
    outcome = "reject" if isinstance(meaning, Unclear) else "accept"
    return Heard(at, turn, "text", "accept" if outcome == "accept" else "reject", line, meaning)


def effect_json(effect: Effect, scale: Scale) -> dict[str, Json]:
    """An effect as one JSON object, enough for another program to play the operator.

    Lengths are in ``unit``: thou, or millimetres at a metric job.
    """
    match effect:
        case Say(text=text):
            return {"effect": "say", "text": text}
        case Tone(name=name):
            return {"effect": "tone", "name": name}
        case Listen(turn=turn, phase=phase, station=station, offer=offer):
            return {
                "effect": "listen",
                "turn": turn,
                "phase": phase,
                "station": station,
                "offers": list(offer.phrases()),
                "readings": offer.readings,
                "sizes": offer.sizes > 0,
                "shim": offer.shim,
            }
        case Result(sweep=sweep, answer=answer):
            return {"effect": "result", "sweep": sweep, **answer_json(answer)}
        case Step():
            return {"effect": "step", **step_json(effect, scale)}
        case Closed(finished=finished):
            return {"effect": "closed", "finished": finished}
        case NewJob():
            return {"effect": "new job"}
        case _:
            assert_never(effect)


def event_json(event: Event, encoded: str) -> str:
    """A committed event as one JSON line; ``encoded`` is its form in the record."""
    return f'{{"event": {encoded}}}'


def print_line(out: TextIO, row: dict[str, Json]) -> None:
    """One JSON object on one line, at once."""
    out.write(json.dumps(row, allow_nan=False) + "\n")
    out.flush()


def print_say(out: TextIO, text: str) -> None:
    """One prompt as a line, at once."""
    out.write(f"say: {text}\n")
    out.flush()
