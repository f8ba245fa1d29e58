"""What reaches the simulated person."""

from dataclasses import dataclass

from grammar.vocabulary import Station

MOVING = ("ease", "tap", "tap lock", "snug up", "move", "clamp")
"""Phases in which the dial is read at one station before, while or after something is moved."""


ASTRAY = {
    "runout": "skip", "shake": "skip", "end play": "skip", "quill travel": "skip",
    "side of runout": "skip",
    "other height": "no", "form": "no", "move table": "disregard",
    "corners": "skip", "hollow": "skip",
}  # fmt: skip
"""What is answered in phases that somebody comes to by being misheard only."""


@dataclass(frozen=True, slots=True)
class Question:
    """What can be known of a ``listen`` effect: the phase, the station, the phrases."""

    phase: str
    station: Station | None
    offers: tuple[str, ...]
