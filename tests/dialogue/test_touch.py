"""Whole jobs by touch: ranking only, halving between leaves, and what it cannot know."""

import random
from decimal import Decimal
from math import cos, radians

import pytest

from assistant.dialogue.messages import Closed
from assistant.dialogue.procedures import shim, tap, touch
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.lock import Lock
from assistant.dialogue.procedures.shim import Bolt
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.procedures.tap import Tap
from assistant.dialogue.procedures.touch import Touching
from assistant.dialogue.questions import offer_now
from assistant.metrology.stations import OPPOSITE
from assistant.metrology.touching import Round, next_shim
from assistant.simulation.bench import BEARINGS, Bench, draw_machine
from grammar.sentences import sentences
from grammar.vocabulary import STATIONS, Station
from tests.dialogue.typed import READY, TOUCH, TypedJob
from tests.grammar.languages import accepts


def _touching() -> TypedJob:
    job = TypedJob.begin(TOUCH)
    assert touch.FIRST in job.say(*READY)
    return job


def test_a_whole_job_by_touch() -> None:
    job = _touching()
    assert job.say("front") == f"Front. {touch.SECOND}"
    assert job.say("left") == "Left. Back last?"
    said = job.say("yes")
    assert said == f"High at the front, towards the left. {touch.HOW_MUCH} {shim.LOOSEN}"
    assert job.say("done") == "Shim three above the bolt. Fingers clear. Done?"
    said = job.say("done", "locked", "front", "left", "yes")
    assert "Still the front: not enough." in said
    assert job.say("done") == "Six in all above the bolt. Add three. Done?"
    said = job.say("done", "locked", "back", "right", "yes")
    assert "Now the back: too much." in said
    assert job.say("done").startswith("Four and a half in all above the bolt")
    said = job.say("done", "locked", "right", "front", "yes")
    assert "Better. Now the right first." in said
    assert said.endswith("Rod at the right. Hold the table. Slack the lock, keep some drag. Done?")
    assert job.say("done") == tap.tap_a_little("right")
    said = job.say("done", "locked", "skip")
    assert said == f"{touch.EVEN} {touch.NO_PROOF} Finish?"
    job.say("yes")
    assert job.say("done") == "Was high at the front, now all alike."
    assert Closed(finished=True) in job.effects
    assert not job.state.sweeps


@pytest.mark.parametrize("bearing", range(3, 360, 16))
def test_the_order_of_touching_tells_the_eighth_in_which_the_table_is_high(bearing: int) -> None:
    """Heights of a plane about the axis: the rod, lowered, meets them from the highest down."""

    def height(side: Station) -> float:
        return cos(radians(bearing - BEARINGS[side]))

    first, second, _, last = sorted(STATIONS, key=height, reverse=True)
    job = _touching()
    job.say(first, second)
    assert job.said == f"{second.capitalize()}. {last.capitalize()} last?"
    assert f"High at the {first}, towards the {second}." in job.say("yes")
    assert height(first) >= cos(radians(45))


def test_the_same_by_keys_as_the_arrows_stand() -> None:
    job = TypedJob.begin(TOUCH)
    job.press("enter enter enter enter enter 2 4 enter")
    assert job.said.startswith("High at the front, towards the left.")
    job.press("enter enter enter")
    assert job.press("8 6 -").startswith(touch.NO_PLANE)


def test_sides_by_themselves_are_listened_for_and_no_numbers() -> None:
    tree = sentences(offer_now(_touching().state))
    assert all(accepts(tree, side) for side in (*STATIONS, "rear", "skip"))
    assert not accepts(tree, "front plus six")
    job = _touching()
    assert "settle" not in offer_now(TypedJob.at(Lock.LOCK, TOUCH).state).commands
    assert job.say("front plus six").startswith(touch.NO_NUMBERS)
    assert job.state.touch.first is None


def test_sides_do_nothing_elsewhere() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    assert job.say("front") == "Not now: front. Right?"


@pytest.mark.parametrize("lines", [("front", "back"), ("front", "front"), ("front", "left", "no")])
def test_an_order_of_no_plane_is_lowered_again(lines: tuple[str, ...]) -> None:
    job = _touching()
    assert job.say(*lines) == f"{touch.NO_PLANE} {touch.FIRST}"
    assert job.state.touch.rounds == ()


def test_what_comes_second_may_not_be_known() -> None:
    job = _touching()
    said = job.say("left", "skip")
    assert said.startswith(f"High at the left. {touch.HOW_MUCH}")
    assert job.state.phase is Tap.EASE


def test_a_round_and_an_axis_can_be_taken_back_or_left_out() -> None:
    job = _touching()
    job.say("front", "left", "yes")
    assert job.say("disregard") == f"{touch.ROUND_BACK} {touch.FIRST}"
    assert job.state.touch.rounds == ()
    job.say("front", "left", "yes", "skip")
    assert job.say("yes").endswith(
        "Rod at the left. Hold the table. Slack the lock, keep some drag. Done?"
    )
    job.say("skip")
    assert job.say("yes") == f"{touch.NO_PROOF} Finish?"
    assert job.say("no").endswith(shim.LOOSEN)


def test_leaves_are_halved_until_none_lies_between() -> None:
    stock = tuple(map(Decimal, ("2", "4", "6", "8")))

    def rounds(*told: tuple[str, str]) -> list[Round]:
        return [Round(side, None, Decimal(shim)) for side, shim in told]  # type: ignore[arg-type]

    assert next_shim(rounds(("front", "0")), stock, 1, Decimal(2)) == 2
    assert next_shim(rounds(("back", "0")), stock, 1, Decimal(2)) == -2
    assert next_shim(rounds(("front", "0"), ("front", "2")), stock, 1, Decimal(2)) == 4
    assert next_shim(rounds(("front", "2"), ("back", "8")), stock, 1, Decimal(2)) == 4
    assert next_shim(rounds(("front", "4"), ("back", "6")), stock, 1, Decimal(2)) is None
    # The rounds contradict each other: nothing lies between.
    assert next_shim(rounds(("front", "6"), ("back", "4")), stock, 1, Decimal(2)) is None
    assert next_shim(rounds(("right", "0")), stock, 1, Decimal(2)) is None


FEEL = 1.5
"""Counts between the highest and the lowest side that nobody feels (judgement)."""


def _order(bench: Bench) -> list[Station]:
    first = max(STATIONS, key=lambda station: bench.height(BEARINGS[station]))
    beside = [side for side in STATIONS if side not in (first, OPPOSITE[first])]
    beside.sort(key=lambda station: -bench.height(BEARINGS[station]))
    return [first, *beside, OPPOSITE[first]]


def _play(seed: int) -> tuple[Bench, TypedJob]:
    """A person with a fine touch, who works as told and feels no more than the order."""
    bench, job = Bench(draw_machine(seed)), TypedJob.begin(TOUCH)
    chance, flips, tapped = random.Random(seed), 0, ""
    job.say(*READY[:-1])
    for _ in range(200):
        match job.state.phase:
            case Lock.LOCK | Bolt.TIGHTEN | Tap.TAP_LOCK:
                bench.lock_all()
                job.say("locked")
            case Touching.FIRST:
                first, second, _, last = _order(bench)
                alike = bench.height(BEARINGS[first]) - bench.height(BEARINGS[last]) < FEEL
                job.say(*(("skip",) if alike else (first, second, "yes")))
            case Bolt.LOOSEN:
                bench.loosen_bolt()
                job.say("done")
            case Bolt.SHIM:
                job.say("done")
                bench.fit_shim(job.state.shims.total)
            case Tap.EASE:
                bench.ease_lock()
                job.say("done")
            case Tap.TAP:
                side = job.state.plan.step.station if job.state.plan else None
                assert side is not None
                # A little at first, half as much each time that it went too far.
                flips += side != tapped
                tapped = side
                bench.tap(side, -chance.uniform(1.0, 2.0) / 2 ** max(0, flips - 1))
                job.say("done")
            case _:
                break
    return bench, job


def test_machines_are_set_better_by_touch_alone() -> None:
    better = 0
    for seed in range(1, 31):
        found = Bench(draw_machine(seed)).tilt
        bench, job = _play(seed)
        assert job.state.phase is Close.DECIDE, f"seed {seed}"
        better += bench.tilt < found / 2
    assert better >= 27
