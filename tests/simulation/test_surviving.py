"""The count of wrong readings that survive a sweep, on calls whose hearing is made up."""

import random
from decimal import Decimal

import pytest
from scipy import stats

from assistant.devices.ears.hearing import Utterance
from assistant.dialogue.messages import Decision
from grammar.meaning import Hypothesis, Reading
from grammar.vocabulary import Station
from tests.benchmarks.surviving_benchmark import Call, Pool, interval, played, table


def heard(value: str, outcome: Decision = "accept", *others: str) -> Utterance:
    meanings = [Reading(Decimal(text), True) for text in (value, *others)]
    rivals = tuple(Hypothesis("", other, 0.1) for other in meanings[1:])
    return Utterance(0.0, 1.0, outcome, "", meanings[0], 0.99, 0.1, rivals, 20.0)


def call(value: str, *hearings: tuple[Utterance, ...], station: Station | None = None) -> Call:
    return Call(Reading(Decimal(value), True, station), hearings or ((heard(value),),))


GOOD = [call(str(value)) for value in range(-8, 9)]


def test_what_is_heard_right_survives_right() -> None:
    tally = played(GOOD, 20, seed=3)
    assert (tally.sweeps, tally.accepted, tally.spoilt, tally.calls) == (20, 20, 0, 80)


def test_one_that_is_missed_or_asked_is_said_again() -> None:
    shy = [
        call(str(value), (), (heard(str(value), "reject"),), (heard(str(value), "ask"),))
        for value in range(-4, 5)
    ]
    tally = played([*shy, *GOOD], 20, seed=3)
    assert tally.accepted == 20
    assert tally.spoilt == 0
    assert tally.again > 0
    assert tally.calls > 80


def test_a_large_mistake_is_caught_by_the_plane_and_a_small_one_is_not() -> None:
    """Ten for two is eight off the plane; half a thou is within the roughness of a table."""
    far = [call("2", (heard("2"),), (heard("10"),), (heard("2"),), (heard("2"),))]
    others = [one for one in GOOD if one.meaning.value != 2]
    caught = played([*others, *far], 100, seed=1)
    near = [call("2", (heard("2.5"),))]
    slipped = played([*others, *near], 100, seed=1)
    assert far[0].misheard() == near[0].misheard() == 1
    assert caught.spoilt / caught.accepted < 0.03
    assert slipped.spoilt / slipped.accepted > 0.08


def test_every_sweep_is_nearly_a_plane_of_what_can_be_called() -> None:
    pool = Pool(GOOD)
    for seed in range(50):
        truth = pool.truth(random.Random(seed))
        assert truth["back"] == 0
        assert abs(truth["front"] - truth["right"] - truth["left"]) <= Decimal("0.5")


def test_too_few_calls_are_an_error_with_a_reason() -> None:
    with pytest.raises(ValueError, match="too few"):
        played([call("3", station="left")], 1, seed=0)


@pytest.mark.parametrize(("count", "of"), [(0, 50), (3, 1000), (20, 40), (40, 40)])
def test_the_interval_is_wilsons(count: int, of: int) -> None:
    """Against scipy.stats.binomtest(...).proportion_ci(method="wilson")."""
    theirs = stats.binomtest(count, of).proportion_ci(method="wilson")
    assert interval(count, of) == pytest.approx((theirs.low, theirs.high), abs=1e-6)


def test_the_table_gives_counts_share_and_interval() -> None:
    text = table(GOOD, played(GOOD, 10, seed=3), [0.0, 0.001])
    assert "17 clips heard 17 times, fan 20 dB: 0 accepted wrong" in text
    assert "0.00 in 1,000 (95 % interval 0.00 to 277" in text
    assert "up to 1.00 in 1,000" in text
