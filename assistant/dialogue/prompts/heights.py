"""Words for other heights and swings of the table, and for its form."""

from decimal import Decimal
from typing import Final

from grammar.say import signed_words
from grammar.vocabulary import Station

OTHER: Final = "Check another height or swing?"  # square at one height is not square at another
MOVE_TABLE: Final = "Hold the table, move it, lock all. Say locked."  # to the other height or swing
SAME_HERE: Final = "Same as at the first."  # the two places cannot be told apart


def differs(best: str) -> str:
    """The places differ; what the best setting for all of them leaves at the worst."""
    return f"Not as at the first. Best for all leaves {best}."


MOVED_SINCE: Final = "Table back to its first place."  # before correcting after another place
FORM: Final = "Check the table's form?"  # the readings do not belong to a plane
CORNERS: Final = ("back right", "front right", "front left", "back left")
"""Stations between the four, in the order of the sweep."""


def corner(place: str) -> str:
    """Ask for a reading between two stations."""
    return f"{place.capitalize()}?"


def corner_is(place: str, value: Decimal) -> str:
    """Read a corner's reading back."""
    return f"{place.capitalize()} {signed_words(value)}."


def corner_taken_back(place: str) -> str:
    """After "disregard"."""
    return f"{place.capitalize()} taken back."


def form_moved(station: Station) -> str:
    """The dial did not come back: the corners do not belong to the sweep before them."""
    return f"{station.capitalize()} moved. No form from this."


HOLLOW: Final = "Straight edge across. Gap in the middle?"
"""Eight stations on one circle cannot see a dish."""

NO_WARP: Final = "No warp beyond the noise."  # neither saddle nor twist stands out


def warp(high: str, value: str) -> str:
    """Two opposite sides or corners that stand over the others."""
    return f"Warped: {high} {value} high."


def hollow(value: str) -> str:
    """The gap under the straight edge."""
    return f"Hollow {value}."


NOT_BY_SETTING: Final = "No setting takes that out."  # form is not tilt
