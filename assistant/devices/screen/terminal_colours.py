"""How many colours a terminal can show, by what it says of itself."""

import importlib
from collections.abc import Callable, Mapping

from assistant.devices.screen.palette import Colours

FIRST_SIXTEEN = frozenset({"linux", "eterm-color"})
"""Terminals of sixteen colours whose entry names eight: bright letters are drawn all the same."""


def terminal_colours(
    environ: Mapping[str, str], told: Callable[[str], int] | None = None
) -> Colours:
    """What may be drawn with. ``told``: how many colours the terminal of a name has.

    NO_COLOR, set to anything, means none (no-color.org).
    """
    if environ.get("NO_COLOR"):
        return "none"
    name = environ.get("TERM", "")
    if name == "dumb":
        return "none"
    if name in FIRST_SIXTEEN:
        return "sixteen"
    if not name or environ.get("COLORTERM") in ("truecolor", "24bit"):
        return "many"
    count = (told or _told)(name)
    if count == 16:
        return "sixteen"
    # Of eight, most can do 256, and have had to say eight since before that was usual.
    return "none" if 0 <= count < 8 else "many"


def _told(name: str) -> int:
    """Colours in the terminal's description: 0 for none, -1 when there is no description."""
    try:
        curses = importlib.import_module("curses")
    except ImportError:
        # Windows: its terminals have colours.
        return -1
    try:
        curses.setupterm(name)
    except curses.error:
        return -1
    return max(0, int(curses.tigetnum("colors")))
