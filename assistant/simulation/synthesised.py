"""A simulated person who speaks by the neural voice, at a pitch and pace that are not its own.

The recordings of ``speech`` are put together out of pieces and sound like it; this is closer to
how people speak. The ears know this voice no better than a stranger's.
"""

from dataclasses import replace

import numpy as np
import soxr  # type: ignore[import-untyped]

from assistant.devices.voice.neural_voice import is_there
from assistant.devices.voice.synthesis import Voice
from assistant.simulation.speech import RATE, Samples, SpeechBank, voices

PITCHES = (0.9, 1.1, 1.17)
"""Times the voice's own, by which the person is another than the assistant."""


class SynthesisedPerson:
    """What ``SpeechBank`` does, for any words. Raises ``DeviceFault`` when there is no voice."""

    def __init__(self, pitch: float) -> None:
        self._pitch, self._voice = pitch, Voice()
        usual = self._voice.settings
        # Sound that is played faster is higher and shorter: the pace is put right before.
        self._voice.settings = replace(usual, rate_wpm=round(usual.rate_wpm / pitch))
        self.voice = f"neural at {pitch:g} of its pitch"

    def say(self, words: str) -> Samples:
        """These words, spoken; without quiet around them."""
        spoken, rate = self._voice.synthesise(words)
        sound = soxr.resample(spoken.astype(np.float32), rate * self._pitch, RATE)
        samples: Samples = np.clip(np.rint(sound), -32768, 32767).astype(np.int16)
        return samples


def somebody(seed: int) -> SynthesisedPerson | SpeechBank:
    """The person of a seed: synthesised where the neural voice is installed, else recorded."""
    if is_there():
        return SynthesisedPerson(PITCHES[seed % len(PITCHES)])
    return SpeechBank(voices()[seed % len(voices())])
