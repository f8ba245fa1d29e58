"""How likely the sides of a sweep changed places, by sweeps of a made-up table."""

from dataclasses import replace
from decimal import Decimal
from statistics import NormalDist

import numpy as np
import pytest

from assistant.metrology.evidence import Swept
from assistant.metrology.exchanges import (
    MISCALLED,
    PRIORS,
    HowRead,
    Link,
    exchanged,
    odds_of,
    read_again,
)
from assistant.metrology.lengths import Length
from assistant.metrology.one_surface import Leg
from assistant.metrology.problem import StationReading, Sweep
from assistant.metrology.scatter import Scatter

STATIONS = (0.0, 90.0, 180.0, 270.0)
CORNERS = (45.0, 135.0, 225.0, 315.0)
TURNS = (0.0, 0.25, 0.5, 0.75)
KNOWN = Scatter(0.5, 8.0, "measured")
GUESSED = Scatter(0.5, 2.0, "assumed")
ROUNDING = 0.14


def _leg(
    at: tuple[float, ...], front: float, right: float, off: tuple[float, ...] = (), table: int = 0,
    swapped: str = "",
) -> Leg:  # fmt: skip
    """A plane over the stations with what each is off; read as if ``swapped`` were elsewhere."""
    heights = []
    for place, bearing in enumerate(at):
        true = bearing
        if (swapped == "sides" and bearing % 180 == 90) or (
            swapped == "ends" and bearing % 180 == 0
        ):
            true = (bearing + 180) % 360
        angle = np.radians(true)
        plane = -np.cos(angle) * front / 2 + np.sin(angle) * right / 2
        heights.append(float(plane) + (off[place] if off else 0.0))
    return Leg(Swept(at, tuple(heights), TURNS, 0.0), table)


def _turned(leg: Leg, which: str) -> Leg:
    at = leg.swept.bearings_deg
    lengthwise = 0 if which == "ends" else 90
    there = tuple((one + 180) % 360 if one % 180 == lengthwise else one for one in at)
    return replace(leg, swept=replace(leg.swept, bearings_deg=there))


def _ways(legs: list[Leg], place: int) -> list[HowRead]:
    ways = [HowRead("", tuple(legs))]
    for which in ("sides", "ends"):
        turned = [*legs[:place], _turned(legs[place], which), *legs[place + 1 :]]
        ways.append(HowRead(which, tuple(turned), PRIORS[which]))
    return ways


@pytest.mark.parametrize("which", ["sides", "ends"])
def test_stations_between_the_four_tell_which_sides_changed_places(which: str) -> None:
    between = _leg(CORNERS, 4.0, 5.0)
    right = odds_of(_ways([_leg(STATIONS, 4.0, 5.0), between], 0), None, KNOWN, ROUNDING, 250.0)
    assert right[""] > 0.99
    wrong = _leg(STATIONS, 4.0, 5.0, swapped=which)
    odds = odds_of(_ways([wrong, between], 0), None, KNOWN, ROUNDING, 250.0)
    assert odds[which] > 0.9
    assert sum(odds.values()) == pytest.approx(1.0)


def test_the_rougher_the_table_may_be_the_less_it_says() -> None:
    legs = [_leg(STATIONS, 0.0, 2.0, swapped="sides"), _leg(CORNERS, 0.0, 2.0)]
    seen = [
        odds_of(_ways(legs, 0), None, known, ROUNDING, 250.0)["sides"]
        for known in (Scatter(0.3, 20.0, "measured"), GUESSED, Scatter(2.0, 20.0, "measured"))
    ]
    assert seen == sorted(seen, reverse=True)
    assert seen[0] > 0.5
    assert seen[-1] < 3 * PRIORS["sides"]


def test_a_level_table_is_its_own_image() -> None:
    legs = [_leg(STATIONS, 5.0, 0.0), _leg(CORNERS, 5.0, 0.0)]
    odds = odds_of(_ways(legs, 0), None, KNOWN, ROUNDING, 250.0)
    assert odds["sides"] == pytest.approx(PRIORS["sides"], rel=0.01)


def _link(front: float, right: float, u: float = 0.7) -> Link:
    return Link(1, (front, right), ((u * u, 0.0), (0.0, u * u)), 0, 4.0)


def test_what_a_correction_left_tells_of_the_sweep_before_and_of_this_one() -> None:
    """Nine high at the back were to be taken off, and the right leans by six all the while."""
    after, link = _leg(STATIONS, 0.0, 6.0), _link(9.0, 0.0)
    before = _leg(STATIONS, -9.0, 6.0, table=1)
    assert odds_of(_ways([after, before], 0), link, KNOWN, ROUNDING, 250.0)[""] > 0.99
    mirrored = _leg(STATIONS, 0.0, 6.0, swapped="sides")
    # Which of the two it was cannot be told: each is the other's image.
    for place in (0, 1):
        odds = odds_of(_ways([mirrored, before], place), link, KNOWN, ROUNDING, 250.0)
        assert odds["sides"] > 0.7
    # Zeroed at the front the first time, the shim went the wrong way: eighteen are there now.
    twice = _leg(STATIONS, 18.0, 6.0)
    odds = odds_of(_ways([twice, before], 1), link, KNOWN, ROUNDING, 250.0)
    assert odds["ends"] > 0.9


@pytest.mark.parametrize("moved", [0.0, -9.0, 40.0])
def test_a_shim_that_did_nothing_or_went_astray_is_no_exchange(moved: float) -> None:
    legs = [_leg(STATIONS, -9.0 + moved, 6.0), _leg(STATIONS, -9.0, 6.0, table=1)]
    for place in (0, 1):
        odds = odds_of(_ways(legs, place), _link(9.0, 0.0), KNOWN, ROUNDING, 250.0)
        assert odds[""] > (0.9 if moved >= 0 else 0.5)


def test_a_dial_that_does_not_come_back_makes_readings_say_less() -> None:
    def seen(drift: float) -> float:
        legs = [_leg(STATIONS, 0.0, 3.0, swapped="sides"), _leg(CORNERS, 0.0, 3.0)]
        off = [replace(leg, swept=replace(leg.swept, drift=drift)) for leg in legs]
        return odds_of(_ways(off, 0), None, GUESSED, ROUNDING, 250.0)["sides"]

    assert seen(0.0) > seen(3.0)


def test_exchanged_readings_lie_half_a_turn_round_and_what_was_read_on_has_another_zero() -> None:
    def thou(value: str) -> Length:
        return Length.of(Decimal(value), "thou")

    values = ("0", "3", "6", "4")
    main = Sweep(
        tuple(
            StationReading(Decimal(at), thou(value))
            for at, value in zip((0, 90, 180, 270), values, strict=True)
        ),
        thou("0.5"),
    )
    further = Sweep(
        tuple(StationReading(Decimal(at), thou("1")) for at in (45, 135, 225, 315)),
        thou("6"),
        opening=thou("0.5"),
    )
    sides, same = exchanged(main, further, "sides")
    assert [int(one.bearing_deg) for one in sides.readings] == [0, 270, 180, 90]
    assert same == further
    ends, other = exchanged(main, further, "ends")
    assert [int(one.bearing_deg) for one in ends.readings] == [180, 90, 0, 270]
    assert other.opening == thou("6")
    both, *none = exchanged(main, None, "signs")
    assert [int(one.bearing_deg) for one in both.readings] == [180, 270, 0, 90]
    assert not none


def test_a_station_read_again_is_weighed_by_both_normal_likelihoods_and_a_wrong_call() -> None:
    """Against the normal density of the standard library; a wrong call is anywhere within 20 u."""
    u, before = 0.8, 0.03
    there, opposite = NormalDist(0.0, u), NormalDist(3.0, u)
    for value in (-1.0, 0.5, 1.4, 2.9, 60.0):
        right = 1 - MISCALLED
        likely = (
            right * before * opposite.pdf(value),
            right * (1 - before) * there.pdf(value),
            MISCALLED / (2 * 20 * u),
        )
        found = read_again(value, value - 3.0, u, before)
        assert found.opposite == pytest.approx(likely[0] / sum(likely))
        assert found.neither == pytest.approx(likely[2] / sum(likely))


def test_what_is_far_from_both_was_called_wrongly() -> None:
    """Nearer to what was called opposite by far, and no more likely that for it."""
    assert read_again(12.0, 5.5, 0.8, 0.5).neither > 0.99
    assert read_again(12.0, 0.5, 0.8, 0.5).opposite > 0.95
