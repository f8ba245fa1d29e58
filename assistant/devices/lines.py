"""Lines of text as ears and voice: typed words and keys in, prompts or JSON out."""

import json
from collections.abc import Iterator
from decimal import Decimal
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
from assistant.metrology.answer import Answer, Json
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
            return _step_json(effect, scale)
        case Closed(finished=finished):
            return {"effect": "closed", "finished": finished}
        case NewJob():
            return {"effect": "new job"}
        case _:
            assert_never(effect)


_LENGTHS = (
    "front_minus_back", "right_minus_left", "tilt", "mean", "saddle", "drift",
    "standard_uncertainty", "expanded_uncertainty",
    "total", "add", "leaves", "expected_left", "change", "dial_target",
)  # fmt: skip


def answer_json(answer: Answer) -> dict[str, Json]:
    """An answer as `solve` prints it; hundredths, the counts of a metric job, become mm."""
    row = answer.as_json()
    if answer.unit != "hundredth":
        return row
    in_mm = {key: _hundredfold_less(key, value) for key, value in row.items()}
    return {**in_mm, "unit": "mm"}


def _hundredfold_less(key: str, value: Json) -> Json:
    if isinstance(value, dict):
        return {name: _hundredfold_less(name, part) for name, part in value.items()}
    if key not in _LENGTHS:
        return value
    if isinstance(value, list):
        return [_hundredfold_less(key, part) for part in value]
    return round(value / 100, 9) if isinstance(value, int | float) else value


def _step_json(step: Step, scale: Scale) -> dict[str, Json]:
    def number(counts: Decimal | None) -> float | None:
        if counts is None:
            return None
        return float(counts if scale.system == "thou" else counts / 100)

    row: dict[str, Json] = {"effect": "step", "do": step.do, "unit": scale.system}
    if step.what:
        row["what"] = step.what
    if step.do == "shim":
        leaves: list[Json] = [number(leaf) for leaf in step.leaves]
        row |= {"place": step.place, "total": number(step.total), "leaves": leaves}
    if step.station is not None:
        row["station"] = step.station
    if step.do == "tap":
        row |= {"change": number(step.change), "dial_target": number(step.dial_target)}
    return row


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
