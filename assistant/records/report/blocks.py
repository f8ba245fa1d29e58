"""What a printed page consists of: plain blocks that HTML and PDF lay out each in its way."""

from dataclasses import dataclass
from typing import Literal

from assistant.records.report.markup import Markup

Mood = Literal["good", "bad", "open"]


@dataclass(frozen=True, slots=True)
class Title:
    """The head of the page."""

    text: str
    about: str


@dataclass(frozen=True, slots=True)
class VerdictLine:
    """The line at the top; ``sign`` says without colour what ``mood`` says with it."""

    mood: Mood
    sign: str
    text: str
    more: str


@dataclass(frozen=True, slots=True)
class Card:
    """A drawing with its facts, each a name and a value."""

    title: str
    drawing: Markup
    facts: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Cards:
    """Cards side by side; ``large``: to be read from a step away."""

    cards: tuple[Card, ...]
    large: bool = False


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Running text."""

    text: str
    small: bool = False


@dataclass(frozen=True, slots=True)
class Points:
    """A list, numbered or not."""

    items: tuple[str, ...]
    numbered: bool = False


@dataclass(frozen=True, slots=True)
class Chart:
    """A drawing across the page; ``key``: samples of its marks and what they stand for."""

    drawing: Markup
    key: tuple[tuple[Markup, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Struck:
    """A cell whose value does not count any more."""

    text: str


Cell = str | Struck


@dataclass(frozen=True, slots=True)
class Grid:
    """A table. ``numbers``: places of the columns that hold numbers, from 0."""

    head: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    numbers: frozenset[int]


Content = Paragraph | Points | Chart | Grid


@dataclass(frozen=True, slots=True)
class Part:
    """A part under its heading; ``whole``: better not parted between sheets."""

    title: str
    pieces: tuple[Content, ...]
    whole: bool = False


@dataclass(frozen=True, slots=True)
class Facts:
    """Names and values in large letters."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class ScanCode:
    """A code to be scanned, and points beside it."""

    drawing: Markup
    beside: Points


PageBlock = Title | VerdictLine | Cards | Part | Facts | ScanCode
"""A page is a row of these, and a foot."""


@dataclass(frozen=True, slots=True)
class Document:
    """A whole page. ``name``: for the window's title and the file's own title."""

    name: str
    blocks: tuple[PageBlock, ...]
    foot: str
