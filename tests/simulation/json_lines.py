"""The simulated person answers the JSON lines of the real command."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from assistant.dialogue.messages import Step
from assistant.simulation.caller import Operator
from assistant.simulation.cues import Question
from grammar.scale import Scale


def react_to_json(person: Operator, row: Mapping[str, Any]) -> str | None:
    """What the person says to one line of the command ``run``: words after ``listen`` only."""
    match row.get("effect"):
        case "say":
            person.hear(row["text"])
        case "step":
            person.told(step_from_json(row, person.scale))
        case "listen":
            return person.answer(Question(row["phase"], row["station"], tuple(row["offers"])))
        case _:
            pass
    return None


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
