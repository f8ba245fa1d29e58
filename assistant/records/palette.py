"""The colours of the reports, and which of them stand on which.

Nothing is told by colour alone: every series has its own mark, every verdict its words.
"""

PAPER = "#ffffff"
PANEL = "#f4f6f8"
INK = "#1a1f26"
MUTED = "#4d5763"
RULE = "#c8d0d9"
AXIS = "#6b7683"
FRONT = "#0a5aa8"
SIDES = "#9a4205"
BAND = "#e2edf8"
HIGH = "#8fb8e0"
LOW = "#f3f6fa"
GOOD = "#0a5c33"
GOOD_PAPER = "#e3f3ea"
BAD = "#99191b"
BAD_PAPER = "#fbe9e8"
OPEN = "#5f4300"
OPEN_PAPER = "#fdf2d3"

TEXT_PAIRS: tuple[tuple[str, str], ...] = (
    (INK, PAPER), (INK, PANEL), (INK, HIGH), (INK, LOW), (INK, BAND),
    (MUTED, PAPER), (MUTED, PANEL),
    (FRONT, PAPER), (SIDES, PAPER),
    (GOOD, GOOD_PAPER), (BAD, BAD_PAPER), (OPEN, OPEN_PAPER), (OPEN, PAPER), (BAD, PAPER),
)  # fmt: skip
"""Text and what it stands on: 4.5 to 1 at least (WCAG 2.2, 1.4.3)."""

GRAPHIC_PAIRS: tuple[tuple[str, str], ...] = (
    (FRONT, PAPER), (FRONT, BAND), (SIDES, PAPER), (SIDES, BAND), (AXIS, PAPER), (AXIS, BAND),
    (INK, HIGH), (INK, LOW), (AXIS, PANEL),
)  # fmt: skip
"""Lines and marks that carry meaning: 3 to 1 at least (WCAG 2.2, 1.4.11)."""


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two "#rrggbb" colours, 1 to 21 (WCAG 2.2, "contrast ratio")."""
    lighter, darker = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def _luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2, "relative luminance")."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
