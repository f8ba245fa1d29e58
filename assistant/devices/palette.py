"""The screen's colours, and the arithmetic that says whether they can be read.

Meaning is never in the colour alone: every role also differs by word, sign or place.
"""

from dataclasses import dataclass
from typing import Literal, get_args

Role = Literal["text", "strong", "number", "quiet", "alert", "frame", "meter"]
ROLES: tuple[Role, ...] = get_args(Role)

ThemeName = Literal["dark", "light", "high contrast"]

NEEDED: dict[Role, float] = {
    "text": 4.5, "strong": 4.5, "quiet": 4.5, "alert": 4.5,
    "number": 4.5, "frame": 3.0, "meter": 3.0,
}  # fmt: skip
"""Least contrast with the ground: WCAG 2.2, 1.4.3 (text) and 1.4.11 (parts of a picture).

Large text may have 3, but a shop is a poor place to read in.
"""


@dataclass(frozen=True, slots=True)
class Theme:
    """Colours as ``#rrggbb``: the ground, and each role on it."""

    ground: str
    colours: dict[Role, str]
    bold: frozenset[Role] = frozenset({"strong", "number", "alert"})


THEMES: dict[ThemeName, Theme] = {
    "dark": Theme(
        "#121212",
        {"text": "#e4e4e4", "strong": "#ffffff", "number": "#ffd75f", "quiet": "#a8a8a8",
         "alert": "#ff8787", "frame": "#8a8a8a", "meter": "#5fd7ff"},
    ),
    "light": Theme(
        "#ffffff",
        {"text": "#1c1c1c", "strong": "#000000", "number": "#00005f", "quiet": "#585858",
         "alert": "#af0000", "frame": "#767676", "meter": "#005f87"},
    ),
    "high contrast": Theme(
        "#000000",
        {"text": "#ffffff", "strong": "#ffffff", "number": "#ffff00", "quiet": "#ffffff",
         "alert": "#ffff00", "frame": "#ffffff", "meter": "#ffffff"},
    ),
}  # fmt: skip
"""All of them are in the palette of 256 colours, so that fewer colours change nothing."""


def luminance(colour: str) -> float:
    """Relative luminance of ``#rrggbb``, 0 to 1, after WCAG 2.2 (sRGB, IEC 61966-2-1).

    >>> luminance("#000000"), luminance("#ffffff")
    (0.0, 1.0)
    """
    red, green, blue = (_linear(int(colour[at : at + 2], 16) / 255) for at in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _linear(part: float) -> float:
    return part / 12.92 if part <= 0.04045 else float(((part + 0.055) / 1.055) ** 2.4)


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, 1 to 21, after WCAG 2.2.

    >>> round(contrast("#ffffff", "#000000"), 6)
    21.0
    """
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def style_rules(name: ThemeName) -> dict[str, str]:
    """prompt_toolkit's style rules of a theme, one class for each role and the ground."""
    theme = THEMES[name]
    rules = {"ground": f"bg:{theme.ground} {theme.colours['text']}"}
    for role, colour in theme.colours.items():
        bold = " bold" if role in theme.bold else ""
        rules[role] = f"bg:{theme.ground} {colour}{bold}"
    return rules
