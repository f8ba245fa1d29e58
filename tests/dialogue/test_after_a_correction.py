"""What is kept and what is dropped from one state of the table to the next (invented readings)."""

from assistant.dialogue.messages import DeviceLost, Resumed
from assistant.dialogue.procedures.repeat import moved_on
from assistant.dialogue.wording import WRONG_WAY
from tests.dialogue.typed import AT, NEAR_LIMIT, READY, WORN, TypedJob

BACK_HIGH_SIX = ("minus three", "minus six", "minus three", "zero")
BACK_HIGH_FOUR = ("minus two", "minus four", "minus two", "zero")
DRIFTING = ("plus three", "plus six", "plus three", "plus five", "plus five")


def test_a_shim_below_that_was_put_in_as_told_counts_as_below() -> None:
    job = TypedJob.begin()
    said = job.say(*READY, "zeroed", *BACK_HIGH_SIX, "done")
    assert "below the bolt" in said
    said = job.say("done", "locked", "zeroed", *BACK_HIGH_FOUR)
    # A third of it is gone by a third of the shim: three times that, on the same side.
    assert WRONG_WAY not in said
    assert job.say("done").startswith("Four and a half in all below the bolt")


def test_who_wanted_no_second_sweep_is_asked_again_once_the_table_was_moved() -> None:
    job = TypedJob.begin(WORN)
    assert job.say(*READY, "zeroed", *NEAR_LIMIT, "skip").endswith("every spot an inch clockwise?")
    job.say("no")
    assert job.state.again.declined
    assert moved_on(job.state.again, moved=False).declined
    assert not moved_on(job.state.again, moved=True).declined


def test_one_drift_now_and_one_later_is_no_drifting_on() -> None:
    job = TypedJob.begin()
    job.say(*READY, "zeroed", *DRIFTING, "zeroed", *BACK_HIGH_SIX)
    job.say("done", "done", "locked", "zeroed")
    said = job.say(*DRIFTING)
    assert "Back moved five." in said
    assert "play" not in said
    # Twice running is.
    assert "play" in job.say("zeroed", *DRIFTING)


def test_a_device_that_is_still_lost_after_a_restart_is_said_to_be() -> None:
    job = TypedJob.begin()
    lost = DeviceLost(AT, "microphone", "unplugged")
    told = job.post(lost)
    assert told
    assert job.post(lost) == ""
    job.post(Resumed(AT))
    assert job.post(lost) == told
