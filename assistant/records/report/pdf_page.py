"""A document as PDF, with the same drawings as the HTML page, by fpdf2.

Only the fonts that every reader of PDF has are used, so that letters beyond Latin-1 are
written as their nearest plain form or as "?"; the HTML page has them all.
"""

import io
import unicodedata
from datetime import UTC, datetime
from typing import assert_never

from fpdf import FPDF
from fpdf.enums import MethodReturnValue, XPos, YPos
from fpdf.fonts import FontFace

from assistant.records.names import one_line
from assistant.records.report import palette
from assistant.records.report.blocks import (
    Card,
    Cards,
    Cell,
    Chart,
    Content,
    Document,
    Facts,
    Grid,
    Mood,
    PageBlock,
    Paragraph,
    Part,
    Points,
    ScanCode,
    Struck,
    Title,
    VerdictLine,
)
from assistant.records.report.markup import Markup

_MARGIN_MM = 15.0
_WIDTH_MM = 210.0 - 2 * _MARGIN_MM
_MOODS: dict[Mood, tuple[str, str]] = {
    "good": (palette.GOOD, palette.GOOD_PAPER),
    "bad": (palette.BAD, palette.BAD_PAPER),
    "open": (palette.OPEN, palette.OPEN_PAPER),
}


def pdf_page(document: Document) -> bytes:
    """The whole document, A4; the same document always gives the same bytes."""
    pdf = _Sheets(document.foot)
    pdf.set_title(plain(document.name))
    pdf.set_lang("en")
    pdf.set_creator("sweepsay")
    # The day of printing is on the page; bytes that change by themselves help nobody.
    pdf.set_creation_date(datetime(2000, 1, 1, tzinfo=UTC))
    pdf.add_page()
    for block in document.blocks:
        _block(pdf, block)
    return bytes(pdf.output())


def plain(text: str) -> str:
    """The text in the letters of the built-in fonts (Latin-1).

    >>> plain("−3 ✓ Łódź")
    '-3 v Lódz'
    """
    return "".join(_plain_letter(letter) for letter in one_line(text, 2000))


_SIGNS: dict[str, str] = {
    "−": "-", "–": "-", "—": "-", "✓": "v", "✗": "x", "…": "...", "Ł": "L", "ł": "l",
    "’": "'", "′": "'", "″": '"', "‘": "'", "“": '"', "”": '"',
}  # fmt: skip


def _plain_letter(letter: str) -> str:
    if letter in _SIGNS:
        return _SIGNS[letter]
    if ord(letter) < 256:
        return letter
    base = unicodedata.normalize("NFKD", letter)
    kept = "".join(part for part in base if ord(part) < 256)
    return kept or ("" if unicodedata.combining(letter) else "?")


class _Sheets(FPDF):
    """Sheets with the foot of the document and their number."""

    def __init__(self, foot: str) -> None:
        super().__init__(format="A4")
        self._foot = plain(foot)
        self.set_margin(_MARGIN_MM)
        self.set_auto_page_break(True, margin=22)

    def footer(self) -> None:
        """Called by fpdf2 at the end of every sheet."""
        self.set_y(-16)
        self.set_font("helvetica", size=7.5)
        self.set_text_color(palette.MUTED)
        self.multi_cell(0, 3.4, f"{self._foot} Sheet {self.page_no()}.", align="L")

    def text_in(
        self, words: str, size: float, colour: str = palette.INK, bold: bool = False
    ) -> None:
        """Running text over the width."""
        self.set_font("helvetica", style="B" if bold else "", size=size)
        self.set_text_color(colour)
        self.multi_cell(
            0, size * 0.47, plain(words), align="L", new_x=XPos.LMARGIN, new_y=YPos.NEXT
        )

    def room_for(self, height_mm: float) -> None:
        """Begin a new sheet unless so much is left on this one."""
        if self.will_page_break(height_mm):
            self.add_page()


def _block(pdf: _Sheets, block: PageBlock) -> None:
    match block:
        case Title(text=text, about=about):
            pdf.text_in(text, 20, bold=True)
            pdf.ln(1)
            pdf.text_in(about, 9.5, palette.MUTED)
            pdf.ln(3)
        case VerdictLine():
            _verdict(pdf, block)
        case Cards(cards=cards, large=large):
            _cards(pdf, cards, _LARGE_TABLE_MM if large else _TABLE_MM)
        case Part(title=title, pieces=pieces, whole=whole):
            pdf.ln(5)
            together = pieces if whole else pieces[:1]
            pdf.room_for(8 + min(sum(_height(piece) for piece in together), 120))
            pdf.text_in(title, 13, bold=True)
            pdf.ln(1)
            for piece in pieces:
                _piece(pdf, piece)
        case Facts(rows=rows):
            _facts(pdf, rows)
        case ScanCode():
            _code(pdf, block)
        case _:
            assert_never(block)


def _verdict(pdf: _Sheets, verdict: VerdictLine) -> None:
    ink, paper = _MOODS[verdict.mood]
    top = pdf.get_y()
    lines = 1 + bool(verdict.more)
    height = 7.0 + 5.5 * lines
    pdf.set_fill_color(paper)
    pdf.rect(_MARGIN_MM, top, _WIDTH_MM, height, style="F")
    pdf.set_fill_color(ink)
    pdf.rect(_MARGIN_MM, top, 2.2, height, style="F")
    pdf.set_xy(_MARGIN_MM + 6, top + 3)
    pdf.set_font("helvetica", style="B", size=14)
    pdf.set_text_color(ink)
    pdf.cell(_WIDTH_MM - 8, 6, plain(verdict.text), new_x=XPos.LEFT, new_y=YPos.NEXT)
    if verdict.more:
        pdf.set_font("helvetica", size=9.5)
        pdf.multi_cell(_WIDTH_MM - 8, 4.6, plain(verdict.more), align="L")
    pdf.set_xy(_MARGIN_MM, max(top + height, pdf.get_y()) + 4)


def _cards(pdf: _Sheets, cards: tuple[Card, ...], drawing: float) -> None:
    top, width = pdf.get_y(), (_WIDTH_MM - 6) / 2
    pdf.set_font("helvetica", style="B", size=8.5)
    lines = [[_lines(pdf, value, width - 38) for _, value in card.facts] for card in cards]
    height = 8 + drawing + 4 + max(_FACT_MM * sum(map(len, card)) + 1.2 * len(card)
                                   for card in lines) + 5  # fmt: skip
    pdf.room_for(height)
    top = pdf.get_y()
    for k, card in enumerate(cards):
        left = _MARGIN_MM + k * (width + 6)
        pdf.set_fill_color(palette.PANEL)
        pdf.rect(left, top, width, height, style="F", round_corners=True, corner_radius=2)
        pdf.set_xy(left + 4, top + 3)
        pdf.set_font("helvetica", style="B", size=12)
        pdf.set_text_color(palette.INK)
        pdf.cell(width - 8, 5, plain(card.title))
        _drawing(pdf, card.drawing, left + (width - drawing) / 2, top + 9, drawing)
        y = top + 9 + drawing + 3
        for (name, _), value_lines in zip(card.facts, lines[k], strict=True):
            pdf.set_xy(left + 4, y)
            pdf.set_font("helvetica", size=8.5)
            pdf.set_text_color(palette.MUTED)
            pdf.cell(30, _FACT_MM, plain(name))
            pdf.set_font("helvetica", style="B", size=8.5)
            pdf.set_text_color(palette.INK)
            for line in value_lines:
                pdf.set_xy(left + 34, y)
                pdf.cell(width - 38, _FACT_MM, line)
                y += _FACT_MM
            y += 1.2
    pdf.set_xy(_MARGIN_MM, top + height + 2)


def _facts(pdf: _Sheets, rows: tuple[tuple[str, str], ...]) -> None:
    pdf.ln(3)
    for name, value in rows:
        pdf.set_font("helvetica", size=15)
        pdf.set_text_color(palette.MUTED)
        pdf.cell(32, 7.5, plain(name))
        pdf.set_font("helvetica", style="B", size=15)
        pdf.set_text_color(palette.INK)
        pdf.multi_cell(0, 7.5, plain(value), align="L", new_x=XPos.LMARGIN, new_y=YPos.NEXT)


_TABLE_MM, _LARGE_TABLE_MM = 48.0, 70.0
_CODE_MM = 42.0


def _code(pdf: _Sheets, code: ScanCode) -> None:
    """The code at the left, its points beside it."""
    pdf.ln(3)
    pdf.room_for(_CODE_MM)
    top = pdf.get_y()
    _drawing(pdf, code.drawing, _MARGIN_MM, top, _CODE_MM)
    pdf.set_y(top + 4)
    for item in code.beside.items:
        pdf.set_x(_MARGIN_MM + _CODE_MM + 6)
        pdf.set_font("helvetica", size=10)
        pdf.set_text_color(palette.INK)
        pdf.multi_cell(0, 5, plain(item), align="L", new_x=XPos.LMARGIN, new_y=YPos.NEXT)
        pdf.ln(2)
    pdf.set_y(max(top + _CODE_MM, pdf.get_y()) + 2)


_FACT_MM = 4.6


def _lines(pdf: _Sheets, text: str, width_mm: float) -> list[str]:
    """A text in the letters of the font that is set, broken to a width."""
    broken = pdf.multi_cell(
        width_mm, _FACT_MM, plain(text), align="L", dry_run=True, output=MethodReturnValue.LINES
    )
    # What is given back depends on what was asked for, which types cannot say.
    return [str(line) for line in broken] if isinstance(broken, list) and broken else [""]


def _piece(pdf: _Sheets, piece: Content) -> None:
    match piece:
        case Paragraph(text=text, small=small):
            pdf.text_in(text, 8 if small else 10, palette.MUTED if small else palette.INK)
            pdf.ln(1)
        case Points(items=items, numbered=numbered):
            for number, item in enumerate(items, 1):
                pdf.set_x(_MARGIN_MM + 2)
                pdf.set_font("helvetica", size=10)
                pdf.set_text_color(palette.INK)
                pdf.cell(6, 4.8, f"{number}." if numbered else "-")
                pdf.multi_cell(0, 4.8, plain(item), align="L", new_x=XPos.LMARGIN, new_y=YPos.NEXT)
        case Chart(drawing=drawing, key=key):
            pdf.room_for(_height(piece))
            _key(pdf, key)
            _drawing(pdf, drawing, _MARGIN_MM, pdf.get_y(), _CHART_MM)
            pdf.set_y(pdf.get_y() + _CHART_MM * _ratio(drawing) + 2)
        case Grid():
            _grid(pdf, piece)
        case _:
            assert_never(piece)


_CHART_MM = 110.0


def _height(piece: Content) -> float:
    match piece:
        case Paragraph(text=text):
            return 6.0 * (1 + len(text) // 110)
        case Points(items=items):
            return sum(5.0 * (1 + len(item) // 100) for item in items)
        case Chart(drawing=drawing, key=key):
            return _CHART_MM * _ratio(drawing) + (8.0 if key else 2.0)
        case Grid(rows=rows):
            return 6.0 * (len(rows) + 1)
        case _:
            assert_never(piece)


def _key(pdf: _Sheets, key: tuple[tuple[Markup, str], ...]) -> None:
    if not key:
        return
    for sample, words in key:
        x, y = pdf.get_x(), pdf.get_y()
        _drawing(pdf, sample, x, y + 0.6, 8)
        pdf.set_xy(x + 9, y)
        pdf.set_font("helvetica", size=9)
        pdf.set_text_color(palette.INK)
        width = pdf.get_string_width(plain(words)) + 5
        pdf.cell(width, 5, plain(words))
    pdf.set_xy(_MARGIN_MM, pdf.get_y() + 6)


def _ratio(drawing: Markup) -> float:
    """Height over width, from the viewBox."""
    box = drawing.text.split('viewBox="', 1)[1].split('"', 1)[0].split()
    return float(box[3]) / float(box[2])


def _drawing(pdf: _Sheets, drawing: Markup, x: float, y: float, width: float) -> None:
    svg = drawing.text.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)
    head, _, rest = svg.partition("<title>")
    if rest:
        # fpdf2 draws no title, and says so each time.
        svg = head + rest.partition("</title>")[2]
    svg = svg.replace("<text ", '<text font-family="helvetica" ')
    letters = "".join(letter if letter in "<>&" else _plain_letter(letter) for letter in svg)
    pdf.image(io.BytesIO(letters.encode("utf-8")), x=x, y=y, w=width)


_ROW_MM, _GUTTER_MM = 5.4, 5.0
_FEW_ROWS = 12
"""So many rows are not worth two columns."""


def _grid(pdf: _Sheets, grid: Grid) -> None:
    """A table; a long and narrow one in two columns, each sheet read down left, then right."""
    pdf.set_font("helvetica", size=8.5)
    widths = [_column(pdf, grid, k) for k in range(len(grid.head))]
    if len(grid.rows) <= _FEW_ROWS or 2 * sum(widths) + _GUTTER_MM > _WIDTH_MM:
        _table(pdf, grid, widths)
        return
    rows = grid.rows
    while rows:
        fit = int((pdf.page_break_trigger - pdf.get_y()) / _ROW_MM) - 1
        if fit < _FEW_ROWS // 2:
            pdf.add_page()
            continue
        _table(pdf, _two_up(grid, rows[: 2 * fit]), [*widths, _GUTTER_MM, *widths])
        rows = rows[2 * fit :]


def _two_up(grid: Grid, rows: tuple[tuple[Cell, ...], ...]) -> Grid:
    """These rows of a grid, their second half beside the first."""
    half, wide = -(-len(rows) // 2), len(grid.head)
    nothing: tuple[Cell, ...] = ("",) * wide
    right = (*rows[half:], *([nothing] if len(rows) % 2 else []))
    return Grid(
        (*grid.head, "", *grid.head),
        tuple((*a, "", *b) for a, b in zip(rows[:half], right, strict=True)),
        grid.numbers | {k + wide + 1 for k in grid.numbers},
    )


def _table(pdf: _Sheets, grid: Grid, widths: list[float]) -> None:
    pdf.set_font("helvetica", size=8.5)
    pdf.set_text_color(palette.INK)
    pdf.set_draw_color(palette.RULE)
    pdf.set_fill_color(palette.PAPER)
    alignments = tuple("RIGHT" if k in grid.numbers else "LEFT" for k in range(len(grid.head)))
    with pdf.table(
        width=min(sum(widths), _WIDTH_MM),
        align="LEFT",
        col_widths=tuple(widths),
        text_align=alignments,
        borders_layout="HORIZONTAL_LINES",
        line_height=4.6,
        padding=(0.4, 1, 0.4, 0),
        headings_style=FontFace(emphasis="BOLD", color=palette.MUTED),
    ) as table:
        table.row([plain(cell) for cell in grid.head])
        for row in grid.rows:
            cells = table.row()
            for cell in row:
                if isinstance(cell, Struck):
                    cells.cell(f"({plain(cell.text)})")
                else:
                    cells.cell(plain(cell))
    pdf.ln(2)


def _column(pdf: _Sheets, grid: Grid, place: int) -> float:
    cells = [row[place] for row in grid.rows]
    texts = [cell.text if isinstance(cell, Struck) else cell for cell in cells]
    widest = max(pdf.get_string_width(f"({plain(text)})") for text in texts) if texts else 0.0
    pdf.set_font("helvetica", style="B", size=8.5)
    head = pdf.get_string_width(plain(grid.head[place]))
    pdf.set_font("helvetica", size=8.5)
    return max(widest, head, 2.0) + 2.8
