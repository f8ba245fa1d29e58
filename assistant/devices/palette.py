"""The screen's colours, and the arithmetic that says whether they can be read.

Meaning is never in the colour alone: every role also differs by word, sign or place.
"""

from dataclasses import dataclass
from typing import Literal, get_args

Role = Literal["text", "strong", "number", "quiet", "alert", "frame", "meter"]
ROLES: tuple[Role, ...] = get_args(Role)

Colours = Literal["many", "sixteen", "none"]

ThemeName = Literal["dark", "light", "high contrast"]

NEEDED: dict[Role, float] = {
    "text": 4.5, "strong": 4.5, "quiet": 4.5, "alert": 4.5,
    "number": 4.5, "frame": 3.0, "meter": 3.0,
}  # fmt: skip
"""Least contrast with the ground: WCAG 2.2, 1.4.3 (text) and 1.4.11 (parts of a picture).

Large text may have 3, but a shop is a poor place to read in.
"""


BOLD: frozenset[Role] = frozenset({"strong", "number", "alert"})


@dataclass(frozen=True, slots=True)
class Theme:
    """Colours as ``#rrggbb``, or by the names of the sixteen: the ground, each role on it."""

    ground: str
    colours: dict[Role, str]
    bold: frozenset[Role] = BOLD


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


SIXTEEN: dict[ThemeName, Theme] = {
    "dark": Theme(
        "ansiblack",
        {"text": "ansigray", "strong": "ansiwhite", "number": "ansibrightyellow",
         "quiet": "ansigray", "alert": "ansibrightred", "frame": "ansigray",
         "meter": "ansibrightcyan"},
        frozenset(),
    ),
    "light": Theme(
        "ansigray",
        {"text": "ansiblack", "strong": "ansiblack", "number": "ansiblue", "quiet": "ansiblack",
         "alert": "ansiblack", "frame": "ansiblack", "meter": "ansiblue"},
        frozenset(),
    ),
    "high contrast": Theme(
        "ansiblack",
        {"text": "ansiwhite", "strong": "ansiwhite", "number": "ansibrightyellow",
         "quiet": "ansiwhite", "alert": "ansibrightyellow", "frame": "ansiwhite",
         "meter": "ansiwhite"},
        frozenset(),
    ),
}  # fmt: skip
"""For terminals of sixteen colours, whose shades differ; grounds are of the first eight, and
nothing is bold, since bold black is dark grey there."""


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


def style_rules(name: ThemeName, colours: Colours = "many") -> dict[str, str]:
    """prompt_toolkit's style rules of a theme, one class for each role and the ground.

    Without colours the terminal's own two are kept, and only weight tells roles apart.
    """
    if colours == "none":
        return {role: "bold" if role in BOLD else "" for role in ("ground", *ROLES)}
    theme = SIXTEEN[name] if colours == "sixteen" else THEMES[name]
    rules = {"ground": f"bg:{theme.ground} {theme.colours['text']}"}
    for role, colour in theme.colours.items():
        # The library's own sheet has a class of the name strong, which is bold.
        bold = " bold" if role in theme.bold else " nobold"
        rules[role] = f"bg:{theme.ground} {colour}{bold}"
    return rules
