"""What is wrong is told by its name while it goes wrong (invented readings)."""

from dataclasses import replace

import pytest

from assistant.dialogue.facts import Causes
from assistant.dialogue.job import MOST_TIGHTENED
from assistant.dialogue.machine import Profile
from assistant.dialogue.missed import ENDS_BEFORE, SIDES_BEFORE, told_loose
from assistant.dialogue.procedures.repeat import Repeat
from assistant.dialogue.procedures.shim import SEIZED_FRONT
from assistant.dialogue.procedures.tap import Tap
from assistant.dialogue.returns import DIAL_DRIFTS, LOOSE_SOMEWHERE, SLIPPED
from assistant.dialogue.state import FRONT_BACK
from assistant.dialogue.wording import NO_RESPONSE, WRONG_WAY
from tests.dialogue.typed import NEAR_LIMIT, READY, WORN, TypedJob

BACK_HIGH = ("minus three", "minus six", "minus three", "zero")
RIGHT_HIGH = ("plus five", "zero", "minus five", "zero")


def test_one_sweep_that_did_not_come_back_and_one_that_did_are_a_slip() -> None:
    job = TypedJob.begin()
    off = ("minus three", "minus six", "minus three", "plus seven", "plus seven")
    assert SLIPPED not in job.say(*READY, "zeroed", *off)
    said = job.say("zeroed", *BACK_HIGH)
    assert SLIPPED in said
    assert SLIPPED not in job.say("done", "done", "locked", "zeroed", *BACK_HIGH)


@pytest.mark.parametrize(
    ("again", "told"), [("plus six", DIAL_DRIFTS), ("minus six", LOOSE_SOMEWHERE)]
)
def test_one_that_comes_back_off_once_more_is_a_drift_or_something_loose(
    again: str, told: str
) -> None:
    job = TypedJob.begin()
    job.say(*READY, "zeroed", "minus three", "minus six", "minus three", "plus seven", "plus seven")
    job.say("zeroed", "minus three", "minus six", "minus three", again, again)
    said = job.say("zeroed", "minus three", "minus six", "minus three", again, again)
    assert told in said


def _swept(job: TypedJob, readings: tuple[str, ...]) -> str:
    return job.say("zeroed", *readings)


UP = ("minus five and a half", "minus eleven", "minus five", "plus one and a half")
DOWN = ("minus six and a half", "minus thirteen", "minus seven", "minus one and a half")
BY_ONE = ("minus five and a half", "minus eleven and a half", "minus five", "plus one")
A_LITTLE = ("minus six", "minus twelve", "minus six", "plus half")
STAYS = ("minus six", "minus twelve", "minus six", "zero")
"""Twelve high at the back, over a dial that creeps by one and a half, or that need not warm up."""


@pytest.mark.parametrize(
    ("first", "then", "told"),
    [
        (UP, UP, DIAL_DRIFTS),
        (DOWN, DOWN, DIAL_DRIFTS),
        (UP, DOWN, LOOSE_SOMEWHERE),
        (UP, STAYS, ""),
        (STAYS, DOWN, ""),
        (A_LITTLE, A_LITTLE, ""),
    ],
)
def test_two_sweeps_that_did_not_come_back_tell_why(
    first: tuple[str, ...], then: tuple[str, ...], told: str
) -> None:
    job = TypedJob.begin(WORN)
    job.say(*READY)
    one = _swept(job, first)
    job.say("done", "done", "locked")
    two = _swept(job, then)
    for each in (DIAL_DRIFTS, LOOSE_SOMEWHERE, SLIPPED):
        assert each not in one
        assert (each in two) == (each == told)


def test_a_drift_that_clearly_shows_and_hardly_matters_is_not_told() -> None:
    job = TypedJob.begin()
    job.say(*READY)
    for readings in (BY_ONE, BY_ONE, BY_ONE):
        assert DIAL_DRIFTS not in _swept(job, readings)
        job.say("done", "done", "locked")


def test_an_axis_that_nobody_touched_and_that_moved_is_something_loose() -> None:
    job = TypedJob.begin()
    job.say(*READY, "zeroed", *BACK_HIGH, "done", "done", "locked", "zeroed")
    assert LOOSE_SOMEWHERE in job.say("plus two", "minus four", "minus six", "zero")
    job = TypedJob.begin()
    job.say(*READY, "zeroed", *BACK_HIGH, "done", "done", "locked", "zeroed")
    assert LOOSE_SOMEWHERE not in job.say("minus one", "minus four", "minus two", "zero")


def test_a_tap_that_doubles_what_it_was_to_take_off_followed_sides_that_changed_places() -> None:
    """Left and right were called one for the other: it was tapped the wrong way, by as much."""
    job = TypedJob.begin()
    job.say(*READY, "zeroed", *RIGHT_HIGH, "done", "right zero", "locked", "zeroed")
    said = job.say("minus ten", "zero", "plus ten", "zero")
    assert SIDES_BEFORE in said
    assert job.state.taps.done == ()
    assert job.state.taps.did_nothing == 0
    assert LOOSE_SOMEWHERE not in said
    # Had it gone as it should have, or nowhere, nothing was exchanged.
    for readings in (("zero",) * 4, RIGHT_HIGH):
        job = TypedJob.begin()
        job.say(*READY, "zeroed", *RIGHT_HIGH, "done", "right zero", "locked", "zeroed")
        assert SIDES_BEFORE not in job.say(*readings)


def test_what_doubles_once_more_is_not_blamed_on_sides_again() -> None:
    """Told again and again, it would be tapped twice as far each time, to the end of the dial."""
    job = TypedJob.begin()
    job.say(*READY, "zeroed", *RIGHT_HIGH, "done", "right zero", "locked", "zeroed")
    assert SIDES_BEFORE in job.say("minus ten", "zero", "plus ten", "zero")
    job.say("right minus ten", "done", "right zero", "locked", "zeroed")
    said = job.say("plus twenty", "zero", "minus twenty", "zero")
    assert SIDES_BEFORE not in said
    assert LOOSE_SOMEWHERE in said
    # It is remembered over a clamp that is told to be loose, too.
    assert told_loose(job.state).causes.before


def test_the_same_front_to_back_once_the_response_is_known() -> None:
    job = TypedJob.begin()
    job.say(*READY, "zeroed", *BACK_HIGH, "done", "shim one below", "locked", "zeroed")
    job.say("minus two", "minus four", "minus two", "zero")
    said = job.say("done", "shim three below", "locked", "zeroed", "plus four", "plus eight",
                   "plus four", "zero")  # fmt: skip
    assert ENDS_BEFORE in said
    assert len(job.state.shims.trials) == 1


def test_a_shim_that_stands_elsewhere_once_tightened_again_was_loose_and_begins_anew() -> None:
    job = TypedJob.begin()
    job.say(*READY, "zeroed", *BACK_HIGH, "done", "done", "locked", "zeroed")
    said = job.say("minus five", "minus ten", "minus five", "zero")
    assert WRONG_WAY in said
    job.say("done", "done", "locked", "zeroed")
    said = job.say("minus three and a half", "minus seven", "minus three and a half", "zero")
    assert LOOSE_SOMEWHERE in said
    assert FRONT_BACK not in job.state.axis_left_out
    assert job.state.shims.did_nothing == 0
    assert job.state.shims.trials == ()
    # Where it stands as it stood it is no looseness: nothing moves it.
    job = TypedJob.begin()
    job.say(*READY, "zeroed", *BACK_HIGH, "done", "done", "locked", "zeroed", *BACK_HIGH)
    assert SEIZED_FRONT in job.say("locked", "zeroed", *BACK_HIGH)


@pytest.mark.parametrize(
    ("high", "half", "shim", "told"),
    [("twelve", "six", "four above", True), ("six", "three", "one above", False)],
)
def test_a_thin_shim_is_not_said_to_have_done_nothing_where_it_could_not_show(
    high: str, half: str, shim: str, told: bool
) -> None:
    job = TypedJob.begin(Profile())
    readings = (f"plus {half}", f"plus {high}", f"plus {half}", "zero")
    job.say(*READY, "zeroed", *readings, "done", f"shim {shim}", "locked", "zeroed")
    assert (NO_RESPONSE in job.say(*readings)) == told


def test_what_a_tap_misses_by_is_mostly_the_pivots_where_much_was_asked() -> None:
    """Of a miss locking takes a part by the variances: a thou, or a quarter of what was asked."""
    pulls = []
    for high in ("ten", "two"):
        job = TypedJob.begin()
        half = {"ten": "five", "two": "one"}[high]
        job.say(*READY, "zeroed", f"plus {high}", "zero", f"minus {high}", "zero", "done")
        job.say("right zero", "locked", "zeroed")
        job.say(f"minus {half}", "zero", f"plus {half}", "zero")
        done = job.state.taps
        assert len(done.done) == 1
        miss = {"ten": -10.0, "two": -2.0}[high]
        pulls.append(done.pull / (miss / 2))
    much, little = pulls
    assert 0 < much < 0.1
    assert 0.3 < little < 0.8


def test_a_tap_at_a_loose_table_teaches_nothing() -> None:
    job = TypedJob.begin()
    job.say(*READY, "zeroed", *RIGHT_HIGH, "done", "right zero", "locked", "zeroed")
    said = job.say("minus four", "minus sixteen", "minus twelve", "zero")
    assert LOOSE_SOMEWHERE in said
    assert job.state.taps.done == ()
    assert job.state.taps.pull == 0


def test_a_dial_that_drifts_on_between_the_stations_is_told() -> None:
    job = TypedJob.begin(WORN)
    said = job.say(*READY, "zeroed", *NEAR_LIMIT)
    assert said.endswith("Back right?")
    for words in ("plus four", "plus six", "plus six", "plus five"):
        assert DIAL_DRIFTS not in job.say(words)
    assert DIAL_DRIFTS in job.say("plus six and a half")


def test_after_a_correction_the_spots_are_the_first_ones_again() -> None:
    job = TypedJob.at(Repeat.REFIT)
    assert job.state.further == 1
    job.say("skip")
    assert job.state.further == 2
    plan = TypedJob.at(Tap.TAP).state.plan
    assert plan is not None
    moved = replace(job.state, plan=plan)
    assert moved.further == 0
    last = job.state.sweeps[-1]
    assert job.state.further_of(last) == 1
    after = replace(last, before=replace(last.before, plan=plan))
    assert job.state.further_of(after) == 0


def test_what_was_told_to_be_loose_begins_anew_and_is_not_swept_for_without_end() -> None:
    job = TypedJob.begin()
    job.say(*READY, "zeroed", *BACK_HIGH, "done", "done", "locked", "zeroed")
    doubted = replace(
        job.state,
        shims=replace(job.state.shims, did_nothing=1),
        taps=replace(job.state.taps, did_nothing=1, pulls=(2.0,), pull=1.0),
    )
    told = told_loose(doubted)
    assert (told.shims.did_nothing, told.taps.did_nothing, told.taps.pull) == (0, 0, 0)
    assert told.causes == Causes(loose=1)
    # Told often enough it is gone on with.
    elsewhere = ("plus two", "minus four", "minus six", "zero")
    for times, usable in ((0, False), (MOST_TIGHTENED, True)):
        job.state = replace(job.state, causes=Causes(loose=times))
        again = TypedJob(job.state, job.effects, [*job.events])
        assert LOOSE_SOMEWHERE in again.say(*elsewhere)
        assert again.state.sweeps[-1].usable == usable
