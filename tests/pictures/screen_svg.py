"""The screen as a drawing: every cell where a terminal has it, in the colours of the theme."""

from html import escape
from itertools import groupby

from assistant.devices.screen.palette import THEMES, Role, StyledLine, ThemeName

WIDE, HIGH = 9, 18
"""Of a cell, in pixels."""

BLOCKS: dict[str, tuple[float, float]] = {"█": (0.0, 1.0), "▀": (0.0, 0.5), "▄": (0.5, 0.5)}
"""Where a block begins in its cell and how high it is: fonts leave gaps between them."""

Cell = tuple[str, Role, str]


def screen_svg(rows: list[StyledLine], title: str, name: ThemeName = "dark") -> str:
    """Rows of a picture as SVG."""
    theme = THEMES[name]
    columns = max(sum(len(text) for _, text in row) for row in rows)
    width, height = (columns + 2) * WIDE, (len(rows) + 1) * HIGH
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" role="img" '
        f'shape-rendering="crispEdges" '
        f'font-family="DejaVu Sans Mono, Consolas, monospace" font-size="15">',
        f"<title>{escape(title)}</title>",
        f'<rect width="{width}" height="{height}" rx="6" fill="{theme.ground}"/>',
    ]
    for number, row in enumerate(rows):
        top = HIGH / 2 + number * HIGH
        at = 0
        for (kind, role), group in groupby(_cells(row), key=lambda cell: (cell[0], cell[1])):
            text = "".join(cell[2] for cell in group)
            ink = f'fill="{theme.colours[role]}"'
            x, wide = (at + 1) * WIDE, len(text) * WIDE
            if kind in BLOCKS:
                down, high = BLOCKS[kind]
                parts.append(
                    f'<rect x="{x}" y="{top + down * HIGH:g}" width="{wide}" '
                    f'height="{high * HIGH:g}" {ink}/>'
                )
            elif text.strip():
                bold = ' font-weight="bold"' if role in theme.bold else ""
                parts.append(
                    f'<text x="{x}" y="{top + 0.76 * HIGH:g}" textLength="{wide}" {ink}{bold} '
                    f'xml:space="preserve">{escape(text)}</text>'
                )
            at += len(text)
    return "\n".join([*parts, "</svg>", ""])


def _cells(row: StyledLine) -> list[Cell]:
    """Characters with what they are: a block by its own name, else text."""
    return [
        (letter if letter in BLOCKS else "text", role, letter)
        for role, text in row
        for letter in text
    ]
