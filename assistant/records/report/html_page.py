"""A document as one HTML page, complete in itself: no script, no font or image from elsewhere."""

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
from assistant.records.report.markup import Markup, join, tag
from assistant.records.report.page_style import STYLE

MOST_COLUMNS = 5
"""What a phone's width has room for."""


def html_page(document: Document) -> str:
    """The whole page as text."""
    page = tag(
        "html",
        tag(
            "head",
            tag("meta", charset="utf-8"),
            tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
            # Whatever gets past the escaping can still not load or run anything.
            tag("meta", http_equiv="Content-Security-Policy",
                content="default-src 'none'; style-src 'unsafe-inline'"),
            tag("title", document.name),
            tag("style", Markup(STYLE)),
        ),
        tag(
            "body",
            tag("main", *(_block(block) for block in document.blocks)),
            tag("footer", tag("p", document.foot, class_="small")),
        ),
        lang="en",
    )  # fmt: skip
    return f"<!DOCTYPE html>\n{page.text}\n"


def _block(block: PageBlock) -> Markup:
    match block:
        case Title(text=text, about=about):
            return tag("header", tag("h1", text), tag("p", about, class_="about"))
        case VerdictLine(mood=mood, sign=sign, text=text, more=more):
            extra = tag("small", more) if more else None
            return tag("p", f"{sign} {text}", extra, class_=f"verdict {mood}")
        case Cards(cards=cards):
            return tag(
                "div",
                *(
                    tag("section", tag("h3", card.title), card.drawing, _facts(card.facts),
                        class_="card")
                    for card in cards
                ),
                class_="pair",
            )  # fmt: skip
        case Part(title=title, pieces=pieces, whole=whole):
            inside = (_piece(piece) for piece in pieces)
            return tag("section", tag("h2", title), *inside, class_="whole" if whole else None)
        case Facts(rows=rows):
            return tag("section", _facts(rows), class_="large")
        case ScanCode(drawing=drawing, beside=beside):
            return tag("section", drawing, _piece(beside), class_="scan")
        case _:
            assert_never(block)


def _facts(facts: tuple[tuple[str, str], ...]) -> Markup:
    return tag("dl", *(join(tag("dt", name), tag("dd", value)) for name, value in facts))


def _piece(piece: Content) -> Markup:
    match piece:
        case Paragraph(text=text, small=small):
            return tag("p", text, class_="small" if small else None)
        case Points(items=items, numbered=numbered):
            return tag("ol" if numbered else "ul", *(tag("li", item) for item in items))
        case Chart(drawing=drawing, key=key):
            samples = (tag("span", sample, f" {words}") for sample, words in key)
            return tag("figure", tag("p", *samples, class_="key") if key else None, drawing)
        case Grid():
            return _grid(piece)
        case _:
            assert_never(piece)


def _grid(grid: Grid) -> Markup:
    def kind(place: int) -> str | None:
        return "number" if place in grid.numbers else None

    head = (tag("th", cell, scope="col", class_=kind(k)) for k, cell in enumerate(grid.head))
    # On a narrow page a row of many columns becomes a block, each cell under its own heading.
    many = len(grid.head) > MOST_COLUMNS

    def named(place: int, cell: Cell) -> str | None:
        return grid.head[place] if many and cell != "" else None

    rows = (
        tag(
            "tr",
            *(
                tag("td", _cell(cell), class_=kind(k), data_head=named(k, cell))
                for k, cell in enumerate(row)
            ),
        )
        for row in grid.rows
    )
    table = tag(
        "table",
        tag("thead", tag("tr", *head)),
        tag("tbody", *rows),
        class_="many" if many else None,
    )
    return tag("div", table, class_="wide")


def _cell(cell: Cell) -> Markup | str:
    return tag("s", cell.text) if isinstance(cell, Struck) else cell
