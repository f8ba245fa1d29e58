"""A number on the keypad where none is taken: Enter after it is no answer to what is asked."""

import pytest

from assistant.dialogue.messages import KeyPressed, Tone
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.safety import Safety
from assistant.dialogue.questions import offer_now, question
from tests.dialogue.typed import AT, WAY_TO, TypedJob

NO_NUMBER = [
    phase
    for phase in WAY_TO
    if phase is not Close.CLOSED
    for offer in (offer_now(TypedJob.at(phase).state),)
    if not (offer.readings or offer.shim or offer.sizes or offer.sides)
]


@pytest.mark.parametrize("phase", NO_NUMBER)
def test_nothing_is_agreed_to_by_a_number_and_enter(phase: Phase) -> None:
    job = TypedJob.at(phase)
    for key in ("+", "3"):
        job.post(KeyPressed(AT, job.state.turn, key))
        assert [tone.name for tone in job.effects if isinstance(tone, Tone)] == ["missed"]
    said = job.press("enter")
    assert job.state.phase is phase
    assert said.endswith(question(job.state))
    assert job.state.entry == ""


def test_the_next_enter_answers_again() -> None:
    job = TypedJob.at(Safety.KEY_OUT)
    assert job.press("7 enter") == "Not now: 7. Chuck key out, glasses on?"
    assert job.press("enter") == "Is the table held from dropping?"


def test_a_slip_changes_nothing_for_no_and_for_what_begins_with_a_slash() -> None:
    job = TypedJob.at(Safety.KEY_OUT)
    assert job.press("7 -").startswith("Key out and glasses on first.")
    assert job.press("7 / 8") == "Stop here? All is kept."
    assert job.press("7 -") == "Chuck key out, glasses on?"
