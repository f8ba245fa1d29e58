"""The screen's colours.

Meaning is never in the colour alone: every role also differs by word, sign or place.
"""

from dataclasses import dataclass
from typing import Literal, get_args

Role = Literal["text", "strong", "number", "quiet", "alert", "frame", "meter"]
ROLES: tuple[Role, ...] = get_args(Role)

StyledLine = list[tuple[Role, str]]
"""One line of the screen: parts in their roles."""

Colours = Literal["many", "sixteen", "none"]

ThemeName = Literal["dark", "light", "high contrast"]

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
