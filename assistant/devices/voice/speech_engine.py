"""What turns text into samples: the interface, and which engine speaks here.

The neural voice where its packages are, see ``neural_voice``; it is understood best by far.
Without them espeak-ng itself, see ``espeak``; macOS and Windows then speak with their own
voices through pyttsx3's drivers, a path that is untested.

An engine is used from one thread only, and there is one per process: espeak-ng cannot be
started twice, and pyttsx3 hands out the same engine again and again.
"""

import io
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

from assistant.devices.faults import DeviceFault

QUIET = 200
"""Samples below this (of 32,768) at either end are silence."""

SLOWEST_WPM, FASTEST_WPM = 80, 200
"""Words per minute: above 200 nobody should rely on a number that is read back."""

LEAD_S, TAIL_S = 0.01, 0.08
"""Silence that is left before and after."""


@dataclass(frozen=True, slots=True)
class VoiceSettings:
    """How to speak. ``rate_wpm``: 80 to 200 words per minute. ``volume``: 0 to 1.

    ``name``: a voice of espeak-ng's, such as "en-us+f3"; empty for the best that is there.
    """

    name: str = ""
    rate_wpm: int = 165
    volume: float = 1.0

    def __post_init__(self) -> None:
        if not SLOWEST_WPM <= self.rate_wpm <= FASTEST_WPM:
            raise ValueError(
                f"rate is {self.rate_wpm} words per minute: use {SLOWEST_WPM} to {FASTEST_WPM}"
            )
        if not 0.0 <= self.volume <= 1.0:
            raise ValueError(f"volume is {self.volume}: use 0 to 1")


@dataclass(frozen=True, slots=True)
class Speech:
    """Spoken text: int16 mono samples, read-only, and their rate in Hz."""

    samples: npt.NDArray[np.int16]
    rate: int

    @property
    def duration_s(self) -> float:
        """How long it is."""
        return len(self.samples) / self.rate


class SpeechEngine(Protocol):
    """Whatever turns text into speech; called from one thread."""

    def synthesise(self, text: str, settings: VoiceSettings) -> Speech:
        """Speak one line of text that is not empty; blocks until done."""


def trimmed(samples: npt.NDArray[np.int16], rate: int) -> Speech:
    """Speech with the silence at both ends cut short, in a copy that nobody can write to."""
    loud = np.flatnonzero(np.abs(samples.astype(np.int32)) > QUIET)
    if len(loud):
        first = max(0, int(loud[0]) - round(LEAD_S * rate))
        samples = samples[first : int(loud[-1]) + 1 + round(TAIL_S * rate)]
    samples = samples.copy()
    samples.setflags(write=False)
    return Speech(samples, rate)


def open_engine() -> SpeechEngine:
    """Load the best engine that is there. Raises ``DeviceFault`` when there is none."""
    from assistant.devices.voice.espeak import Espeak

    try:
        espeak = Espeak()
    except DeviceFault:
        if sys.platform in ("darwin", "win32"):
            return SystemVoices()
        raise
    from assistant.devices.voice.neural_voice import NeuralVoice, is_there

    if is_there():
        try:
            return Best(NeuralVoice(espeak.phonemes), espeak)
        except DeviceFault as fault:
            return Best(None, espeak, fault.reason)
    return SystemVoices() if sys.platform in ("darwin", "win32") else Best(None, espeak)


class Best:
    """The neural voice unless one of espeak-ng's is named; espeak-ng where there is no other.

    ``why_not``: why the neural voice, though installed, does not speak.
    """

    def __init__(
        self, neural: SpeechEngine | None, espeak: SpeechEngine, why_not: str = ""
    ) -> None:
        self.neural, self.espeak, self.why_not = neural, espeak, why_not

    def synthesise(self, text: str, settings: VoiceSettings) -> Speech:
        """Speak a text by whichever voice the settings mean."""
        engine = self.espeak if settings.name or self.neural is None else self.neural
        return engine.synthesise(text, settings)


class SystemVoices:
    """The voices of macOS or Windows by way of pyttsx3. Untested."""

    def __init__(self) -> None:
        try:
            import pyttsx3

            self._engine: Any = pyttsx3.init()
        except (ImportError, OSError, RuntimeError) as error:
            raise DeviceFault(
                "voice", f"no speech library ({error})", "install pyttsx3 again with pip"
            ) from error
        self._settings: VoiceSettings | None = None
        self._complaints: list[str] = []
        self._engine.connect("error", self._complain)

    def synthesise(self, text: str, settings: VoiceSettings) -> Speech:
        """Speak a text. Raises ``DeviceFault`` when the voice is unknown or nothing comes."""
        import soundfile

        self._complaints.clear()
        if settings != self._settings:
            if settings.name:
                self._engine.setProperty("voice", settings.name)
            self._engine.setProperty("rate", settings.rate_wpm)
            self._engine.setProperty("volume", settings.volume)
        # Only ever save_to_file: after one, drivers write whatever they should play.
        with tempfile.TemporaryDirectory(prefix="sweepsay-voice-") as folder:
            path = Path(folder) / ("speech.aiff" if sys.platform == "darwin" else "speech.wav")
            self._engine.save_to_file(text, str(path))
            self._engine.runAndWait()
            written = path.read_bytes() if path.exists() else b""
        if self._complaints or not written:
            self._settings = None
            reason = self._complaints[0] if self._complaints else "the library gave no sound"
            raise DeviceFault("voice", reason, "choose another voice")
        self._settings = settings
        samples, rate = soundfile.read(io.BytesIO(written), dtype="int16", always_2d=True)
        return trimmed(samples[:, 0], int(rate))

    def _complain(self, exception: Exception | None = None, **_named: object) -> None:
        self._complaints.append(" ".join(str(exception).split()))
