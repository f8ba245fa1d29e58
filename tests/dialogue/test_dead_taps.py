"""Taps that do nothing are asked about, and given up by name (invented readings)."""

from assistant.dialogue.procedures.tap import SEIZED_SIDES, TAP_DID_NOTHING, Tap
from assistant.dialogue.state import SIDES
from tests.dialogue.typed import READY, TypedJob

RIGHT_HIGH = ("plus five", "zero", "minus five", "zero")


def _tapping() -> TypedJob:
    job = TypedJob.begin()
    job.say(*READY, "zeroed", *RIGHT_HIGH)
    assert "Tap right down" in job.say("done")
    return job


def test_a_table_that_taps_do_not_move_is_asked_about_and_then_left() -> None:
    job = _tapping()
    told = [job.say("plus five and a half") for _ in range(6)]
    assert [TAP_DID_NOTHING in said for said in told] == [False, False, True, False, False, False]
    assert "more down" in told[3]
    assert SEIZED_SIDES in told[5]
    assert job.state.phase is Tap.TAP_LOCK
    assert SIDES in job.state.axis_left_out
    said = job.say("locked", "zeroed", *RIGHT_HIGH)
    # Said once is enough, and nobody is sent to tap there again.
    assert TAP_DID_NOTHING not in said
    assert "Slack the lock" not in said


def test_a_drifting_dial_does_not_hide_that_nothing_moves() -> None:
    job = _tapping()
    crept = ("plus five", "plus five and a half", "plus six", "plus six", "plus six and a half")
    told = [job.say(words) for words in (*crept, "plus seven")]
    assert SEIZED_SIDES in told[-1]


def test_whoever_taps_gently_is_not_told_that_it_is_seized() -> None:
    job = _tapping()
    gentle = ("five", "four and a half", "three and a half", "three", "two and a half", "two",
              "one and a half", "one", "half")  # fmt: skip
    told = " ".join(job.say(f"plus {words}") for words in gentle)
    assert TAP_DID_NOTHING not in told
    assert SEIZED_SIDES not in told
    # The next tapping counts from the beginning.
    job.say("zero", "locked", "zeroed", *RIGHT_HIGH, "done")
    assert (job.state.taps.stood, job.state.taps.still) == (None, 0)
