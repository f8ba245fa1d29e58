"""Very large letters and digits for a terminal, out of half blocks.

A glyph is five dots high. A dot is ``scale`` half rows high and as many columns wide, which
is about square, so that scale 2 gives letters five rows high and scale 4 ten rows.
"""

from dataclasses import dataclass

GLYPHS: dict[str, tuple[str, ...]] = {
    "0": ("###", "#.#", "#.#", "#.#", "###"),
    "1": (".#.", "##.", ".#.", ".#.", "###"),
    "2": ("###", "..#", "###", "#..", "###"),
    "3": ("###", "..#", ".##", "..#", "###"),
    "4": ("#.#", "#.#", "###", "..#", "..#"),
    "5": ("###", "#..", "###", "..#", "###"),
    "6": ("###", "#..", "###", "#.#", "###"),
    "7": ("###", "..#", "..#", ".#.", ".#."),
    "8": ("###", "#.#", "###", "#.#", "###"),
    "9": ("###", "#.#", "###", "..#", "###"),
    "+": ("...", ".#.", "###", ".#.", "..."),
    "-": ("...", "...", "###", "...", "..."),
    "±": (".#.", "###", ".#.", "...", "###"),
    ".": (".", ".", ".", ".", "#"),
    "/": ("..#", "..#", ".#.", "#..", "#.."),
    "?": ("###", "..#", ".##", "...", ".#."),
    " ": ("..", "..", "..", "..", ".."),
    "A": (".#.", "#.#", "###", "#.#", "#.#"),
    "B": ("##.", "#.#", "##.", "#.#", "##."),
    "C": ("###", "#..", "#..", "#..", "###"),
    "D": ("##.", "#.#", "#.#", "#.#", "##."),
    "E": ("###", "#..", "##.", "#..", "###"),
    "F": ("###", "#..", "##.", "#..", "#.."),
    "G": ("###", "#..", "#.#", "#.#", "###"),
    "H": ("#.#", "#.#", "###", "#.#", "#.#"),
    "I": ("#", "#", "#", "#", "#"),
    "J": ("..#", "..#", "..#", "#.#", "###"),
    "K": ("#.#", "#.#", "##.", "#.#", "#.#"),
    "L": ("#..", "#..", "#..", "#..", "###"),
    "M": ("#...#", "##.##", "#.#.#", "#...#", "#...#"),
    "N": ("#..#", "##.#", "#.##", "#..#", "#..#"),
    "O": ("###", "#.#", "#.#", "#.#", "###"),
    "P": ("###", "#.#", "###", "#..", "#.."),
    "Q": ("###", "#.#", "#.#", "###", "..#"),
    "R": ("##.", "#.#", "##.", "#.#", "#.#"),
    "S": ("###", "#..", "###", "..#", "###"),
    "T": ("###", ".#.", ".#.", ".#.", ".#."),
    "U": ("#.#", "#.#", "#.#", "#.#", "###"),
    "V": ("#.#", "#.#", "#.#", "#.#", ".#."),
    "W": ("#...#", "#...#", "#.#.#", "##.##", "#...#"),
    "X": ("#.#", "#.#", ".#.", "#.#", "#.#"),
    "Y": ("#.#", "#.#", ".#.", ".#.", ".#."),
    "Z": ("###", "..#", ".#.", "#..", "###"),
}
"""Drawn for this program. Zero and the letter O share a shape, as nothing mixes the two."""

DOTS_HIGH = 5


@dataclass(frozen=True, slots=True)
class Blocks:
    """The characters that are drawn with: full, upper half, lower half."""

    full: str = "█"
    upper: str = "▀"
    lower: str = "▄"


FINE = Blocks()
COARSE = Blocks("#", "#", "#")
"""For terminals without block characters; only even scales look right."""


def width(text: str, scale: int) -> int:
    """Columns that a text takes at a scale."""
    dots = sum(len(GLYPHS[character][0]) for character in text)
    return (dots + max(0, len(text) - 1)) * scale


def height(scale: int) -> int:
    """Rows that a text takes at a scale."""
    return (DOTS_HIGH * scale + 1) // 2


def largest_scale(text: str, columns: int, rows: int, limit: int = 8) -> int:
    """The largest scale at which a text fits; 0 when not even 1 does or a glyph is missing."""
    if not text or any(character not in GLYPHS for character in text):
        return 0
    fitting = [s for s in range(1, limit + 1) if width(text, s) <= columns and height(s) <= rows]
    return max(fitting, default=0)


def large(text: str, scale: int, blocks: Blocks = FINE) -> list[str]:
    """The rows of a text, each ``width(text, scale)`` columns wide."""
    dots = [".".join(GLYPHS[character][row] for character in text) for row in range(DOTS_HIGH)]
    half_rows = ["".join(dot * scale for dot in line) for line in dots for _ in range(scale)]
    if len(half_rows) % 2:
        half_rows.append("." * len(half_rows[0]))
    rows = []
    for upper, lower in zip(half_rows[::2], half_rows[1::2], strict=True):
        rows.append("".join(_cell(a, b, blocks) for a, b in zip(upper, lower, strict=True)))
    return rows


def _cell(upper: str, lower: str, blocks: Blocks) -> str:
    match upper == "#", lower == "#":
        case True, True:
            return blocks.full
        case True, False:
            return blocks.upper
        case False, True:
            return blocks.lower
        case _:
            return " "
