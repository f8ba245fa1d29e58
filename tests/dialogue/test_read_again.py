"""A station read again since its sweep: what it should show, with and without exchanged sides.

The readings are what a level dial on a tilted table shows, plus its drift, all invented.
"""

from collections.abc import Sequence
from decimal import Decimal

import pytest

from assistant.dialogue.read_again import shown_now
from assistant.dialogue.state import Taken
from grammar.vocabulary import STATIONS, Station

HEIGHTS: dict[Station, float] = {"back": -2.0, "right": 5.0, "front": 2.0, "left": -5.0}
SWAPPED: dict[str, dict[Station, Station]] = {
    "as called": {},
    "sides": {"right": "left", "left": "right"},
    "ends": {"back": "front", "front": "back"},
}
CASES: list[tuple[Station, str]] = [
    ("right", "as called"), ("right", "sides"), ("front", "as called"), ("front", "ends"),
]  # fmt: skip
DRIFT = -0.5  # from one reading to the next


def _swept(way: str) -> tuple[Taken, ...]:
    """A sweep of a table of these heights, by somebody who exchanges sides."""
    at = SWAPPED[way]
    there = [HEIGHTS[at.get(name, name)] for name in (*STATIONS, STATIONS[0])]
    values = [height - there[0] + DRIFT * turn for turn, height in enumerate(there)]
    last = len(values) - 1
    return tuple(
        Taken(
            1, name, Decimal(str(value)), "", "text", 1.0, closing=k == last, zeroed=k == 0, order=k
        )
        for k, (name, value) in enumerate(zip((*STATIONS, STATIONS[0]), values, strict=True))
    )  # fmt: skip


def _now(readings: Sequence[Taken], station: Station, way: str) -> float:
    """What the dial really shows there, after four more stations and the first again."""
    zero = HEIGHTS[SWAPPED[way].get("back", "back")]
    return HEIGHTS[station] - zero + DRIFT * (len(readings) - 1)


@pytest.mark.parametrize(("station", "way"), CASES)
def test_what_a_station_shows_just_after_the_sweep(station: Station, way: str) -> None:
    readings = _swept(way)
    shown = shown_now(readings, station, None)
    there = shown.instead if station in SWAPPED[way] else shown.called
    assert there == pytest.approx(_now(readings, station, way))


@pytest.mark.parametrize(("station", "way"), CASES)
def test_what_it_shows_once_the_first_was_read_again(station: Station, way: str) -> None:
    """Drifted on by five readings, and read at the real back."""
    readings = _swept(way)
    zero = HEIGHTS[SWAPPED[way].get("back", "back")]
    on = DRIFT * (len(readings) - 1 + 5)
    since = Decimal(str(HEIGHTS["back"] - zero + on))
    shown = shown_now(readings, station, since)
    there = shown.instead if station in SWAPPED[way] else shown.called
    assert there == pytest.approx(HEIGHTS[station] - zero + on)
