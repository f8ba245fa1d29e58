"""What is heard and not surely: asked, said again, and taken when it was heard twice."""

from dataclasses import replace
from decimal import Decimal
from typing import get_args

import pytest

from assistant.dialogue import wording
from assistant.dialogue.messages import Effect, LongSilence, Resumed, Tone
from assistant.dialogue.pending import NO_MATCH, OPEN, UNTOUCHED
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures import safety, shim
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.lock import Lock
from assistant.dialogue.procedures.noise import Settling
from assistant.dialogue.procedures.safety import Safety
from assistant.dialogue.procedures.shim import Bolt
from assistant.dialogue.procedures.sweep import LIFT_TIP, Sweeping
from assistant.dialogue.questions import offer_now
from assistant.dialogue.state import AskCommand, AskGoOn, AskReading, Pending
from grammar.meaning import Command, Hypothesis, Reading, Unclear
from tests.dialogue.typed import AT, TypedJob


def _doubtful(job: TypedJob, words: str, meaning: Command | Reading, confidence: float) -> str:
    return job.hear(words, meaning, outcome="ask", confidence=confidence)


def test_a_doubtful_answer_is_asked_for_again_and_counts_as_missed() -> None:
    job = TypedJob.at(Safety.UNPLUGGED)
    assert _doubtful(job, "yes", Command("yes"), 0.3) == wording.MISSED
    assert Tone("missed") in job.effects
    assert _doubtful(job, "no", Command("no"), 0.3) == wording.MISSED_TWICE
    assert job.state.phase is Safety.UNPLUGGED


def test_an_answer_heard_twice_is_taken_when_both_together_are_sure() -> None:
    job = TypedJob.at(Safety.UNPLUGGED)
    _doubtful(job, "yes", Command("yes"), 0.8)
    assert _doubtful(job, "affirm", Command("yes"), 0.8) == safety.KEY_OUT
    assert Tone("heard") in job.effects
    assert job.state.hearing.half_heard is None
    # A new question wants two hearings of its own.
    assert _doubtful(job, "yes", Command("yes"), 0.9) == wording.MISSED


def test_weak_hearings_add_up_slowly_and_only_of_the_same() -> None:
    job = TypedJob.at(Safety.UNPLUGGED)
    for _ in range(3):
        _doubtful(job, "yes", Command("yes"), 0.5)
        _doubtful(job, "no", Command("no"), 0.5)
    said = [_doubtful(job, "yes", Command("yes"), 0.5) for _ in range(4)]
    assert said == [wording.MISSED] * 3 + [safety.KEY_OUT]


def test_where_others_talk_two_hearings_are_no_proof() -> None:
    job = TypedJob.at(Safety.UNPLUGGED)
    _doubtful(job, "yes", Command("yes"), 0.8)
    job.hear("", Unclear(""), outcome="reject", confidence=0.0)
    assert _doubtful(job, "yes", Command("yes"), 0.8) != safety.KEY_OUT
    assert _doubtful(job, "yes", Command("yes"), 0.8) == safety.KEY_OUT


def test_a_doubtful_reading_called_once_more_is_taken() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    said = _doubtful(job, "plus six", Reading(Decimal(6), True), 0.8)
    assert said == "Right plus six?"
    again = Reading(Decimal(6), True, "right")
    assert _doubtful(job, "right plus six", again, 0.8) == "Right plus six. Front?"


def test_the_sign_of_another_station_is_asked_with_its_name() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    elsewhere = Reading(Decimal(6), False, "left")
    assert _doubtful(job, "left six", elsewhere, 0.7) == "Left: plus or minus six?"
    assert job.say("plus six") == "Right plus six. Front?"
    here = Reading(Decimal(6), False, "front")
    assert _doubtful(job, "front six", here, 0.7) == "Front: plus or minus six?"


def _unsigned_two(job: TypedJob, *others: Reading) -> str:
    two = Reading(Decimal(2), False)
    alternatives = tuple(Hypothesis("", one, 0.02) for one in others)
    return job.hear("two", two, alternatives=alternatives)


def test_a_number_called_once_more_to_the_question_for_its_sign_may_be_another() -> None:
    job, zero = TypedJob.at(Sweeping.SWEEP), Reading(Decimal(0), True)
    assert _unsigned_two(job, zero) == "Right: plus or minus two?"
    assert _unsigned_two(job, zero) == "Right zero?"
    assert job.say("yes") == "Right zero. Front?"
    assert job.values() == {"back": 0, "right": 0}


def test_a_number_called_once_more_without_another_meaning_is_asked_for_its_sign() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    signed = Reading(Decimal(-2), True)
    for _ in range(3):
        assert _unsigned_two(job, signed) == "Right: plus or minus two?"
    assert job.say("minus") == "Right minus two. Front?"


def test_no_to_the_question_for_a_sign_asks_what_else_it_may_have_been() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    ten, unsigned = Reading(Decimal(10), True), Reading(Decimal(7), False)
    _unsigned_two(job, unsigned, ten)
    assert job.say("no") == "Right plus one zero?"
    assert job.say("no") == NO_MATCH
    assert job.state.pending is None
    assert job.values() == {"back": 0}


def test_another_doubtful_reading_is_asked_in_its_turn() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    _doubtful(job, "plus six", Reading(Decimal(6), True), 0.9)
    assert _doubtful(job, "plus nine", Reading(Decimal(9), True), 0.9) == "Right plus nine?"
    assert isinstance(job.state.pending, AskReading)
    assert job.values() == {"back": 0}


def test_a_doubtful_command_may_be_said_once_more_instead_of_yes() -> None:
    job = TypedJob.at(Bolt.LOOSEN)
    assert _doubtful(job, "done", Command("done"), 0.4) == "Done?"
    assert "done" in offer_now(job.state).commands
    job.say("done")
    assert job.state.phase is Bolt.SHIM


@pytest.mark.parametrize("phase", [Safety.UNPLUGGED, Lock.LOCK, Sweeping.SWEEP])
def test_a_doubtful_say_again_is_done_and_never_asked(phase: Phase) -> None:
    job = TypedJob.at(phase)
    prompt = job.say("say again")
    assert _doubtful(job, "say again", Command("say again"), 0.5) == prompt
    assert job.state.pending is None


@pytest.mark.parametrize("name", ["stop", "finish", "skip"])
def test_what_ends_something_wants_its_yes(name: str) -> None:
    job = TypedJob.at(Bolt.LOOSEN)
    asked = job.say(name)
    assert isinstance(job.state.pending, AskCommand)
    assert job.say(name) == asked
    assert job.state.phase is Bolt.LOOSEN
    assert job.say("no") == shim.LOOSEN


def test_every_open_question_has_its_words_its_offer_and_its_answers() -> None:
    assert set(OPEN) == set(get_args(Pending))


def test_a_word_that_a_voice_cannot_get_across_is_asked_as_a_question() -> None:
    job = TypedJob.at(Sweeping.ZERO)
    job.hear("", Unclear(""), outcome="reject")
    said = job.hear("", Unclear(""), outcome="reject")
    assert said == "Not clear. Keypad works too. Zeroed?"
    assert job.say("no") == f"{LIFT_TIP} Dial to zero at the back. Say zeroed."
    for _ in range(2):
        job.hear("", Unclear(""), outcome="reject")
    job.hear("", Unclear(""), outcome="reject")
    assert job.say("yes") == "Right?"


def test_talk_draws_two_tones_and_no_word_until_it_is_over() -> None:
    for phase in (Safety.UNPLUGGED, Lock.LOCK, Sweeping.ZERO, Sweeping.SWEEP, Bolt.LOOSEN):
        job = TypedJob.at(phase)
        before = job.state
        tones: list[Effect] = []
        for number in range(40):
            meaning = Command("locked") if number % 2 else Unclear("nice weather")
            assert job.hear("", meaning, outcome="talk", after_quiet=number == 30) == ""
            tones += job.effects
        assert tones == [Tone("missed")] * 4
        assert replace(job.state, hearing=before.hearing) == before
        # A call behind it is answered.
        assert job.hear("", Unclear(""), outcome="reject") == wording.MISSED


def test_a_call_that_is_taken_for_talk_twice_is_answered_both_times() -> None:
    job = TypedJob.at(Lock.LOCK)
    for _ in range(2):
        job.hear("", Unclear(""), outcome="talk")
        assert job.effects == (Tone("missed"),)
    # And where it was asked for once more.
    job = TypedJob.at(Lock.LOCK)
    assert job.hear("", Unclear(""), outcome="reject") == wording.MISSED
    job.hear("", Unclear(""), outcome="talk")
    assert job.effects == (Tone("missed"),)


def test_what_is_missed_on_and_on_is_told_twice_and_anew_after_a_quiet_while() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    said = [job.hear("", Unclear(""), outcome="reject") for _ in range(5)]
    assert said == [wording.MISSED, wording.MISSED_TWICE, "", "", ""]
    assert job.effects == (Tone("missed"), job.listening)
    assert job.hear("", Unclear(""), outcome="reject", after_quiet=True) == wording.MISSED
    # Whoever types looks at the screen: there a tone says nothing.
    assert [job.say("nice weather") for _ in range(3)][1:] == [wording.MISSED_TYPED] * 2


@pytest.mark.parametrize("name", ["help", "status", "stand by"])
def test_a_doubt_about_an_aside_does_not_hold_the_readings_up(name: str) -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    offered = offer_now(job.state)
    assert _doubtful(job, name, Command(name), 0.8).endswith("?")
    asked = offer_now(job.state)
    assert asked.readings
    assert {*offered.commands, "yes", "no"} <= {*asked.commands}
    assert job.say("plus six") == "Right plus six. Front?"
    job = TypedJob.at(Bolt.LOOSEN)
    _doubtful(job, name, Command(name), 0.8)
    job.say("done")
    assert job.state.phase is Bolt.SHIM
    assert job.state.pending is None


def test_a_doubtful_reading_does_not_stand_in_for_the_questions_after_a_restart() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    job.post(Resumed(AT))
    for _ in range(3):
        _doubtful(job, "plus six", Reading(Decimal(6), True), 0.5)
        assert isinstance(job.state.pending, AskGoOn)
    assert len(job.state.readings) == 1


def test_a_night_in_the_middle_of_a_sweep_is_asked_about() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    job.say("plus six")
    assert job.post(LongSilence(AT, 9.0)) == UNTOUCHED
    assert job.post(LongSilence(AT, 9.0)) == ""
    assert job.say("yes") == "Front?"
    assert len(job.values()) == 2
    job.post(LongSilence(AT, 12.0))
    assert job.say("no").startswith("A new sweep, then. Lock")
    assert not job.state.readings
    assert [(one.taken.value, one.reason) for one in job.state.undone] == [
        (Decimal(6), "moved since")
    ]


def test_a_night_elsewhere_is_nothing_to_ask_about_and_stand_by_asks_on_going_ahead() -> None:
    for phase in (Safety.UNPLUGGED, Lock.LOCK, Bolt.SHIM, Close.DECIDE, Close.CLOSED):
        job = TypedJob.at(phase)
        assert job.post(LongSilence(AT, 9.0)) == ""
        assert job.state.pending is None
    job = TypedJob.at(Sweeping.SWEEP)
    job.say("plus six", "stand by")
    assert job.post(LongSilence(AT, 9.0)) == ""
    assert job.say("go ahead") == f"{wording.GOING_AHEAD} {UNTOUCHED}"
    restarted = TypedJob.at(Sweeping.SWEEP)
    restarted.post(Resumed(AT))
    assert restarted.post(LongSilence(AT, 9.0)) == ""
    assert isinstance(restarted.state.pending, AskGoOn)


def test_readings_and_yes_or_no_stay_what_is_asked_for_however_often_they_are_missed() -> None:
    for phase in (Sweeping.SWEEP, Safety.UNPLUGGED, Settling.SURFACE):
        job = TypedJob.at(phase)
        for _ in range(2):
            job.hear("", Unclear(""), outcome="reject")
        assert job.said == "Not clear. Keypad works too."
        assert job.state.pending is None
