"""Where spots lie beside one another: moved on round the circle, so that they are new ones.

A repeated sweep moves each of its own on by as much as the spots lie apart that show how rough the
surface is.
"""

from decimal import Decimal
from math import pi
from typing import Final

from assistant.dialogue.formatting import size_words
from assistant.dialogue.machine import Profile
from assistant.metrology.lengths import Length

SPOTS: Final = 8
"""Readings of the surface that are asked for."""

SHARE = Decimal("0.125")
"""Of the sweep diameter by which every spot is moved on: an inch in eight, over which most of a
wave of the surface is past, and a bearing that is not gone by too exactly hardly matters."""

TURNED_BY = ("indicator", "gap")
"""Methods whose bar is turned to any bearing; a square is set up where it stands."""


def spots_further(profile: Profile) -> Length | None:
    """How far along the circle, to half inches or whole centimetres; None where they stay."""
    if profile.method not in TURNED_BY:
        return None
    inch = profile.scale.system == "thou"
    unit = Length.of("0.5", "in") if inch else Length.of(10, "mm")
    return max(round(profile.sweep_diameter * SHARE / unit), 1) * unit


def further_deg(profile: Profile) -> Decimal:
    """The same as an angle about the spindle; zero where the spots stay."""
    far = spots_further(profile)
    if far is None:
        return Decimal(0)
    return round(360 * (far / profile.sweep_diameter) / Decimal(pi), 3)


def further_words(profile: Profile) -> str:
    """The same as it is spoken; nothing where the spots stay."""
    far = spots_further(profile)
    if far is None:
        return ""
    halves = {Length.of("0.5", "in"): "half an inch", Length.of(1, "in"): "an inch"}
    return halves.get(far, "") or size_words(far, profile.scale)
