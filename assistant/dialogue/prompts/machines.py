"""Words for machines that are set otherwise than by shim and tap: pins, heads, free tables."""

from decimal import Decimal
from typing import Final

from grammar.say import signed_words
from grammar.vocabulary import Station

HEAD_HELD: Final = "Is the head held from swinging?"  # a head may swing when its bolts are loosened
HOLD_HEAD_FIRST: Final = "Support the head. Bolts snug, never off."  # no to that question
LOCK_HEAD: Final = "Lock knee, saddle, table, quill, head. Say locked."
"""Everything must be tight before the dial means anything."""

PIN_OUT: Final = "Support the table. Locating pin out. Done?"
"""A locating pin holds the table where it was made, not where the spindle needs it."""

NOD_SNUG: Final = "Dial at the front. Nod bolts just snug. Done?"  # before nodding
TILT_SNUG: Final = "Dial at the right. Head bolts just snug. Done?"  # before tilting


def tighten_again(station: Station) -> str:
    """How well a head comes back to where it was when its bolts are tightened again."""
    return f"{station.capitalize()}: head bolts snug, tight again. Call each, then done."


def nod(up: bool, target: Decimal) -> str:
    """Which way to nod, and where the dial should come to at the front."""
    return f"Nod {'up' if up else 'down'}. Front to {signed_words(target)}."


def tilt(up: bool, target: Decimal) -> str:
    """Which side of the head goes up, and where the dial should come to at the right."""
    return f"Tilt, {'right' if up else 'left'} side up. Right to {signed_words(target)}."


def more(value: str) -> str:
    """Not there yet."""
    return f"{value.capitalize()} more."


def back(value: str) -> str:
    """Gone too far."""
    return f"Too far. Back {value}."


def clamp_head(watch: Station) -> str:
    """Tighten, and see what that did."""
    return f"Tighten evenly. {watch.capitalize()}?"


def clamp_table(watch: Station) -> str:
    """The same for a table."""
    return f"Lock it. {watch.capitalize()}?"


def pulled(value: Decimal) -> str:
    """Tightening moved it too far to be left so."""
    return f"Tightening pulled {signed_words(value)}. Once more."


MOVE_NOT_HELD: Final = "It did not stay. Are the bolts tight?"
"""The dial was moved, and the next sweep shows nothing of it."""
