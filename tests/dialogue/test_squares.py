"""Whole jobs by a square against the bar and feeler leaves, typed and by keys (invented)."""

from dataclasses import replace
from decimal import Decimal

import pytest

from assistant.dialogue import methods
from assistant.dialogue.machine import Instrument, Profile
from assistant.dialogue.messages import Closed
from assistant.dialogue.procedures.lock import Lock
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.questions import offer_now
from assistant.metrology.gauges import square_difference
from assistant.metrology.lengths import Length
from grammar.sentences import sentences
from tests.dialogue.typed import READY, TypedJob
from tests.grammar.languages import accepts

SQUARE = Profile(method="square", instrument=Instrument(square_height=Length.of(5, "in")))
FRONT_OPEN_BELOW = ("four", "no", "zero", "four", "yes", "zero")


def _sweeping(profile: Profile = SQUARE) -> TypedJob:
    job = TypedJob.begin(profile)
    job.say(*READY)
    assert job.state.phase is Sweeping.SWEEP
    return job


def test_a_whole_job_by_a_square() -> None:
    job = TypedJob.begin(SQUARE)
    assert methods.STRAIGHT_BAR_IN in job.say("yes", "yes", "yes")
    assert job.say("yes", "locked") == "Square at the back. Which leaf goes? Or zero."
    assert job.say("four") == "Four: open at the bottom?"
    assert job.say("no") == "Back four at the top. Right?"
    said = job.say("zero", "four", "yes", "zero")
    assert said.startswith("Left zero. Front high nine. Side to side too small to read.")
    assert job.result is not None
    # Four goes and five does not: four and a half over 5 in is nine over the sweep of 10 in.
    by_hand = square_difference(4.5, 5.0, 10.0, "bottom")
    assert job.result.answer.front_minus_back == pytest.approx(by_hand)
    assert job.result.answer.drift is None
    job.say("done", "shim four above", "locked")
    said = job.say("zero", "zero", "zero", "zero")
    assert "Both ways too small to read." in said
    assert "The roughness is only guessed." in said
    # Leaves of a thou make most of the doubt then: another round would not end it.
    assert job.say("skip").endswith("Likely within, not proven. A finer dial would tell. Finish?")
    job.say("yes", "done")
    assert Closed(finished=True) in job.effects
    assert job.state.shims.trials[0].shim_after == 4


def test_the_same_by_keys_alone() -> None:
    job = TypedJob.begin(SQUARE)
    job.press("enter enter enter enter enter")
    job.press("4 enter - 0 enter 4 enter enter 0 enter")
    assert "Front high nine." in job.said
    assert {taken.source for taken in job.state.sweeps[0].readings} == {"keypad"}


def test_no_sign_is_listened_for_and_one_that_is_typed_means_the_bottom() -> None:
    job = _sweeping()
    tree = sentences(offer_now(job.state))
    assert accepts(tree, "back four")
    assert not accepts(tree, "back minus four")
    assert job.say("minus four") == "Back four at the top. Right?"


def test_an_error_of_the_square_itself_cancels() -> None:
    job = _sweeping()
    # Open at the bottom by four all round: the square, not the table.
    said = job.say("four", "yes", "four", "yes", "four", "yes", "four", "yes")
    assert "Both ways too small to read." in said
    assert job.result is not None
    assert job.result.answer.tilt == pytest.approx(0, abs=1e-9)


def test_taking_back_and_correcting_without_a_zero() -> None:
    job = _sweeping()
    job.say("four", "yes", "zero")
    assert job.say("correction two", "no") == "Right now two at the top. Front?"
    job.say("disregard")
    assert job.say("disregard").startswith("Back taken back. Square at the back.")
    assert job.say("disregard").startswith("Lock table")
    assert job.state.phase is Lock.LOCK


def test_the_wrong_end_is_found_by_the_others() -> None:
    job = _sweeping()
    said = job.say("six", "no", "zero", "six", "no", "zero")
    assert "One reading looks wrong." in said
    assert "at the bottom" in said
    job.say("six", "yes")
    assert job.result is not None
    assert job.result.answer.front_minus_back == pytest.approx(13)


def test_tapping_is_coached_to_no_light() -> None:
    job = _sweeping()
    said = job.say("zero", "four", "yes", "zero", "four", "no")
    assert said.endswith(
        "Square at the right. Hold the table. Slack the lock, keep some drag. Done?"
    )
    assert job.say("done") == "Soft mallet. Tap right down to zero."
    assert job.say("two", "yes") == "Right two at the bottom. Two more down."
    assert job.say("three", "no") == "Right three at the top. Too far. Back up three."
    assert "On target." in job.say("zero")


def test_a_taller_square_is_more_certain() -> None:
    def uncertainty(inches: int) -> float:
        held = replace(SQUARE.instrument, square_height=Length.of(inches, "in"))
        job = _sweeping(replace(SQUARE, instrument=held))
        job.say(*FRONT_OPEN_BELOW)
        assert job.result is not None
        return job.result.answer.budget.front_minus_back.u

    assert uncertainty(10) < uncertainty(5)


def test_a_wide_step_between_leaves_is_asked_about_with_its_end_kept() -> None:
    job = _sweeping()
    job.say("fifteen", "no")
    assert job.said.endswith("Back: which does not go? Or done.")
    assert job.say("sixteen").startswith("Between fifteen and sixteen.")
    assert job.state.readings[0].no_go == Decimal(-16)
