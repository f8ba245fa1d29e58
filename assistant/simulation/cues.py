"""What reaches the simulated person, from effects or from the JSON lines of a real run."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from assistant.dialogue.messages import Step
from grammar.scale import Scale
from grammar.vocabulary import Station

MOVING = ("tap", "move", "clamp")
"""Phases in which the dial is read at one station while something is moved."""


ASTRAY = {
    "runout": "skip", "shake": "skip", "end play": "skip", "quill travel": "skip",
    "side of runout": "skip",
    "other height": "no", "form": "no", "move table": "disregard",
    "corners": "skip", "hollow": "skip",
}  # fmt: skip
"""What is answered in phases that somebody comes to by being misheard only."""


@dataclass(frozen=True, slots=True)
class Question:
    """What can be known of a ``listen`` effect: the phase, the station, the phrases."""

    phase: str
    station: Station | None
    offers: tuple[str, ...]


def question_from_json(row: Mapping[str, Any]) -> Question:
    """A ``listen`` line of the command ``run``."""
    return Question(row["phase"], row["station"], tuple(row["offers"]))


def step_from_json(row: Mapping[str, Any], scale: Scale) -> Step:
    """A ``step`` line of the command ``run``: its lengths, in thou or mm, as counts."""

    def counts(value: float | None) -> Decimal | None:
        if value is None:
            return None
        return Decimal(str(value)) * (1 if scale.system == "thou" else 100)

    return Step(
        row["do"],
        what=row.get("what", ""),
        place=row.get("place"),
        total=counts(row.get("total")),
        station=row.get("station"),
        change=counts(row.get("change")),
        dial_target=counts(row.get("dial_target")),
    )
