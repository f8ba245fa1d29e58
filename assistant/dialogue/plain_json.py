"""Answers and steps as JSON for other programs, in the unit that people read: thou or mm."""

from decimal import Decimal

from assistant.dialogue.messages import Step
from assistant.metrology.answer import Answer, Json
from grammar.scale import Scale

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


def step_json(step: Step, scale: Scale) -> dict[str, Json]:
    """A step as JSON; lengths in ``unit``: thou, or millimetres at a metric job."""

    def number(counts: Decimal | None) -> float | None:
        if counts is None:
            return None
        return float(counts if scale.system == "thou" else counts / 100)

    row: dict[str, Json] = {"do": step.do, "unit": scale.system}
    if step.what:
        row["what"] = step.what
    if step.do == "shim":
        leaves: list[Json] = [number(leaf) for leaf in step.leaves]
        row |= {"place": step.place, "total": number(step.total), "leaves": leaves}
    if step.do == "set":
        row["total"] = number(step.total)
    if step.station is not None:
        row["station"] = step.station
    if step.do in ("tap", "nod", "tilt"):
        row |= {"change": number(step.change), "dial_target": number(step.dial_target)}
    return row
