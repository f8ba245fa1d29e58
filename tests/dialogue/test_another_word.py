"""Agreed to in another word than the one that is asked for: it is heard, and told that one."""

import re
from dataclasses import replace

import pytest

from assistant.dialogue import wording
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.lock import Lock
from assistant.dialogue.procedures.noise import Settling
from assistant.dialogue.procedures.safety import Safety
from assistant.dialogue.procedures.setup import SetUp
from assistant.dialogue.procedures.shim import Bolt
from assistant.dialogue.procedures.sign_test import SignTest
from assistant.dialogue.procedures.spindle import Spindle
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.procedures.tap import Tap
from assistant.dialogue.questions import offer_now
from assistant.dialogue.state import AskCommand
from grammar.meaning import Command, Unclear
from tests.dialogue.typed import WAY_TO, TypedJob, quiet

ASKED_AS_HANDS_WOULD: tuple[Phase, ...] = (*Safety, SetUp.SETUP, Spindle.SPINDLE, Close.DECIDE)
"""Where a yes is asked for, and done comes as easily."""


def _hear(job: TypedJob, word: str) -> str:
    return job.hear(word, Command(word))


@pytest.mark.parametrize("form", ["long", "short"])
@pytest.mark.parametrize("phase", WAY_TO)
def test_words_of_agreement_are_heard_where_one_of_them_is_asked_for(
    phase: Phase, form: str
) -> None:
    """Nowhere else: where a number is called, they would only be misheard."""
    job = TypedJob.at(phase)
    said = job.say(form)
    offer = offer_now(job.state)
    first = offer.commands[0] if offer.commands else ""
    by_hand = first in ("done", "locked", "zeroed")
    wanted = {"yes", "done"} if by_hand and said.endswith(("?", f"Say {first}.")) else set()
    wanted |= {"done"} if phase in ASKED_AS_HANDS_WOULD else set()
    wanted |= {"locked"} if phase is Close.CLOSE else set()
    assert set(offer.instead) == wanted - set(offer.commands)
    assert not set(offer.instead) & set(offer.phrases())


@pytest.mark.parametrize("form", ["long", "short"])
@pytest.mark.parametrize("phase", WAY_TO)
def test_they_are_told_what_to_say_and_do_nothing(phase: Phase, form: str) -> None:
    job = TypedJob.at(phase)
    job.say(form)
    before = job.state
    for word in offer_now(before).instead:
        job.state = before
        said = _hear(job, word)
        wanted = offer_now(before).commands[0]
        told = {wording.YES_OR_NO} if wanted == "yes" else {wording.say_instead(wanted)}
        number = job.state.awaited is not None and phase is not Settling.SURFACE
        assert said in told or (number and said.startswith("Say the number"))
        assert quiet(job.state) == quiet(before)
        assert job.state.turn == before.turn + 1


@pytest.mark.parametrize(
    ("phase", "word", "said"),
    [
        (Lock.LOCK, "yes", "Say locked when it is."),
        (Sweeping.ZERO, "done", "Say zeroed when it is."),
        (Safety.UNPLUGGED, "done", "Yes or no?"),
        (Close.CLOSE, "locked", "Say done when it is."),
        (Tap.TAP_LOCK, "done", "Say the number. Lock it. Right again?"),
    ],
)
def test_what_is_told(phase: Phase, word: str, said: str) -> None:
    assert _hear(TypedJob.at(phase), word) == said


def test_said_once_more_it_is_asked_for_and_a_yes_answers() -> None:
    """Whoever cannot get the word across is not told it for ever."""
    job = TypedJob.at(Lock.LOCK)
    _hear(job, "yes")
    assert _hear(job, "yes") == "Locked?"
    assert str(job.state.phase) == "lock"
    _hear(job, "yes")
    assert job.state.phase is Sweeping.ZERO


def test_after_a_call_that_was_not_clear_it_is_asked_for_at_once() -> None:
    job = TypedJob.at(Sweeping.ZERO)
    job.hear("", Command("zeroed"), outcome="reject")
    assert _hear(job, "yes") == "Zeroed?"
    assert _hear(job, "no").endswith("Dial to zero at the back. Say zeroed.")


def test_where_yes_or_no_is_asked_it_is_told_each_time() -> None:
    job = TypedJob.at(Safety.UNPLUGGED)
    assert [_hear(job, "done") for _ in range(3)] == [wording.YES_OR_NO] * 3
    job.hear("", Command("yes"), outcome="reject")
    assert job.said == wording.MISSED_TWICE
    assert job.state.pending is None


def test_in_the_short_set_up_the_locks_are_asked_about() -> None:
    job = TypedJob.begin(short=True)
    job.say("yes", "yes", "yes")
    assert job.said == "Locked?"
    assert job.state.pending == AskCommand(Command("locked"))
    job.say("yes")
    assert job.state.phase is Sweeping.ZERO


def test_one_that_was_not_heard_surely_is_told_as_well() -> None:
    """Nothing is done by it, so there is nothing to ask about."""
    job = TypedJob.at(Lock.LOCK)
    said = job.hear("done", Command("done"), outcome="ask", confidence=0.7)
    assert said == "Say locked when it is."
    assert job.state.pending is None


def test_where_a_command_is_asked_about_a_yes_is_the_answer() -> None:
    job = TypedJob.at(Lock.LOCK)
    job.hear("help", Command("help"), outcome="ask", confidence=0.5)
    assert job.said == "Help?"
    assert offer_now(job.state).instead == ("done",)
    assert _hear(job, "done") == "Say locked when it is."
    job.hear("help", Command("help"), outcome="ask", confidence=0.5)
    assert job.hear("yes", Command("yes"), outcome="ask", confidence=0.5) == wording.MISSED
    assert _hear(job, "yes").endswith("stand by, stop.")


@pytest.mark.parametrize(
    ("phase", "voice", "text", "key"),
    [
        (
            SignTest.SIGN,
            "Say plus or minus, or skip.",
            "Type plus or minus, or skip.",
            "Press plus or minus. Slash four skips.",
        ),
        (
            SetUp.DIAMETER,
            "Say the number, or skip. Sweep diameter, in inches?",
            "Type the number, or skip. Sweep diameter, in inches?",
            "Press the number, then Enter. Slash four skips.",
        ),
        (
            Sweeping.SWEEP,
            "Say the number. Right?",
            "Type the number. Right?",
            "Press the number, then Enter.",
        ),
    ],
)
def test_a_yes_where_something_else_is_wanted_is_answered_for_voice_text_and_keys(
    phase: Phase, voice: str, text: str, key: str
) -> None:
    assert _hear(TypedJob.at(phase), "yes") == voice
    assert TypedJob.at(phase).say("yes") == text
    job = TypedJob.at(phase)
    before = job.state
    assert job.press("enter") == key
    # The turn as well: a call that is under way is not dropped for a key that was brushed.
    assert job.state == replace(before, by="keypad")


def test_whoever_answers_by_key_is_asked_for_a_key() -> None:
    """And for a word again as soon as a voice answers; noise alone changes nothing."""
    job = TypedJob.at(SetUp.SETUP)
    assert job.press("enter") == "Lock table, column and quill. Then Enter."
    assert "yes" in offer_now(job.state).instead
    for noise in ("talk", "reject"):
        job.hear("", Unclear(""), outcome=noise)
        assert job.state.by == "keypad"
    assert job.press("enter").endswith("Dial to zero at the back. Then Enter.")
    assert job.say("disregard") == "Lock table, column and quill. Say locked."
    job.press("enter")
    job.press("/ /")
    assert job.hear("locked", Command("locked")).endswith("Dial to zero at the back. Say zeroed.")
    assert job.say("done") == "Type zeroed when it is."
    assert job.press("/ 9").startswith("Not before the end. Stop keeps it. ")
    assert job.said.endswith("Dial to zero at the back. Then Enter.")


@pytest.mark.parametrize("phase", WAY_TO)
def test_no_question_by_key_asks_for_a_word(phase: Phase) -> None:
    job = TypedJob.at(phase)
    job.press("*")
    said = job.press("*")
    assert not re.search(r"\bSay (locked|zeroed|done)\b", said), said


def test_what_was_typed_and_not_understood_is_not_to_be_said() -> None:
    job = TypedJob.at(Lock.LOCK)
    assert job.say("nice weather") == wording.MISSED_TYPED
    assert job.say("nice weather") == f"{wording.MISSED_TYPED_TWICE} Locked?"


@pytest.mark.parametrize("word", ["done", "locked"])
def test_an_open_question_says_that_it_wants_yes_or_no(word: str) -> None:
    for phase, first in ((Sweeping.ZERO, "stop"), (Bolt.LOOSEN, "skip"), (Sweeping.ZERO, "yes")):
        job = TypedJob.at(phase)
        job.say(first)
        if first == "yes":
            # Said a second time it is asked for.
            assert job.say(first) == "Zeroed?"
        pending = job.state.pending
        assert pending is not None
        assert job.say(word) == wording.YES_OR_NO
        assert job.state.pending == pending
