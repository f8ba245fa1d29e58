"""Voice and speaker together: prompts and tones to sound, with or without one of the two.

What is said is the dialogue's business; that the text is also printed or shown, the shell's.
"""

from collections.abc import Callable, Iterable
from dataclasses import replace

import numpy as np

from assistant.devices.faults import DeviceFault
from assistant.devices.sound.lifeline import Report
from assistant.devices.sound.speaker import Speaker
from assistant.devices.voice.speech_engine import SLOWEST_WPM, VoiceSettings
from assistant.devices.voice.synthesis import Samples, Voice
from assistant.devices.voice.tones import ToneName, ToneSet, tone
from assistant.devices.voice.vocal_effort import VocalEffort

TONE_RATE = 48_000


def louder(samples: Samples, gain_db: float) -> Samples:
    """Samples raised by a gain, as far as full scale lets them be."""
    if not gain_db or not len(samples):
        return samples
    peak = max(1, int(np.max(np.abs(samples.astype(np.int32)))))
    gain = min(10 ** (gain_db / 20), max(1.0, 32_000 / peak))
    raised: Samples = np.rint(samples * gain).astype(np.int16)
    return raised


class Mouth:
    """Speaks through a speaker; ``report`` is told when the voice is lost and when it is back.

    ``say`` may be called from any thread. A prompt that cannot be spoken is a tone, so that
    the person looks where it is printed. ``volume``: of the tones, 0 to 1. ``noise_db``: the
    room's level now, in dB of full scale; the voice is raised against it.

    A voice that was late is back as soon as its answer comes, and said to be, so that what was
    not heard is asked again. One that fails at the same text again is not told to be lost again.
    """

    def __init__(
        self, voice: Voice, speaker: Speaker, report: Report, tones: ToneSet = "soft",
        volume: float = 1.0, noise_db: Callable[[], float] | None = None,
    ) -> None:  # fmt: skip
        self._voice, self._speaker, self._report = voice, speaker, report
        self._tones, self._volume = tones, volume
        self._lost = False
        self._failed: set[str] = set()
        self._cuts = 0
        self._noise_db, self._effort, self._usual = noise_db, VocalEffort(), voice.settings

    def say(self, text: str) -> None:
        """Speak after what is being spoken; waits for the voice as long as its limit.

        The first sentence is heard while the next is being made; what is cut off meanwhile is not
        made to its end.
        """
        self._raise_against_noise()
        cuts = self._cuts
        try:
            for samples, rate in self._voice.sentence_by_sentence(text):
                if self._cuts != cuts:
                    break
                self._speaker.play(louder(samples, self._effort.gain_db), rate)
        except DeviceFault as fault:
            self._not_spoken(text, fault.reason)
            self.tone("asked")
            return
        # What was spoken before tells nothing of a library that still owes an answer.
        if not self._voice.owes:
            self._is_back()

    def _not_spoken(self, text: str, reason: str) -> None:
        late = self._voice.owes
        if not self._lost and (late or text not in self._failed):
            self._lost = True
            self._report(reason)
        if late:
            self._voice.when_answered(self._is_back)
        else:
            self._failed.add(text)

    def _is_back(self) -> None:
        if self._lost:
            self._lost = False
            self._report(None)

    def _raise_against_noise(self) -> None:
        if self._noise_db is None:
            return
        self._effort.feed(self._noise_db())
        rate = max(SLOWEST_WPM, round(self._usual.rate_wpm * self._effort.pace))
        self._voice.settings = replace(self._usual, rate_wpm=rate)

    def prepare(self, texts: Iterable[str]) -> None:
        """Make what will likely be said, while nothing else is to be; returns at once."""
        self._voice.prepare(texts)

    def tune(self, settings: VoiceSettings) -> None:
        """Speak so from the next prompt on; the tones are as loud as the voice."""
        self._usual = self._voice.settings = settings
        self._volume = settings.volume

    def tone(self, name: ToneName) -> None:
        """A short answer before the voice."""
        self._speaker.play(tone(name, TONE_RATE, self._tones, self._volume), TONE_RATE)

    def cut_off(self) -> None:
        """Stop what is being said."""
        self._cuts += 1
        self._speaker.cut_off()

    def speaking(self) -> bool:
        """Whether something is still to be heard."""
        return self._speaker.playing()

    def wait(self, limit_s: float) -> None:
        """Wait until it is all said."""
        self._speaker.wait(limit_s)
