"""A whole bench without hardware: sound, voice and recogniser that do what they are told.

The threads are the real ones; whoever uses this waits for what they post, never for time.
"""

import io
import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from functools import partial
from pathlib import Path
from typing import Literal
from unittest.mock import patch

import numpy as np
import numpy.typing as npt

from assistant.bench.live_bench import LiveBench
from assistant.bench.queued import End, Spoken, Typed
from assistant.bench.wishes import Surroundings, Wishes
from assistant.devices.ears import listener
from assistant.devices.ears.hearing import Decoded
from assistant.devices.sound.lifeline import Lifeline, Patience
from assistant.devices.sound.settings import SoundSettings
from assistant.devices.voice.speech_engine import Speech, VoiceSettings
from assistant.devices.voice.synthesis import Voice
from assistant.devices.watch import Watch
from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Device, DeviceBack, DeviceLost, Effect, Event, Say
from assistant.records.journal.journal import Journal
from grammar.meaning import Hypothesis
from grammar.offer import Offer
from grammar.parse import parse
from tests.devices.sound_stand_in import MIC, OUT, StandInLibrary
from tests.ears.untaught import Untaught

PATIENCE = Patience(start=60.0, silence=60.0, retries=(0.0,))
"""Devices here never fall silent by themselves, and come back at once."""

SOON_S = 0.01
"""How often devices are looked at here, and how soon another recogniser is made."""

LIMIT_S = 20.0
"""Whoever waits longer than this has found a hang."""


class StandInEngine:
    """Text to silence; ``fails``: with these words. Hangs while ``go_on`` is not set."""

    def __init__(self) -> None:
        self.fails = ""
        self.spoken: list[str] = []
        self.go_on = threading.Event()
        self.go_on.set()

    def synthesise(self, text: str, _settings: VoiceSettings) -> Speech:
        self.spoken.append(text)
        if not self.go_on.wait(LIMIT_S):
            raise RuntimeError("nobody lets the voice go on")
        if self.fails:
            raise RuntimeError(self.fails)
        return Speech(np.zeros(400, np.int16), 16_000)


class StandInRecogniser(Untaught):
    """Hears what ``words`` says, whatever the sound; fails or hangs when told to."""

    name = "stand-in"

    def __init__(self, bench: "StandInBench") -> None:
        self._bench = bench
        self._offer: Offer | None = None

    def arm(self, offer: Offer) -> None:
        self._offer = offer

    def decode(self, _samples: npt.NDArray[np.int16], _lead: int = 0) -> Decoded:
        bench, offer = self._bench, self._offer
        bench.decoding.set()
        if bench.hangs:
            bench.hangs -= 1
            assert bench.go_on.wait(LIMIT_S)
        if bench.fails:
            reason, bench.fails = bench.fails, ""
            raise RuntimeError(reason)
        assert offer is not None
        meaning = parse(bench.words, offer.scale)
        return Decoded((Hypothesis(bench.words, meaning, 1.0),), bench.words, 1.0)


class StandInBench:
    """A bench with a record in a folder; ``said`` and ``told`` are what came out so far."""

    def __init__(self, folder: Path, wishes: Wishes | None = None) -> None:
        self.record = folder / "jobs.db"
        self.microphone = StandInLibrary(MIC)
        self.speaker = StandInLibrary(OUT, form=(48_000, 2))
        self.engine = StandInEngine()
        self.words = "yes"
        self.fails = ""
        self.hangs = 0
        self.decoding = threading.Event()
        self.go_on = threading.Event()
        self.out, self.err = io.StringIO(), io.StringIO()
        self._stack = ExitStack()
        self._journal = self._stack.enter_context(Journal.open(self.record))
        around = Surroundings(self._library, self._voice, patience=PATIENCE)
        self.bench = LiveBench(
            Profile(), self._journal, wishes or Wishes(sound=SoundSettings(headset=True)),
            lambda: StandInRecogniser(self), io.StringIO(), self.out, self.err, around,
        )  # fmt: skip
        self.effects: list[Effect] = []
        perform = self.bench.loop._perform

        def noted(effect: Effect) -> None:
            self.effects.append(effect)
            perform(effect)

        self.bench.loop._perform = noted

    def _library(self, kind: Literal["microphone", "speaker"]) -> StandInLibrary:
        return self.microphone if kind == "microphone" else self.speaker

    def _voice(self, settings: VoiceSettings) -> Voice:
        return Voice(settings, engine=self.engine, limit_s=0.2)

    @contextmanager
    def running(self) -> Iterator[LiveBench]:
        """Devices open, the job begun."""
        with self._stack:
            with ExitStack() as devices:
                devices.enter_context(patch.object(Lifeline, "TICK_S", SOON_S))
                devices.enter_context(patch.object(listener, "AGAIN_S", SOON_S))
                watch = partial(Watch, every_s=SOON_S)
                devices.enter_context(patch("assistant.bench.live_bench.Watch", watch))
                self.bench.open(devices)
                self.bench.loop.open_job()
                yield self.bench
            self.go_on.set()
            self.engine.go_on.set()

    @property
    def said(self) -> list[str]:
        """The prompts so far."""
        return [effect.text for effect in self.effects if isinstance(effect, Say)]

    def next(self) -> Event:
        """Handle the next thing that comes from a device, and give its event."""
        mail = self.bench.mailbox.get(timeout=LIMIT_S)
        assert not isinstance(mail, End | Typed)
        self.bench.handle(mail)
        return mail.event if isinstance(mail, Spoken) else mail

    def until_lost(self, device: Device) -> DeviceLost:
        """Handle what comes until a device is lost."""
        while True:
            event = self.next()
            if isinstance(event, DeviceLost) and event.device == device:
                return event

    def until_back(self, device: Device) -> None:
        """Handle what comes until it is back."""
        while True:
            event = self.next()
            if isinstance(event, DeviceBack) and event.device == device:
                return

    def talk(self, seconds: float = 1.0) -> None:
        """Press the talk key, let the microphone deliver, press it again."""
        assert self.bench._listener is not None
        self.bench._push_to_talk()
        self.wait_armed()
        stream = self.microphone.streams[-1]
        stream.deliver(np.full(round(seconds * 16_000), 800, np.int16))
        self.drained()
        self.bench._push_to_talk()

    def wait_armed(self) -> None:
        listener = self.bench._listener
        assert listener is not None
        while listener._presses:
            pass

    def drained(self) -> None:
        microphone = self.bench._microphone
        assert microphone is not None
        while not microphone._queue.empty():
            pass

    def forget_speech(self) -> None:
        """What was spoken ahead of time is gone: the next prompt needs the engine."""
        mouth = self.bench._mouth
        assert mouth is not None
        while not mouth._voice._worker._orders.empty():
            pass
        mouth._voice._kept.clear()
        self.engine.spoken.clear()

    @staticmethod
    def quiet_block() -> npt.NDArray[np.int16]:
        """A block of a silent room."""
        return np.zeros(480, np.int16)
