"""What is spoken when a square is held against the bar and a leaf fills the gap."""

from decimal import Decimal
from typing import Final

from grammar.numerals import number_words
from grammar.vocabulary import Station

BAR_IN: Final = "Straight bar in, square at hand."  # what stands in the chuck


def first(station: Station) -> str:
    """The first station of a sweep tells how: no light at all is zero."""
    return f"Square at the {station}. Which leaf goes? Or zero."


def which_end(value: Decimal) -> str:
    """A leaf goes: at the foot of the blade or at its upper end?"""
    return f"{number_words(value).capitalize()}: open at the bottom?"


SURFACE: Final = "Set the square anew. Call each leaf, then done."
"""How well a square repeats at one spot."""
