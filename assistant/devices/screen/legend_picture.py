"""What each key of the keypad does now, beside the large letters or in one line."""

from collections.abc import Sequence

from assistant.devices.screen.palette import StyledLine
from assistant.devices.screen.table_picture import TABLE_COLUMNS, TABLE_ROWS

KEY_COLUMNS = 10


def legend_picture(legend: Sequence[tuple[str, str]]) -> list[StyledLine]:
    """At most ``TABLE_ROWS`` rows of at most ``TABLE_COLUMNS`` columns, a heading first."""
    rows: list[StyledLine] = [[("quiet", f"{'':<{KEY_COLUMNS}} KEYPAD")]]
    for keys, does in legend[: TABLE_ROWS - 1]:
        room = TABLE_COLUMNS - KEY_COLUMNS - 1
        rows.append([("strong", f"{keys:>{KEY_COLUMNS}} "), ("text", does[:room])])
    return rows


def legend_words(legend: Sequence[tuple[str, str]]) -> str:
    """The same as running text: "Enter yes; - no; /1 status"."""
    return "; ".join(f"{keys.replace('/ ', '/')} {does}" for keys, does in legend)
