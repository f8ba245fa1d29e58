"""A document as plain text for a terminal or a pipe."""

from collections.abc import Iterator
from textwrap import wrap
from typing import assert_never

from assistant.records.report.blocks import (
    Cards,
    Cell,
    Chart,
    Content,
    Document,
    Facts,
    Grid,
    PageBlock,
    Paragraph,
    Part,
    Points,
    ScanCode,
    Struck,
    Title,
    VerdictLine,
)

GAP = 2
"""Columns between those of a table."""

INDENT = 2


def as_text(document: Document, columns: int) -> str:
    """The document in lines of at most so many columns; drawings are left out."""
    return "\n".join(line for block in document.blocks for line in _block(block, columns)) + "\n"


def _block(block: PageBlock, columns: int) -> Iterator[str]:
    match block:
        case Title(text=text, about=about):
            yield text
            yield from wrap(about, columns)
        case VerdictLine(sign=sign, text=text, more=more):
            yield from ("", *wrap(f"{sign} {text} {more}", columns))
        case Part(title=title, pieces=pieces):
            yield from ("", *wrap(title.upper(), columns))
            for piece in pieces:
                yield ""
                yield from (f"{' ' * INDENT}{line}" for line in _piece(piece, columns - INDENT))
        case Facts(rows=rows):
            yield from ("", *_grid(Grid(("", ""), rows, frozenset()), columns))
        case ScanCode(beside=beside):
            yield from ("", *_piece(beside, columns))
        case Cards(cards=cards):
            for card in cards:
                yield from ("", card.title)
                yield from _grid(Grid(("", ""), card.facts, frozenset()), columns)
        case _:
            assert_never(block)


def _piece(piece: Content, columns: int) -> Iterator[str]:
    match piece:
        case Paragraph(text=text):
            yield from wrap(text, columns)
        case Points(items=items, numbered=numbered):
            for number, item in enumerate(items, 1):
                mark = f"{number}. " if numbered else "- "
                yield from wrap(
                    item, columns, initial_indent=mark, subsequent_indent=" " * len(mark)
                )
        case Grid():
            yield from _grid(piece, columns)
        case Chart():
            return
        case _:
            assert_never(piece)


def _grid(grid: Grid, columns: int) -> Iterator[str]:
    rows = [tuple(map(_plain, row)) for row in (grid.head, *grid.rows)]
    widths = _widths(rows, columns)
    for number, row in enumerate(rows):
        if not any(row):
            continue
        cells = [wrap(cell, wide) or [""] for cell, wide in zip(row, widths, strict=True)]
        for at in range(max(map(len, cells))):
            parts = [cell[at] if at < len(cell) else "" for cell in cells]
            yield _row(parts, widths, grid.numbers)
        if number == 0:
            yield (" " * GAP).join("-" * wide for wide in widths)


def _row(parts: list[str], widths: list[int], numbers: frozenset[int]) -> str:
    sides = (">" if place in numbers else "<" for place in range(len(parts)))
    cells = (f"{part:{side}{wide}}" for part, side, wide in zip(parts, sides, widths, strict=True))
    return (" " * GAP).join(cells).rstrip()


def _widths(rows: list[tuple[str, ...]], columns: int) -> list[int]:
    """What each column takes; where all is too wide the widest gives way."""
    widths = [max(max(map(len, column)), 1) for column in zip(*rows, strict=True)]
    room = columns - GAP * (len(widths) - 1)
    while sum(widths) > room and max(widths) > 1:
        widths[widths.index(max(widths))] -= 1
    return widths


def _plain(cell: Cell) -> str:
    return f"({cell.text})" if isinstance(cell, Struck) else cell
