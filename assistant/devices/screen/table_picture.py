"""The machine's table as seen from above, the operator at the bottom: values and high side.

The high side is told by the word, an arrow and a double edge; colour adds nothing.
"""

from assistant.devices.screen.palette import Role, StyledLine
from assistant.dialogue.view import StationView, View
from grammar.vocabulary import Station

INSIDE = 13
SIDE = 8
TABLE_COLUMNS = INSIDE + 2 + 2 * SIDE
TABLE_ROWS = 11

ARROWS_FINE: dict[frozenset[Station], str] = {
    frozenset({"back"}): "▲", frozenset({"front"}): "▼",
    frozenset({"left"}): "◀", frozenset({"right"}): "▶",
    frozenset({"back", "left"}): "◤", frozenset({"back", "right"}): "◥",
    frozenset({"front", "left"}): "◣", frozenset({"front", "right"}): "◢",
}  # fmt: skip
ARROWS_PLAIN: dict[frozenset[Station], str] = {
    frozenset({"back"}): "^", frozenset({"front"}): "v",
    frozenset({"left"}): "<", frozenset({"right"}): ">",
    frozenset({"back", "left"}): "\\", frozenset({"back", "right"}): "/",
    frozenset({"front", "left"}): "/", frozenset({"front", "right"}): "\\",
}  # fmt: skip


def table_picture(view: View, fine: bool = True) -> list[StyledLine]:
    """``TABLE_ROWS`` rows of ``TABLE_COLUMNS`` columns."""
    by_name = {each.station: each for each in view.stations}
    high = frozenset(view.high)
    inside = _inside(high, fine)
    rows: list[StyledLine] = [
        _centred(_title(by_name["back"]), by_name["back"]),
        _centred(_value(by_name["back"]), by_name["back"]),
        [("frame", " " * SIDE + _edge(high, "back", fine) + " " * SIDE)],
    ]
    for number, text in enumerate(inside):
        left, right = by_name["left"], by_name["right"]
        beside = {1: (_title(left), _title(right)), 2: (_value(left), _value(right))}
        a, b = beside.get(number, ("", ""))
        rows.append(
            [
                (_role(left), f"{a:>{SIDE - 1}} "),
                ("frame", _wall("left" in high, fine)),
                ("strong", f"{text:^{INSIDE}}"),
                ("frame", _wall("right" in high, fine)),
                (_role(right), f" {b:<{SIDE - 1}}"),
            ]
        )
    rows += [
        [("frame", " " * SIDE + _edge(high, "front", fine) + " " * SIDE)],
        _centred(_value(by_name["front"]), by_name["front"]),
        _centred(_title(by_name["front"]), by_name["front"]),
    ]
    return rows


def _title(each: StationView) -> str:
    name = each.station.upper()
    return f">{name}<" if each.mark in ("awaited", "asked again") else name


def _value(each: StationView) -> str:
    match each.mark:
        case "awaited":
            return "?"
        case "asked again":
            return f"{each.value}?"
        case "missing":
            return "."
        case "read":
            return each.value


def _role(each: StationView) -> Role:
    return "number" if each.mark in ("awaited", "asked again") else "text"


def _centred(text: str, each: StationView) -> StyledLine:
    return [(_role(each), f"{text:^{TABLE_COLUMNS}}")]


def _inside(high: frozenset[Station], fine: bool) -> list[str]:
    """Five rows: the word and the arrow near the high side."""
    rows = [""] * 5
    if not high:
        return rows
    arrow = (ARROWS_FINE if fine else ARROWS_PLAIN)[high]
    at = 0 if "back" in high else 4 if "front" in high else 2
    if "left" in high:
        rows[at] = f"{arrow} HIGH".ljust(INSIDE - 1)
    elif "right" in high:
        rows[at] = f"HIGH {arrow}".rjust(INSIDE - 1)
    else:
        rows[at] = "HIGH"
        rows[at + (1 if at == 0 else -1)] = arrow
    return rows


def _edge(high: frozenset[Station], side: Station, fine: bool) -> str:
    strong = side in high
    if not fine:
        return "+" + ("=" if strong else "-") * INSIDE + "+"
    left, right = "left" in high, "right" in high
    corners = {
        ("back", False): ("┌", "╓", "┐", "╖"), ("back", True): ("╒", "╔", "╕", "╗"),
        ("front", False): ("└", "╙", "┘", "╜"), ("front", True): ("╘", "╚", "╛", "╝"),
    }[side, strong]  # fmt: skip
    return corners[left] + ("═" if strong else "─") * INSIDE + corners[2 + right]


def _wall(strong: bool, fine: bool) -> str:
    if not fine:
        return "H" if strong else "|"
    return "║" if strong else "│"
