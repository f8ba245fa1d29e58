"""Lines of text as ears and voice: typed words and keys in, prompts or JSON out."""

import json
from collections.abc import Iterator
from typing import TextIO, assert_never

from assistant.dialogue.keys import KEYS
from assistant.dialogue.messages import (
    Closed,
    Confirmed,
    Effect,
    Heard,
    KeyPressed,
    Learned,
    Listen,
    MachineChosen,
    NewJob,
    Result,
    Say,
    Step,
    TakenBack,
    Tone,
    Tuned,
)
from assistant.dialogue.plain_json import answer_json, step_json
from assistant.metrology.answer import Json
from grammar.meaning import Command, Unclear
from grammar.parse import parse
from grammar.scale import Scale

KEY_NAMES: dict[str, str] = {
    "plus": "+", "minus": "-", "star": "*", "slash": "/", "point": ".", "decimal": ".",
    "return": "enter",
}  # fmt: skip
"""Other names for the keys, for those who type ``key:`` lines."""

KEYPAD_CHARACTERS = "0123456789.+-*/"
"""A typed line of nothing else is meant as keys."""

LONGEST_LINE = 400
"""Longer lines are cut: no utterance is nearly as long."""


def typed(stdin: TextIO, *, empty: bool = False) -> Iterator[str]:
    """The lines without the space around them; those that hold nothing only with ``empty``.

    Of a line that is too long the beginning is taken and the rest left out. A stream that
    cannot be read any more has ended.
    """
    whole = True
    while line := _read(stdin):
        begins, whole = whole, line.endswith("\n")
        if begins and (line.strip() or empty):
            yield line.strip()


def _read(stdin: TextIO) -> str:
    try:
        return stdin.readline(LONGEST_LINE)
    except (OSError, ValueError):
        return ""


def event_of(line: str, at: str, turn: int, scale: Scale) -> Heard | KeyPressed:
    """A typed line as an event: ``key:`` and a key's name, or an utterance in words.

    What keys stand for may be named in their place: ``key: disregard``, ``key: ok``.
    """
    if line.lower().startswith("key:"):
        name = line[4:].strip().lower()
        key = KEY_NAMES.get(name, name)
        meant = None if key in KEYS else parse(name, scale)
        if isinstance(meant, Command):
            return Heard(at, turn, "keypad", "accept", name, meant)
        return KeyPressed(at, turn, key)
    meaning = parse(line, scale)
    unclear = isinstance(meaning, Unclear)
    return Heard(at, turn, "text", "reject" if unclear else "accept", line, meaning)


def keys_of_line(text: str) -> list[str]:
    """A line of keypad characters as the keys pressed, Enter at its end.

    "*" and what begins with "/" act by themselves, so that the Enter that ended the line
    does not agree to something besides.

    >>> keys_of_line("+6"), keys_of_line("//"), keys_of_line("")
    (['+', '6', 'enter'], ['/', '/'], ['enter'])
    """
    alone = text == "*" or text.startswith("/")
    return [*text] if alone else [*text, "enter"]


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
                "signed": offer.signed,
                "per_turn": offer.turn,
                "sides": offer.sides,
            }
        case Result(sweep=sweep, answer=answer):
            return {"effect": "result", "sweep": sweep, **answer_json(answer)}
        case Step():
            return {"effect": "step", **step_json(effect, scale)}
        case Closed(finished=finished):
            return {"effect": "closed", "finished": finished}
        case NewJob():
            return {"effect": "new job"}
        case Learned(profile=profile):
            return {"effect": "learned", "machine": profile.name}
        case Tuned(name=name):
            return {"effect": "tuned", "name": name}
        case Confirmed(turns=turns):
            return {"effect": "confirmed", "turns": list(turns)}
        case TakenBack(turns=turns):
            return {"effect": "taken back", "turns": list(turns)}
        case MachineChosen(name=name, made=made):
            return {"effect": "machine", "name": name, "new": made is not None}
        case _:
            assert_never(effect)


def event_line(encoded: str) -> str:
    """A committed event, given as it is in the record, as JSON on one line."""
    return f'{{"event": {encoded}}}'


def json_line(row: dict[str, Json]) -> str:
    """One JSON object on one line."""
    return json.dumps(row, allow_nan=False)


def say_line(text: str) -> str:
    """One prompt as a line; what was typed may come back in it, so nothing steers a terminal."""
    return f"say: {harmless(text)}"


def harmless(text: str) -> str:
    """The text with "?" for whatever a terminal would not print.

    >>> harmless("Not now: \x1b[2Jdone.")
    'Not now: ?[2Jdone.'
    """
    return "".join(char if char.isprintable() else "?" for char in text)


def print_line(out: TextIO, line: str) -> None:
    """One line, at once."""
    out.write(line + "\n")
    out.flush()
