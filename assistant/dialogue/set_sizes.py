"""The two sizes that a person may set: sweep diameter and tolerance, and how far they may go."""

from dataclasses import replace
from decimal import Decimal

from assistant.dialogue.machine import Profile
from assistant.dialogue.wording import TOO_LARGE, TOO_LITTLE, TOO_SMALL
from assistant.metrology.lengths import Length

LEAST_SWEEP, MOST_SWEEP = Length.of(Decimal("0.5"), "in"), Length.of(80, "in")
LEAST_TOLERANCE, MOST_TOLERANCE = Length.of(Decimal("0.01"), "thou"), Length.of(100, "thou")


def with_sweep(profile: Profile, size: Length) -> Profile | str:
    """The machine with this sweep diameter, or what to say of one that no machine has."""
    refused = _refused(size, LEAST_SWEEP, MOST_SWEEP)
    return refused or replace(profile, sweep_diameter=size)


def with_tolerance(profile: Profile, counts: Decimal) -> Profile | str:
    """The machine with this tolerance over its sweep, in counts of the dial; or what to say."""
    size = Length(counts * profile.scale.count_mm)
    refused = _refused(size, LEAST_TOLERANCE, MOST_TOLERANCE)
    return refused or replace(profile, tolerance=size, tolerance_over=None)


def _refused(size: Length, least: Length, most: Length) -> str:
    if size.mm <= 0:
        return TOO_SMALL
    if size.mm < least.mm:
        return TOO_LITTLE
    return TOO_LARGE if size.mm > most.mm else ""
