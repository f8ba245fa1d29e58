"""The start of a job: what takes long begins first, and the first prompt waits for no other."""

import subprocess
import sys
import threading
import time
from contextlib import ExitStack
from pathlib import Path

import pytest

from assistant.bench.live_bench import _frequent
from assistant.devices.ears.hearing import Recogniser
from assistant.devices.voice import synthesis
from assistant.devices.voice.speech_engine import SpeechEngine, VoiceSettings
from assistant.devices.voice.synthesis import Voice, sentences, start_engine
from tests.devices.stand_in_bench import LIMIT_S, StandInBench, StandInEngine, StandInRecogniser

HEAVY = ("numpy", "assistant.dialogue.step", "assistant.records.journal.journal", "prompt_toolkit")


def test_the_command_begins_with_the_voice_and_imports_the_rest_meanwhile() -> None:
    found = subprocess.run(
        [
            sys.executable,
            "-c",
            "import sys, assistant.commands.run; "
            f"print([name for name in {HEAVY} if name in sys.modules])",
        ],
        capture_output=True,
        text=True,
        check=True,
    )
    assert found.stdout.strip() == "[]"


def test_the_engine_loads_before_anybody_makes_a_voice(monkeypatch: pytest.MonkeyPatch) -> None:
    opened = threading.Semaphore(0)
    times = []

    def open_engine() -> SpeechEngine:
        times.append(time.monotonic())
        opened.release()
        return StandInEngine()

    monkeypatch.setattr(synthesis, "_worker", None)
    monkeypatch.setattr(synthesis, "open_engine", open_engine)
    start_engine()
    assert opened.acquire(timeout=LIMIT_S)
    start_engine()
    Voice().synthesise("Front?")
    assert len(times) == 1


def test_the_first_prompt_is_spoken_before_those_that_may_follow(tmp_path: Path) -> None:
    stand_in = StandInBench(tmp_path)
    bench, engine = stand_in.bench, stand_in.engine
    with stand_in._stack, ExitStack() as devices:
        bench.open(devices)
        bench.end()
        bench.play()
        until = time.monotonic() + LIMIT_S
        frequent = [one for text in _frequent() for one in sentences(text)]
        while not set(frequent) <= set(engine.spoken) and time.monotonic() < until:
            time.sleep(0.01)
        first = sentences(stand_in.said[0])
        assert engine.spoken[: 1 + len(first)] == ["zero", *first]
        assert set(frequent) <= set(engine.spoken)


def test_the_microphone_opens_while_the_voice_loads(tmp_path: Path) -> None:
    stand_in = StandInBench(tmp_path)
    make = stand_in._voice

    def slow(settings: VoiceSettings) -> Voice:
        until = time.monotonic() + LIMIT_S
        while not stand_in.microphone.streams and time.monotonic() < until:
            time.sleep(0.01)
        stand_in.microphone.streams[-1].deliver(stand_in.quiet_block())
        return make(settings)

    waiting: list[int] = []

    def recogniser() -> Recogniser:
        microphone = stand_in.bench._microphone
        assert microphone is not None
        waiting.append(microphone._queue.qsize())
        return StandInRecogniser(stand_in)

    stand_in.bench._around = stand_in.bench._around.__class__(
        stand_in._library, slow, patience=stand_in.bench._around.patience
    )
    stand_in.bench._make_recogniser = recogniser
    with stand_in.running() as bench:
        assert bench.hears
        until = time.monotonic() + LIMIT_S
        while not waiting and time.monotonic() < until:
            time.sleep(0.01)
    assert waiting == [0], "what was said before the first question answers nothing"
