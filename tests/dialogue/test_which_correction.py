"""Which correction comes first when the table is off both ways (invented readings)."""

from dataclasses import replace
from decimal import Decimal

from assistant.dialogue.facts import TapDone, Taps
from assistant.dialogue.messages import Step
from assistant.dialogue.planner import MOST_IN_A_JOB, MOST_TO_PROVE, advise
from assistant.dialogue.procedures import tap
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.repeat import Repeat
from assistant.dialogue.procedures.shim import Bolt
from assistant.dialogue.procedures.tap import Tap
from assistant.dialogue.state import Plan
from grammar.scale import Scale
from tests.dialogue.typed import READY, RIGHT_HIGH_SIX, USUAL, TypedJob

FINE = replace(
    USUAL,
    surface=tuple(Decimal(n) / 10 for n in (0, 1, 0, -1, 0, 1, 0, 0)),
    scale=Scale("thou", 30, Decimal("0.1")),
    reading_sd=Decimal("0.1"),
    relock_sd=Decimal("0.1"),
)
BOTH_A_LITTLE = ("plus two point eight", "plus three point two", "plus point four", "zero")
"""Front minus back 3.2 and right minus left 2.4, together four: levelling either is enough."""
NEARLY = ("minus two point eight",)
FRONT_MOST = ("plus five point two", "plus eight", "plus two point eight", "zero")
"""Front minus back 8 and right minus left 2.4."""


def test_a_shim_whose_response_is_only_guessed_waits_where_a_tap_is_enough() -> None:
    job = TypedJob.begin(FINE)
    # A leaf of the usual response would leave less than the tap does, but who knows.
    job.say(*READY, "zeroed", *BOTH_A_LITTLE)
    assert job.state.phase is Tap.EASE


def test_once_a_trial_has_shown_the_response_the_shim_that_leaves_less_is_advised() -> None:
    job = TypedJob.begin(FINE)
    job.say(*READY, "zeroed", *FRONT_MOST, "done", "shim two above", "locked", "zeroed")
    job.say(*BOTH_A_LITTLE)
    assert job.state.phase is Bolt.LOOSEN


def test_the_larger_axis_goes_first_where_neither_is_enough_alone() -> None:
    job = TypedJob.begin(FINE)
    job.say(*READY, "zeroed", *FRONT_MOST)
    assert job.state.phase is Bolt.LOOSEN
    job = TypedJob.begin(FINE)
    job.say(*READY, "zeroed", "plus five point two", "plus two point four", *NEARLY, "zero")
    assert job.state.phase is Tap.EASE


def test_a_sweep_after_a_tap_that_is_reopened_still_tells_what_the_tap_did() -> None:
    job = TypedJob.at(Tap.TAP)
    job.say("right zero", "locked", "zeroed", "plus one", "zero", "minus one", "zero")
    taught = job.state.taps.done
    assert len(taught) == 1
    job.say("disregard", "zero")
    assert job.state.taps.done == taught


def test_a_tap_that_nobody_read_teaches_nothing() -> None:
    job = TypedJob.at(Tap.TAP)
    job.say("right zero", "locked", "zeroed", "plus three", "zero", "minus three", "zero")
    assert job.state.phase is Tap.EASE
    job.say("done", "done", "locked", "zeroed", "plus one", "zero", "minus one", "zero")
    assert [done.after for done in job.state.taps.done] == [6]


def test_a_repeat_says_nothing_new_of_a_tap_that_another_correction_followed() -> None:
    job = TypedJob.at(Close.DECIDE)
    left = job.state.as_left
    assert left is not None
    long_ago = Taps(done=(TapDone(Decimal(1), 5.0, left.right_minus_left + 2),))
    tapped = replace(job.state, taps=long_ago)
    assert tap.CORRECTION.learn_again(tapped, left, left).taps == long_ago
    just_now = Taps(done=(TapDone(Decimal(1), 5.0, left.right_minus_left),))
    better = replace(left, right_minus_left=0.5)
    again = tap.CORRECTION.learn_again(replace(job.state, taps=just_now), left, better)
    assert [done.after for done in again.taps.done] == [0.5]


def test_a_long_job_does_not_end_on_a_correction_that_made_it_worse() -> None:
    job = TypedJob.begin()
    job.say(*READY, "zeroed", *RIGHT_HIGH_SIX, "plus three", "done", "zero", "zero", "zeroed")
    job.say("plus six", "zero", "minus six", "zero")
    first, last = job.state.sweeps
    entered = {}
    for count in (MOST_IN_A_JOB - 1, MOST_IN_A_JOB, MOST_IN_A_JOB + 1):
        for name, found in (("worse", first), ("as found", last)):
            long = replace(job.state, sweeps=(*[found] * (count - 1), last), plan=None)
            entered[name, count] = advise(long, "").enter
    assert entered["worse", MOST_IN_A_JOB] is Tap.EASE
    assert entered["worse", MOST_IN_A_JOB + 1] is Close.DECIDE
    assert entered["as found", MOST_IN_A_JOB - 1] is Tap.EASE
    assert entered["as found", MOST_IN_A_JOB] is Close.DECIDE


def test_a_long_job_may_still_prove_how_its_last_correction_left_the_table() -> None:
    job = TypedJob.at(Repeat.AGAIN)
    tapped = Plan("tap", Step("tap"), 0.0, 0.0, Decimal(0))
    last = job.state.sweeps[-1]
    last = replace(last, before=replace(last.before, plan=tapped))
    for count, enters in (
        (MOST_IN_A_JOB, Repeat.AGAIN),
        (MOST_TO_PROVE - 1, Repeat.AGAIN),
        (MOST_TO_PROVE, Close.DECIDE),
    ):
        assert advise(replace(job.state, sweeps=(last,) * count), "").enter is enters
