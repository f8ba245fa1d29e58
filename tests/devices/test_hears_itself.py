"""A job whose own voice comes back at its microphone, late, does not answer itself."""

import pytest

from assistant.devices.ears.engines import recogniser
from assistant.devices.ears.hearing import Recogniser
from assistant.devices.voice.synthesis import Voice
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.safety import Safety
from assistant.dialogue.procedures.sweep import Sweeping
from tests.devices.hears_itself import DELAYS_MS, PATIENCE_S, hears_itself


@pytest.fixture(scope="module")
def engine() -> Recogniser:
    return recogniser("auto")


@pytest.fixture(scope="module")
def voice() -> Voice:
    return Voice(limit_s=PATIENCE_S)


@pytest.mark.parametrize("delay_ms", DELAYS_MS)
@pytest.mark.parametrize("phase", [Sweeping.SWEEP, Sweeping.ZERO, Safety.UNPLUGGED])
def test_nothing_is_answered_and_the_job_goes_as_it_was_typed(
    engine: Recogniser, voice: Voice, delay_ms: int, phase: Phase
) -> None:
    happened = hears_itself(engine, voice, delay_ms, phase)
    assert happened.prompts == []
    assert happened.as_typed
    assert happened.outcomes["accept"] == happened.outcomes["ask"] == 0


def test_without_looking_for_its_voice_it_would_hear_itself(
    engine: Recogniser, voice: Voice
) -> None:
    """What the ears then make of it is up to them: unclear, talk, or a question."""
    unguarded = hears_itself(engine, voice, 500, Sweeping.SWEEP, guarded=False)
    assert unguarded.pieces > 3
    assert hears_itself(engine, voice, 500, Sweeping.SWEEP).pieces == 0
