"""Answers and steps as JSON for other programs, in the unit that people read: thou or mm."""

from decimal import Decimal

from assistant.dialogue.messages import Step
from assistant.metrology.answer import Answer, Json
from grammar.scale import Scale


def answer_json(answer: Answer) -> dict[str, Json]:
    """An answer as `solve` prints it; hundredths, the counts of a metric job, become mm."""
    return answer.as_json("mm" if answer.unit == "hundredth" else None)


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
