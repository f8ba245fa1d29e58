"""What was found by touch, round by round, as a part of the report."""

from assistant.metrology.stations import OPPOSITE
from assistant.metrology.touching import Round
from assistant.records.journal.history import History
from assistant.records.report.blocks import Paragraph, Part, Points
from assistant.records.report.wording import Words


def touch_part(history: History, words: Words) -> Part | None:
    """The rounds in order with the shim that was in; nothing where none was made."""
    rounds = history.state.touch.rounds
    if not rounds:
        return None
    note = Paragraph(
        "By touch it is known which side is high, not by how much: no tolerance is proven.",
        small=True,
    )
    lines = tuple(f"{_order(one)}; {words.shim_in(one.shim)} in." for one in rounds)
    return Part("By touch", (Points(lines, numbered=True), note))


def _order(one: Round) -> str:
    if one.first is None:
        return "All sides dragged alike"
    if one.second is None:
        return f"The {one.first} dragged first"
    order = (one.first, one.second, OPPOSITE[one.second], OPPOSITE[one.first])
    return f"{', '.join(order).capitalize()} dragged in this order"
