"""Words for the checks of the spindle before a sweep, and for what they mean to it."""

from decimal import Decimal
from typing import Final

from grammar.numerals import number_words

ASK: Final = "Spindle checked?"  # yes goes on, no makes the checks
BEGIN: Final = "Lock the table. Dial on it, tip on the bar."
"""Runout and shake are read by a dial that stands still."""


def noted(swing: Decimal) -> str:
    """Read a swing back: it has no sign."""
    return f"{number_words(swing).capitalize()}."


NEAR_CHUCK: Final = "Near the chuck: full swing in a turn?"


def lower(distance: str) -> str:
    """The second place along the bar."""
    return f"{distance.capitalize()} down the bar: full swing?"


SAME_SIDE: Final = "High at the same side both times?"
"""The same side is a bar off centre or leaning out, opposite sides are a bar that leans over."""

NO_RUNOUT: Final = "No runout to be seen."  # inside what the dial shows
OFF_CENTRE: Final = "Off centre, not leaning: the sweep does not mind."
"""The sweep turns bar and dial as one body: how the bar is chucked is the same all round."""

LEANING: Final = "The bar leans: clean chuck and taper. The sweep does not mind."
MAY_LEAN: Final = "Off centre or leaning. The sweep does not mind."
"""The two swings alone do not tell one from the other."""


def runout(near: Decimal, far: Decimal) -> str:
    """Both swings read back."""
    return f"Runout {number_words(near)}, lower {number_words(far)}."


SHAKE: Final = "Push and pull the bar sideways. Full swing?"


def shake(value: Decimal) -> str:
    """Side shake read back."""
    return f"Side shake {number_words(value)}."


NO_SHAKE: Final = "No shake to be seen."
HANDS_OFF: Final = "Hands off for every reading."  # some shake: the hand must not lean on the bar
LOOSE_BEARINGS: Final = "More than the tolerance: see to the bearings first."
"""A spindle that is free by more than the tolerance has no direction to square a table to."""

LIFT: Final = "Tip under the bar. Lift it: how much?"
LET_GO: Final = "Let go: how much stays?"


def end_play(value: Decimal) -> str:
    """End play read back."""
    return f"End play {number_words(value)}."


NO_END_PLAY: Final = "No end play to be seen."
DROPS_BACK: Final = "It drops back: the sweep does not mind."
"""The weight holds the spindle down for every reading."""


def stays(value: Decimal) -> str:
    """What may be in any reading is counted in."""
    return f"{number_words(value).capitalize()} stays: counted in. Never lift while turning."


def quill_back(depth: str) -> str:
    """Travel front to back, against the blade of a square."""
    return f"Square behind the tip, dial zero. Quill down {depth}?"


def quill_right(depth: str) -> str:
    """Travel side to side."""
    return f"Square right of the tip, zero. Quill down {depth}?"


QUILL_TRUE: Final = "Quill true to the square."


def quill_runs(parts: str) -> str:
    """Which way the quill runs as it goes down; the words are those of ``quill_part``."""
    return f"Quill runs {parts}. No sweep sees that, holes follow it."


def quill_part(value: Decimal, side: str) -> str:
    """One direction of it."""
    return f"{number_words(abs(value))} {side}"


NOT_CHECKED: Final = "Nothing checked."  # every check was left out
