"""Dials other than the usual one: one way round, reversed, levers, small ones with a counter."""

from dataclasses import replace
from decimal import Decimal

import pytest

from assistant.dialogue.machine import Instrument, Profile
from assistant.dialogue.messages import Learned
from assistant.dialogue.procedures.sign_test import SignTest
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.procedures.tap import HOLD_AND_SLACK
from assistant.dialogue.questions import offer_now
from assistant.dialogue.state import AskReading
from grammar.meaning import Hypothesis, Reading
from grammar.scale import Scale
from grammar.sentences import sentences
from tests.dialogue.typed import FRONT_HIGH_SIX, LEVER, READY, SAFE, TypedJob
from tests.grammar.languages import accepts

ONE_WAY = Profile(instrument=Instrument(face="continuous"))
SMALL = Profile(
    scale=Scale("mm", 30, Decimal(1)),
    instrument=Instrument(face="continuous", per_turn=20, counter=True),
)


def _sweeping(profile: Profile) -> TypedJob:
    job = TypedJob.begin(profile)
    job.say(*READY, "zeroed")
    assert job.state.phase is Sweeping.SWEEP
    return job


def test_ninety_seven_is_minus_three_and_is_read_back_so() -> None:
    job = _sweeping(ONE_WAY)
    assert job.say("ninety seven") == "Right minus three. Front?"
    assert job.say("ninety nine and a half") == "Front minus half. Left?"
    assert job.say("two") == "Left plus two. Back again?"
    assert job.values() == {"back": 0, "right": -3, "front": Decimal("-0.5"), "left": 2}


def test_the_face_and_nothing_else_is_listened_for() -> None:
    tree = sentences(offer_now(_sweeping(ONE_WAY).state))
    assert accepts(tree, "front ninety nine and a half")
    assert accepts(tree, "correction zero")
    for words in ("one hundred", "minus three", "plus three", "one hundred and one"):
        assert not accepts(tree, words)


def test_a_sign_that_is_called_all_the_same_is_taken_as_called() -> None:
    assert _sweeping(ONE_WAY).say("minus three") == "Right minus three. Front?"


def test_further_than_the_dial_is_thought_to_go_is_asked() -> None:
    job = _sweeping(ONE_WAY)
    assert job.say("forty five") == "Right plus four five?"
    assert job.say("no") == "Right minus five five?"
    assert job.say("yes") == "Right minus fifty five. Front?"


def test_a_small_dial_is_asked_about_its_turns_and_the_counter_is_named() -> None:
    job = _sweeping(SMALL)
    assert job.say("sixteen") == "Check the turns. Right minus four?"
    assert job.say("no") == "Right plus one six?"
    assert job.say("yes") == "Right plus sixteen. Front?"
    plain = replace(SMALL, instrument=replace(SMALL.instrument, counter=False))
    assert _sweeping(plain).say("sixteen") == "Right minus four?"


def test_a_turn_that_went_unnoticed_on_a_balanced_dial_is_asked_about() -> None:
    balanced = replace(SMALL.instrument, face="balanced")
    job = _sweeping(replace(SMALL, instrument=balanced))
    # The truth at the front is plus sixteen, which this dial shows as minus four.
    said = job.say("plus eight", "minus four", "plus eight", "zero")
    assert said.endswith("One reading looks wrong. Front: minus four, or plus one six?")
    assert job.say("plus sixteen").startswith("Front now plus sixteen.")


def test_the_plane_of_the_others_tells_the_turn_of_the_last() -> None:
    job = _sweeping(SMALL)
    job.say("plus twelve", "plus four")
    # Back 0, right 12, front 4: the left of a plane is at minus 8, which this dial shows as 12.
    assert job.say("twelve") == "Left minus eight. Back again?"
    assert job.say("zero").startswith("Back zero.")


def test_the_zero_is_looked_for_near_zero() -> None:
    job = _sweeping(ONE_WAY)
    job.say("one", "two", "one")
    assert job.say("ninety nine").startswith("Back minus one.")


def test_what_else_was_heard_is_weighed_as_readings() -> None:
    job = _sweeping(ONE_WAY)
    job.say("ninety seven", "ninety four")
    other = Hypothesis("ninety seven", Reading(Decimal(97), False, "left"), 0.3)
    fifty = Reading(Decimal(57), False)
    job.hear("fifty seven", fifty, alternatives=(other,))
    assert isinstance(job.state.pending, AskReading)
    assert [each.value for each in job.state.pending.candidates] == [-43, 57]
    job.say("yes")
    assert job.say("zero").endswith("Left: minus four three, or minus three?")


def test_the_face_goes_on_through_tapping_and_settling() -> None:
    job = _sweeping(ONE_WAY)
    said = job.say("three", "zero", "ninety seven", "zero")
    assert said.endswith("Dial to the right. What does it show?")
    said = job.say("three")
    assert said == "Right plus three. Hold the table. Slack the lock, keep some drag. Done?"
    job.say("done")
    assert job.say("one") == "Right plus one. One more down."
    assert job.say("ninety eight") == "Right minus two. Too far. Back up two."
    noise = TypedJob.begin(ONE_WAY)
    noise.say(*READY, "settle")
    assert noise.say("ninety nine") == "Minus one."
    noise.say("zero", "one", "done")
    assert noise.state.profile.surface == tuple(map(Decimal, (-1, 0, 1)))


# -- signs and levers --------------------------------------------------------------------


@pytest.mark.parametrize("answer", ["minus", "minus four"])
def test_a_leaf_under_the_tip_tells_the_sign_and_it_is_kept(answer: str) -> None:
    job = TypedJob.begin(LEVER)
    assert job.say(*SAFE, "yes") == "Leaf under the tip: plus or minus?"
    assert job.say(answer) == "Table high reads minus. Lock table, column and quill. Say locked."
    learned = [effect for effect in job.effects if isinstance(effect, Learned)]
    assert learned[0].profile.instrument.higher == "minus"
    said = job.say("locked", "zeroed", *FRONT_HIGH_SIX)
    assert "Back high six." in said


def test_the_sign_is_asked_by_keys_too_and_may_be_left_as_usual() -> None:
    job = TypedJob.begin(LEVER)
    job.press("enter enter enter enter")
    assert job.press("+").startswith("Table high reads plus.")
    other = TypedJob.begin(LEVER)
    other.say(*SAFE, "yes", "skip", "locked", "zeroed")
    assert "Front high six." in other.say(*FRONT_HIGH_SIX)
    assert other.say("disregard") == "Back taken back. Back again?"


def test_a_number_without_its_sign_does_not_pass_the_sign_test() -> None:
    job = TypedJob.begin(LEVER)
    job.say(*SAFE, "yes")
    assert job.say("four") == "Leaf under the tip: plus or minus?"
    assert job.state.phase is SignTest.SIGN


def test_taps_at_a_dial_that_counts_down_for_a_higher_table() -> None:
    job = _sweeping(Profile(instrument=Instrument(higher="minus")))
    said = job.say("minus three", "zero", "plus three", "zero")
    assert "Right high six." in said
    assert job.say("done") == f"{HOLD_AND_SLACK} Soft mallet. Tap right down to zero."
    assert (
        job.say("minus one and a half") == "Right minus one and a half. One and a half more down."
    )
    assert job.say("plus two") == "Right plus two. Too far. Back up two."


def test_a_lever_at_thirty_degrees_shows_more_than_there_is() -> None:
    """0.87 by the table of JIS B 7533 as quoted by a maker; cos 30 degrees."""
    job = _sweeping(Profile(instrument=Instrument(lever_deg=Decimal(30))))
    job.say(*FRONT_HIGH_SIX)
    assert job.result is not None
    assert job.result.answer.front_minus_back == pytest.approx(6 * 0.8660, abs=0.001)
