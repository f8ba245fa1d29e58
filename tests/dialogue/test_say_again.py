"""Said again is what was asked, with what went before it, whatever was said in between."""

from dataclasses import replace
from decimal import Decimal

import pytest

from assistant.dialogue import wording
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.lock import Lock
from assistant.dialogue.procedures.packing import Feet
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.procedures.tap import Tap
from assistant.dialogue.questions import asked_now, offer_now
from grammar.meaning import Command, OffScale, OffScaleReason
from tests.dialogue.typed import WAY_TO, TypedJob, quiet

OPEN = [phase for phase in WAY_TO if phase is not Close.CLOSED]


@pytest.mark.parametrize("form", ["long", "short"])
@pytest.mark.parametrize("phase", OPEN)
def test_after_help_and_what_was_not_clear_the_question_is_said_again(
    phase: Phase, form: str
) -> None:
    job = TypedJob.at(phase)
    asked = job.say(form, "say again")
    for words in ("help", "hm"):
        job.say(words)
        assert job.said != asked
        assert job.say("say again") == asked


@pytest.mark.parametrize(
    ("phase", "before", "asked"),
    [
        (Feet.PACK, "yes", "Shim five under the left. Done?"),
        (Lock.LOCK, "done", "Lock table, column and quill. Say locked."),
        (Tap.TAP, "plus forty", "Soft mallet. Tap right down to zero."),
    ],
)
def test_how_much_and_where_can_be_heard_again(phase: Phase, before: str, asked: str) -> None:
    job = TypedJob.at(phase)
    job.hear(before, Command(before)) if before != "plus forty" else job.say(before, "no")
    assert job.say("say again").endswith(asked)


def test_the_reading_that_was_read_back_comes_with_it() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    read = job.say("plus six")
    assert read == "Right plus six. Front?"
    assert job.say("help", "say again", "hm", "hm", "say again") == read
    calls: tuple[tuple[Decimal, OffScaleReason], ...] = (
        (Decimal(40), "beyond"),
        (Decimal("1.2"), "finer"),
    )
    for value, reason in calls:
        told = job.hear("", OffScale(value, reason, signed=True))
        assert told != read
        assert job.say("say again") == read


def test_of_a_question_that_was_withdrawn_nothing_is_repeated() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    asked = replace(job.state, to_repeat="Right plus one five?")
    job.state = asked
    job.say("help")
    assert job.say("say again") == "Right?"


def test_how_far_there_is_still_to_tap_is_said_again() -> None:
    job = TypedJob.at(Tap.TAP)
    told = job.say("right plus two")
    job.say("help")
    assert job.say("say again") in (told, asked_now(job.state))
    assert "down" in job.said


def test_what_is_shown_is_still_what_was_said_last() -> None:
    job = TypedJob.at(Lock.LOCK)
    before = job.state
    job.say("hm")
    assert job.state.last_said == wording.MISSED_TYPED
    assert quiet(job.state) == quiet(before)
    assert offer_now(job.state) == offer_now(before)
