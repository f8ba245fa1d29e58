"""A station read again since its sweep: what it should show now, and what had two sides changed
places in that sweep.

Belongs here: reckoning from the sweep as it was called, freed of its drift. What is asked, and what
follows, is the procedures'.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from assistant.dialogue.returns import return_of
from assistant.dialogue.state import Taken
from assistant.metrology.stations import OPPOSITE
from grammar.vocabulary import Station


@dataclass(frozen=True, slots=True)
class ShownNow:
    """At a station: as it was ``called`` there, and as what is there ``instead`` if two sides had
    changed places; in counts as read."""

    called: float
    instead: float


def shown_now(readings: Sequence[Taken], station: Station, since: Decimal | None) -> ShownNow:
    """What the dial should show at a station of this sweep now.

    Reckoned from the first station as it was read last, so that a dial that drifted does not
    matter; ``since``: what it showed when it was read once more after the sweep was closed, None if
    it was not. What closes a sweep was read where it had its zero: at the front, if that was taken
    for the back.
    """
    level = _level(readings)
    last = float(return_of(readings) if since is None else since)
    if station == "front":
        return ShownNow(last + level["front"], last - (0.0 if since is None else level["front"]))
    return ShownNow(last + level[station], last + level[OPPOSITE[station]])


def _level(readings: Sequence[Taken]) -> dict[Station, float]:
    """The sweep freed of its drift, from the first station."""
    in_time = sorted((one for one in readings if not one.closing), key=lambda one: one.order)
    part = float(return_of(readings)) / len(in_time)
    return {one.station: float(one.value) - part * turn for turn, one in enumerate(in_time)}
