"""What is spoken when gaps under a bent rod are measured with feeler leaves."""

from decimal import Decimal
from typing import Final

from grammar.numerals import number_words
from grammar.vocabulary import Station

ROD_IN: Final = "Bent rod in."  # what stands in the chuck


def set_rod(station: Station, leaf: Decimal) -> str:
    """Set the rod at the first station, so that the leaf just drags; another leaf is called."""
    return f"Rod on leaf {number_words(leaf)} at the {station}. Done?"


def rod_on(leaf: Decimal) -> str:
    """Another leaf was called than the one that was told."""
    return f"Rod on {number_words(leaf)}."


CALL_THICKEST: Final = "Call the thickest that goes."  # once for each sweep, before its stations


def still_drags(station: Station, leaf: Decimal) -> str:
    """Closing: does the leaf that the rod was set to still drag there?"""
    return f"{station.capitalize()}: does {number_words(leaf)} still drag?"


def which_not(station: Station) -> str:
    """The next leaf is much thicker than the one that goes: something between may be known."""
    return f"{station.capitalize()}: which does not go? Or done."


def goes_already(leaf: Decimal) -> str:
    """What is said not to go is no thicker than what goes."""
    return f"{number_words(leaf).capitalize()} goes already."


def between(go: Decimal, no_go: Decimal) -> str:
    """Read the interval back."""
    return f"Between {number_words(go)} and {number_words(no_go)}."


NO_SIGN: Final = "A gap has no sign."  # a minus was called
TOUCHES: Final = "The rod touches. Set a thicker leaf."  # a gap of nothing cannot be measured
SURFACE: Final = "Rod about one spot. Call each gap, then done."  # how rough the surface is
