"""Limits of a sweep, and finding the reading that was mis-heard."""

from decimal import Decimal
from math import inf

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.metrology.confusions import misheard_as
from assistant.metrology.consistency import Alternative, StationOrClosing, limits, suspects
from assistant.metrology.stations import StationName

ROUND: tuple[StationOrClosing, ...] = ("back", "right", "front", "left")


def heard(text: str) -> dict[StationOrClosing, Decimal]:
    places: tuple[StationOrClosing, ...] = (*ROUND, "closing")
    return {place: Decimal(part) for place, part in zip(places, text.split(), strict=False)}


@pytest.mark.parametrize("dof", [2, 3, 4, 7, inf])
@pytest.mark.parametrize("closed", [False, True])
def test_limits_pass_ninety_nine_good_sweeps_in_a_hundred(dof: float, closed: bool) -> None:
    """Seeded Monte Carlo on normal readings of a plane, sigma from dof + 1 readings."""
    random = np.random.default_rng(11)
    count = 100_000
    readings = random.normal(size=(count, 5)) * 0.7
    known = np.ones(count) if dof == inf else np.sqrt(random.chisquare(dof, count) / dof)
    bounds = limits(0.7, dof, closed)
    drift = readings[:, 4] - readings[:, 0]
    saddle = readings[:, 0] - readings[:, 1] + readings[:, 2] - readings[:, 3]
    if closed:
        # 0, 1/4, 1/2 and 3/4 of the drift, less from each station in turn.
        saddle = saddle + drift * (1 / 4 - 1 / 2 + 3 / 4)
    assert np.mean(np.abs(saddle) > known * bounds.saddle) == pytest.approx(0.01, abs=0.0015)
    assert np.mean(np.abs(drift) > known * bounds.drift) == pytest.approx(0.01, abs=0.0015)


def test_a_rate_of_false_alarms_may_be_asked_for() -> None:
    assert limits(1, rate=0.05).drift == pytest.approx(1.95996 * 2**0.5, abs=1e-4)
    assert limits(1, 2).saddle == pytest.approx(2 * 9.9248, abs=1e-3)


def test_refused_drift_doubts_as_much_as_the_readings() -> None:
    """Even or sudden, a drift d leaves a rectangular doubt of d/2: u = d / (2 sqrt 3) (derived)."""
    bounds = limits(1)
    assert bounds.drift_refused / (2 * 3**0.5) == pytest.approx(2**0.5)


def test_a_good_sweep_has_no_suspect() -> None:
    assert suspects(heard("6 3 0 3 6"), {}, 0.5) == ()


@pytest.mark.parametrize(
    ("called", "place", "better", "why"),
    [
        ("2 60 30 16 2", "right", "16", "teen_ty"),
        ("0 9 10 5 0", "right", "5", "five_nine"),
        ("6 2 0 4 16", "closing", "6", "tens"),
        ("0 14 6 2 0", "right", "4", "tens"),
        ("0 3 16 3 0", "front", "6", "tens"),
        ("-6 -1 -8 3 -6", "front", "8", "sign"),
    ],
)
def test_bad_sweep_has_a_suspect(called: str, place: str, better: str, why: str) -> None:
    """One wrong call on a plane in whole counts: the right one is the only one that fits well.

    Of those that fit alike it is the one that leaves the smaller tilt: four becomes fourteen at
    the right, and nobody asks about the left.
    """
    found = suspects(heard(called), {}, 0.4)[0]
    assert (found.place, found.better, found.why) == (place, Decimal(better), why)


@given(
    st.integers(-12, 12), st.integers(-12, 12), st.integers(-5, 5), st.sampled_from(ROUND),
    st.integers(0, 8),
)  # fmt: skip
def test_one_mistake_on_a_plane_is_among_the_suspects(
    fb: int, rl: int, mean: int, place: StationOrClosing, which: int
) -> None:
    """A plane in whole counts, one call mis-heard: the truth is among the answers."""
    true = heard(f"{mean - fb} {mean + rl} {mean + fb} {mean - rl} {mean - fb}")
    others = misheard_as(true[place])
    wrong = others[which % len(others)].value
    called = {**true, place: wrong}
    rival = {place: [Alternative(true[place], 0.4)]}
    found = suspects(called, rival, 0.4)
    if not found:
        # Too small a mistake to be seen: half a count, at a reading scatter of 0.4.
        assert abs(wrong - true[place]) <= 2
        return
    assert (place, true[place]) in {(one.place, one.better) for one in found}
    assert sum(one.probability for one in found) == pytest.approx(1)


def test_sign_is_found_by_the_geometry_alone() -> None:
    """B7 R3 F-7 L-3 with the right called plus for minus: four ways to flip, one fits a plane."""
    found = suspects(heard("7 3 -7 3 7"), {}, 0.4)[0]
    assert found.why == "sign"
    assert {found.place} <= {"right", "left"}


def test_expectation_decides_between_two_signs() -> None:
    """The same sweep, after one that had the left high: the right is the wrong one."""
    expected: dict[StationName, Decimal] = {
        "back": Decimal(6), "right": Decimal(-3), "front": Decimal(-6), "left": Decimal(3),
    }  # fmt: skip
    found = suspects(heard("7 3 -7 3 7"), {}, 0.4, expected)[0]
    assert (found.place, found.better) == ("right", Decimal(-3))


def test_rival_of_the_recogniser_decides_too() -> None:
    found = suspects(heard("7 3 -7 3 7"), {"left": [Alternative(Decimal(-3), 0.45)]}, 0.4)[0]
    assert (found.place, found.better, found.why) == ("left", Decimal(-3), "listed")


def test_wrong_closing_is_suspected_when_the_plane_fits() -> None:
    found = suspects(heard("0 3 6 3 15"), {"closing": [Alternative(Decimal(0), 0.1)]}, 0.4)[0]
    assert found.place == "closing"


def test_unexplained_mistake_asks_for_a_station_without_a_value() -> None:
    found = suspects(heard("0 3 6 27 0"), {}, 0.4)
    assert found
    assert all(one.better is None or one.why != "unexplained" for one in found)
    assert {one.place for one in found if one.why == "unexplained"} >= set(ROUND)


def test_the_search_is_the_same_every_time() -> None:
    sweep = heard("7 3 -7 3 7")
    assert suspects(sweep, {}, 0.4) == suspects(dict(sweep), {}, 0.4)


def test_reach_and_unsigned_methods_limit_the_search() -> None:
    assert Decimal(50) not in {m.value for m in misheard_as(Decimal(15), reach=Decimal(30))}
    assert all(m.value >= 0 for m in misheard_as(Decimal(5), signed=False))


@pytest.mark.parametrize(
    ("value", "other", "why"),
    [
        ("6", "-6", "sign"),
        ("15", "50", "teen_ty"),
        ("-40", "-14", "teen_ty"),
        ("5", "9", "five_nine"),
        ("19.5", "15.5", "five_nine"),
        ("50", "90", "five_nine"),
        ("3", "3.5", "half"),
        ("-2.5", "-2", "half"),
        ("23", "20", "tens"),
        ("23", "3", "tens"),
        ("3", "23", "tens"),
        ("12", "2", "misread"),
    ],
)
def test_usual_mistakes(value: str, other: str, why: str) -> None:
    kinds = {m.value: m.why for m in misheard_as(Decimal(value))}
    assert kinds[Decimal(other)] == why


def test_a_sweep_that_no_single_reading_explains_still_has_suspects() -> None:
    """Hundreds of standard deviations off: exp(-chi square / 2) is zero in floating point."""
    readings: dict[StationOrClosing, Decimal] = {
        "back": Decimal(30), "right": Decimal("0.5"), "front": Decimal("-28.2"),
        "left": Decimal(1), "closing": Decimal(-5),
    }  # fmt: skip
    expected: dict[StationName, Decimal] = {
        "back": Decimal(0), "right": Decimal(20), "front": Decimal(0), "left": Decimal(-20),
    }  # fmt: skip
    found = suspects(readings, {}, 0.1, expected)
    assert sum(each.probability for each in found) == pytest.approx(1)
    assert {each.place for each in found} == set(readings)


def test_misuse_is_named() -> None:
    with pytest.raises(ValueError, match="sigma"):
        suspects(heard("0 3 6 3"), {}, 0)
    with pytest.raises(ValueError, match="back, right, front and left"):
        suspects({"back": Decimal(0)}, {}, 1)


def test_a_saddle_that_the_table_is_known_to_have_is_no_mistake() -> None:
    """Ten at front and back over right and left; then a sign on top of it, found all the same."""
    bent = heard("0 -8 4 -8 0")
    assert suspects(bent, {}, 0.5)
    assert suspects(bent, {}, 0.5, bent=20.0) == ()
    assert suspects(heard("0 8 4 -8 0"), {}, 0.5, bent=20.0)[0].better == Decimal(-8)
