"""Nothing is read while something is loose, and no question of safety is stepped over."""

import random
from decimal import Decimal

import pytest

from assistant.dialogue import pending
from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Closed, NewJob, Resumed
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures import retighten
from assistant.dialogue.procedures.lock import Lock
from assistant.dialogue.procedures.packing import Feet
from assistant.dialogue.procedures.pin import Pin
from assistant.dialogue.procedures.retighten import Retighten
from assistant.dialogue.procedures.shim import Bolt
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.procedures.tap import Tap
from assistant.dialogue.questions import offer_now
from assistant.records.machines.presets import LAYOUTS, preset
from tests.dialogue.hands import Hands
from tests.dialogue.typed import AT, FRONT_HIGH_SIX, READY, RIGHT_HIGH_SIX, TypedJob


def _loosened() -> TypedJob:
    job = TypedJob.begin()
    job.say(*READY, "zeroed", *FRONT_HIGH_SIX)
    assert job.state.phase is Bolt.LOOSEN
    job.say("done")
    return job


def test_with_the_bolt_still_tight_the_last_reading_is_taken_back() -> None:
    job = TypedJob.begin()
    job.say(*READY, "zeroed", *FRONT_HIGH_SIX)
    assert job.say("disregard").startswith("Back taken back.")
    assert job.state.phase is Sweeping.SWEEP


def test_a_bolt_that_is_loose_is_tightened_before_anything_is_read() -> None:
    job = _loosened()
    found = job.state.sweeps
    job.say("disregard")
    assert job.state.phase == "loosen"
    assert job.say("disregard") == retighten.SHIM_BACK
    assert job.state.phase == "tighten again"
    job.say("plus one")
    assert job.state.readings == ()
    assert job.state.sweeps == found
    assert "Dial to zero at the back." in job.say("locked")
    assert not job.state.loosened


def test_the_sweep_that_follows_is_a_new_one_and_teaches_no_response() -> None:
    job = _loosened()
    job.say("shim three above", "disregard", "disregard", "disregard", "locked", "zeroed")
    job.say("plus two", "plus four", "plus two", "zero")
    first, second = job.state.sweeps
    assert first.answer.front_minus_back == 6
    assert second.answer.front_minus_back == pytest.approx(4)
    assert job.state.shims.trials == ()
    assert job.state.shims.total == 0
    found = job.state.as_found
    assert found is not None
    assert found.front_minus_back == 6


def test_a_table_that_was_slackened_for_tapping_is_locked_before_a_reading_is_taken_back() -> None:
    job = TypedJob.begin()
    job.say(*READY, "zeroed", *RIGHT_HIGH_SIX, "done")
    assert job.state.phase is Tap.TAP
    job.say("disregard")
    assert job.say("disregard") == retighten.RETIGHTEN


def test_skipping_a_correction_with_the_bolt_loose_tightens_it_first() -> None:
    job = _loosened()
    job.say("disregard", "skip", "yes")
    assert job.state.phase is Retighten.RETIGHTEN
    assert job.state.axis_left_out


def test_whoever_stops_with_the_table_loose_is_told_to_hold_it_then_and_later() -> None:
    job = _loosened()
    assert pending.LOOSE in job.say("stop", "yes")
    assert Closed(finished=False) in job.effects
    job.post(Resumed(AT))
    assert pending.LOOSE in job.say("yes", "yes")


def test_a_sweep_that_was_broken_off_goes_on_only_if_nothing_was_touched() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    job.say("plus three")
    job.post(Resumed(AT))
    assert job.say("yes", "yes") == pending.UNTOUCHED
    assert job.say("no").startswith(pending.NEW_SWEEP)
    assert job.state.phase is Lock.LOCK
    assert job.state.readings == ()


def test_stop_answered_by_no_brings_the_question_of_a_restart_back() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    job.say("plus three")
    job.post(Resumed(AT))
    asked = job.said
    assert job.say("stop") == pending.ASK_STOP
    assert job.say("no") == asked
    assert job.say("yes") == pending.STILL_UNPLUGGED
    assert job.say("stop", "disregard") == pending.STILL_UNPLUGGED
    job.say("yes")
    assert job.said == pending.UNTOUCHED


def test_stop_answered_by_no_brings_the_question_of_a_sign_back() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    asked = job.say("five")
    assert job.say("stop", "no") == asked
    assert job.say("minus").startswith("Right minus five.")


def test_an_old_job_is_not_closed_by_a_no() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    job.post(Resumed(AT, "Tuesday"))
    job.say("no")
    assert NewJob() in job.effects
    assert not any(isinstance(effect, Closed) for effect in job.effects)


LINES = (
    "yes", "no", "done", "locked", "zeroed", "disregard", "skip", "next", "stop", "plus three",
    "plus six", "zero", "minus four", "shim two above", "finish", "done", "locked", "disregard",
)  # fmt: skip


@pytest.mark.parametrize("layout", [layout.name for layout in LAYOUTS])
@pytest.mark.parametrize("seed", range(12))
def test_random_lines_never_read_a_loose_table_or_step_over_safety(layout: str, seed: int) -> None:
    chance = random.Random(f"{layout} {seed}")
    profile = preset(layout, "inch") or Profile()
    job, hands = TypedJob.begin(profile), Hands()
    visited: set[Phase] = set()
    for _ in range(160):
        before = job.state
        row_first = [line for line in ("yes", "locked", "zeroed", "done") if _offered(job, line)]
        if job.state.stopped or chance.random() < 0.06:
            job.post(Resumed(AT))
        elif row_first and chance.random() < 0.6:
            job.say(row_first[0])
        else:
            job.say(chance.choice(LINES))
        hands.follow(before, job.events[-1], job.state)
        visited.add(job.state.phase)
        if job.state.phase == "closed":
            break
    assert len(visited) > 1


def _offered(job: TypedJob, line: str) -> bool:
    return line in offer_now(job.state).commands


def _under(job: TypedJob) -> tuple[Decimal, Decimal]:
    return job.state.packing.under_back, job.state.packing.under_left


def _retightens(job: TypedJob) -> bool:
    return job.state.phase is Retighten.RETIGHTEN


NONE = (Decimal(0), Decimal(0))


def test_a_shim_under_a_base_that_is_given_up_counts_as_it_was_before() -> None:
    job = TypedJob.at(Feet.BOLT_DOWN)
    assert _under(job) != NONE
    assert job.say("disregard", "disregard", "disregard") == retighten.SHIM_BACK
    assert _under(job) == NONE
    # What is in by another correction stays in.
    job = TypedJob.at(Feet.BOLT_DOWN)
    job.say("locked", "zeroed", *RIGHT_HIGH_SIX)
    kept = _under(job)
    assert kept != NONE
    job.say("done", "shim nine", "disregard", "disregard", "disregard")
    assert _retightens(job)
    assert _under(job) == kept
    # Nor is it taken for a shim below a bolt, of which there is none here.
    assert job.state.shims.total == 0


def test_a_pin_that_is_out_stays_out_and_the_table_is_locked_before_a_reading() -> None:
    job = TypedJob.at(Pin.PIN)
    job.say("done", "disregard")
    assert _retightens(job)
    sweeps = job.state.sweeps
    job.say("plus one")
    assert (job.state.readings, job.state.sweeps) == ((), sweeps)
    job.say("locked", "zeroed", *FRONT_HIGH_SIX)
    # It is not asked for twice.
    assert job.state.pin_out
    assert job.state.phase is Bolt.LOOSEN
    assert len(job.state.sweeps) == 2


def test_a_pin_that_is_still_in_leaves_the_last_reading_to_be_taken_back() -> None:
    job = TypedJob.at(Pin.PIN)
    assert job.say("disregard").startswith("Back taken back.")
    assert job.state.phase is Sweeping.SWEEP
    assert not job.state.pin_out
