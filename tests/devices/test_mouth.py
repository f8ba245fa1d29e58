"""The mouth: a voice that is late, hangs or fails, and a prompt that is cut off."""

import threading

import numpy as np

from assistant.devices.voice.mouth import Mouth
from assistant.devices.voice.speech_engine import Speech, VoiceSettings
from assistant.devices.voice.synthesis import Samples, Voice

LIMIT_S = 20.0
LOST, BACK = "Lost the voice.", "The voice is back."


class _Engine:
    """Speech of one length; hangs while ``go_on`` is not set, fails at what ``fails`` names."""

    def __init__(self) -> None:
        self.fails = ""
        self.go_on = threading.Event()
        self.go_on.set()
        self.begun = threading.Event()
        self.made: list[str] = []

    def synthesise(self, text: str, _settings: VoiceSettings) -> Speech:
        self.begun.set()
        assert self.go_on.wait(LIMIT_S)
        if text == self.fails:
            raise RuntimeError("nothing comes")
        self.made.append(text)
        return Speech(np.full(800, 5_000, np.int16), 16_000)


class _Speaker:
    def __init__(self) -> None:
        self.played = 0

    def play(self, _samples: Samples, rate: int) -> None:
        self.played += rate == 16_000

    def cut_off(self) -> None:
        pass


class _Bench:
    """A mouth whose losses are answered as the dialogue does: told, and asked again when back."""

    def __init__(self, limit_s: float = 0.05) -> None:
        self.engine, self.speaker = _Engine(), _Speaker()
        self.voice = Voice(engine=self.engine, limit_s=limit_s)
        self.mouth = Mouth(self.voice, self.speaker, self._report)  # type: ignore[arg-type]
        self.told: list[str] = []
        self.new = threading.Event()
        self._answered = 0

    def _report(self, reason: str | None) -> None:
        self.told.append("back" if reason is None else "lost")
        self.new.set()

    def ask(self, question: str) -> None:
        """Say it, and whatever follows from that until nothing more does."""
        self.mouth.say(question)
        while self._answered < len(self.told) < 20:
            lost = self.told[self._answered] == "lost"
            self._answered += 1
            for text in (LOST,) if lost else (BACK, question):
                self.mouth.say(text)


def test_what_was_spoken_before_does_not_tell_that_a_voice_is_back() -> None:
    bench = _Bench()
    bench.voice.synthesise(BACK)
    bench.engine.go_on.clear()
    for question in ("Say locked.", BACK, "Right?"):
        bench.ask(question)
    assert bench.told == ["lost"]
    bench.engine.go_on.set()


def test_a_voice_that_was_late_is_back_with_its_answer_and_asks_again() -> None:
    bench = _Bench()
    bench.engine.go_on.clear()
    bench.ask("Say locked.")
    assert (bench.told, bench.speaker.played) == (["lost"], 0)
    bench.new.clear()
    bench.engine.go_on.set()
    assert bench.new.wait(LIMIT_S)
    bench.ask("Say locked.")
    assert bench.told == ["lost", "back"]
    assert bench.speaker.played == 3


def test_a_text_at_which_the_voice_always_fails_is_told_once() -> None:
    bench = _Bench(LIMIT_S)
    bench.engine.fails = "Say locked."
    bench.ask("Say locked.")
    bench.ask("Right?")
    assert bench.told == ["lost", "back"]
    bench.ask("Say locked.")
    assert bench.told == ["lost", "back"]
    bench.engine.fails = "Front?"
    bench.ask("Front?")
    assert bench.told == ["lost", "back"] * 2


def test_what_is_cut_off_is_not_made_to_its_end() -> None:
    bench = _Bench(LIMIT_S)
    bench.engine.go_on.clear()
    bench.engine.begun.clear()
    saying = threading.Thread(target=bench.mouth.say, args=("Lock the table. Say locked.",))
    saying.start()
    assert bench.engine.begun.wait(LIMIT_S)
    bench.mouth.cut_off()
    bench.engine.go_on.set()
    saying.join(LIMIT_S)
    assert bench.engine.made == ["zero", "Lock the table."]
    assert bench.speaker.played == 0
    bench.ask("Right?")
    assert bench.speaker.played == 1
