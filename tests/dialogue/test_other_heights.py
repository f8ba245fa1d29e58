"""The same table at another height: compared, kept apart, and nothing set by it."""

from math import cos, sin

import pytest

from assistant.dialogue.planner import TRIAL_SHIM
from assistant.dialogue.procedures import close, heights, lock, shim
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.heights import Heights, places_of, survey_of
from assistant.dialogue.procedures.shim import Bolt
from assistant.dialogue.procedures.sweep import Sweeping
from tests.dialogue.typed import (
    FRONT_HIGH_SIX,
    LEVEL,
    NEAR_LIMIT,
    NEAR_LIMIT_ON,
    READY,
    WORN,
    TypedJob,
)


def _elsewhere(*readings: str) -> TypedJob:
    job = TypedJob.at(Heights.MOVE_TABLE)
    job.say("locked", "zeroed", *readings)
    return job


def test_a_place_that_stands_otherwise_is_said_with_what_one_setting_can_do() -> None:
    # Derived: 0 here and 6 there, one setting for both leaves three at either.
    job = _elsewhere(*FRONT_HIGH_SIX)
    assert job.said == (
        "Back zero. Front high six. Side to side too small to read. "
        "Not the same as at the first. Best for all leaves three. Check another height or swing?"
    )
    together = survey_of(job.state)
    assert together is not None
    assert together.worst == "place 2"
    assert together.shift == pytest.approx((-3.0, 0.0))


def test_a_place_that_is_the_same_is_said_so() -> None:
    job = _elsewhere("plus half", *LEVEL[1:])
    assert heights.SAME_HERE in job.said
    assert job.result is not None


def test_as_found_and_as_left_stay_those_of_the_first_place() -> None:
    job = _elsewhere(*FRONT_HIGH_SIX)
    found, left = job.state.as_found, job.state.as_left
    assert found is left is not None
    assert left.front_minus_back == 0
    assert [sweep.place for sweep in job.state.sweeps] == ["", "place 2"]
    assert job.say("no") == close.FINISH_QUESTION
    job.say("yes")
    assert job.say("done").startswith("Was too small to read, and still is.")


def test_several_places_are_numbered_and_taken_together() -> None:
    job = _elsewhere(*FRONT_HIGH_SIX)
    job.say("yes", "locked", "zeroed", "plus one", "plus two", "plus one", "zero")
    assert [sweep.place for sweep in places_of(job.state)] == ["place 2", "place 3"]
    assert job.state.phase is Heights.OTHER


def test_nothing_is_set_from_another_place() -> None:
    job = _elsewhere(*FRONT_HIGH_SIX)
    job.say("no")
    said = job.say("no")
    assert said == f"{heights.MOVED_SINCE} {lock.LOCK}"
    job.say("locked", "zeroed", *LEVEL)
    assert [sweep.place for sweep in job.state.sweeps] == ["", "place 2", ""]
    # It lies differently there: no repeat of the first sweep, though it is the same place.
    assert len(job.state.same_table) == 1
    assert job.state.found is job.state.sweeps[0]
    assert job.state.phase is Close.DECIDE


def test_the_last_reading_there_can_be_taken_back() -> None:
    job = _elsewhere(*FRONT_HIGH_SIX)
    assert job.say("disregard") == "Back taken back. Back again?"
    assert job.state.heights.under_way
    job.say("zero")
    assert [sweep.place for sweep in job.state.sweeps] == ["", "place 2"]
    assert job.state.phase is Heights.OTHER


def test_one_can_turn_back_before_the_sweep_there() -> None:
    job = TypedJob.at(Heights.MOVE_TABLE)
    job.say("locked")
    assert job.say("disregard") == heights.MOVE_TABLE
    assert not job.state.heights.under_way
    assert job.say("disregard") == heights.OTHER


def test_a_sweep_there_that_drifts_counts_at_no_place() -> None:
    job = _elsewhere("zero", "zero", "zero", "plus six")
    while job.state.phase is Sweeping.SWEEP:
        job.say("plus six" if job.state.awaited == "back" else "zero")
    assert job.state.sweeps[-1].refused == "drift"
    assert places_of(job.state) == ()
    assert job.state.phase is Sweeping.ZERO
    job.say("zeroed", *LEVEL)
    assert [sweep.place for sweep in places_of(job.state)] == ["place 2"]


def test_what_is_still_to_be_corrected_comes_before_other_heights() -> None:
    job = TypedJob.at(Bolt.LOOSEN)
    job.say("skip", "yes")
    assert job.say("no") == f"{TRIAL_SHIM} {shim.LOOSEN}"


def test_other_heights_by_keypad_alone() -> None:
    job = TypedJob.at(Close.DECIDE)
    reached = []
    for keys in ("-", "enter", "enter", "enter", "0 enter 0 enter 0 enter 0 enter", "-"):
        job.press(keys)
        reached.append(job.state.phase)
    assert reached == [
        Heights.OTHER, Heights.MOVE_TABLE, Sweeping.ZERO, Sweeping.SWEEP,
        Heights.OTHER, Close.DECIDE,
    ]  # fmt: skip


def test_back_from_another_place_the_table_lies_anew() -> None:
    job = _elsewhere(*LEVEL)
    job.say("no", "no", "locked", "zeroed")
    # With the level sweep of before the table was moved it would be three.
    assert "Front high six." in job.say(*FRONT_HIGH_SIX)


def test_back_from_another_place_a_refused_sweep_in_between_changes_nothing() -> None:
    job = _elsewhere(*LEVEL)
    job.say("no", "no", "locked", "zeroed")
    # The first sweep back here is refused: the dial did not come back to its zero.
    said = job.say(*FRONT_HIGH_SIX[:3], "plus five", "plus five")
    assert said.startswith("Back now plus five. Back moved five.")
    said = job.say("zeroed", *FRONT_HIGH_SIX)
    # With the level sweep of before the table was moved it would be three.
    assert "Front high six." in said
    assert job.result is not None
    assert job.result.answer.front_minus_back == pytest.approx(6)


def test_a_refused_sweep_between_two_good_ones_is_not_pooled_with_them() -> None:
    job = TypedJob.begin(WORN)
    job.say(*READY, "zeroed", *NEAR_LIMIT, "skip", "yes", "zeroed")
    job.say("plus nine", "plus eighteen", "plus nine", "plus nine", "plus nine")
    job.say("zeroed", *NEAR_LIMIT_ON)
    assert job.result is not None
    # Front three; then two and a half and right one higher, 11.5 degrees further round.
    assert job.result.answer.front_minus_back == pytest.approx(
        (3 + 2.5 * cos(0.2) + sin(0.2)) / 2, abs=0.05
    )
    assert job.result.sweep == 3
