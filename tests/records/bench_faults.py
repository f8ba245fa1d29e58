"""The faults of the bench for the fault table: each provoked at a whole bench of stand-ins.

What is read is what goes to the error stream, what is heard the prompts, with the first
question of the job left out.
"""

import os
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from unittest.mock import patch

import numpy as np
from prompt_toolkit.input import create_pipe_input
from prompt_toolkit.output import DummyOutput

from assistant.bench.timekeeping import ClockWatch
from assistant.bench.wishes import Wishes
from assistant.devices.ears import listener
from assistant.devices.faults import DeviceFault
from assistant.devices.keys import input_device
from assistant.devices.keys.input_device import InputDeviceKeys
from assistant.devices.screen.terminal import Screen
from assistant.devices.sound.lifeline import Lifeline
from assistant.devices.sound.settings import SoundSettings
from assistant.devices.text.printer import Printer
from assistant.dialogue.messages import TURNED_DOWN, Device, Event, Heard, RoomNoise, Say
from assistant.dialogue.view import view
from assistant.records.faults import RecordError
from assistant.records.journal import kept_audio
from assistant.records.journal.journal import Journal
from tests.devices.sound_stand_in import StandInLibrary
from tests.devices.stand_in_bench import LIMIT_S, StandInBench
from tests.devices.test_keypad import _Device

Provoke = Callable[[StandInBench], None]


def told(folder: Path, provoke: Provoke, wishes: Wishes | None = None) -> str:
    """What is read and heard of a fault."""
    stand_in = StandInBench(folder, wishes)
    with stand_in.running():
        stand_in.effects.clear()
        provoke(stand_in)
    read = [line.removeprefix("sweepsay: ") for line in stand_in.err.getvalue().splitlines()]
    return " / ".join([*dict.fromkeys(read), *(f'"{text}"' for text in stand_in.said)])


def _pulled_out(stand_in: StandInBench, device: Device = "microphone") -> None:
    library = stand_in.microphone if device == "microphone" else stand_in.speaker
    there = list(library.present)
    library.present.clear()
    library.streams[-1].runs = False
    stand_in.until_lost(device)
    opened = len(library.streams)
    library.present += there
    while len(library.streams) == opened:
        pass
    stream = library.streams[-1]
    if device == "microphone":
        stream.deliver(stand_in.quiet_block())
    else:
        stream.take(480)
    stand_in.until_back(device)


def _hanging_library(stand_in: StandInBench) -> None:
    go_on = threading.Event()
    stream = stand_in.microphone.streams[-1]
    with (
        patch.object(Lifeline, "CALL_S", 0.05),
        patch.object(stream, "close", lambda: go_on.wait(LIMIT_S)),
    ):
        stream.runs = False
        stand_in.until_lost("microphone")
        go_on.set()


def _recogniser_fails(stand_in: StandInBench) -> None:
    stand_in.fails = "out of memory"
    stand_in.talk()
    stand_in.until_back("recogniser")


def _recogniser_hangs(stand_in: StandInBench, times: int = 1) -> None:
    with patch.object(listener, "ANSWER_S", 0.05), patch.object(listener, "MOST_HANGING", 1):
        stand_in.hangs = times
        for number in range(times):
            stand_in.talk()
            stand_in.until_lost("recogniser")
            if number < 1:
                stand_in.until_back("recogniser")
        stand_in.go_on.set()


def _voice(stand_in: StandInBench, *, hangs: bool) -> None:
    stand_in.forget_speech()
    stand_in.engine.fails = "" if hangs else "out of memory"
    if hangs:
        stand_in.engine.go_on.clear()
    stand_in.bench.key("enter")
    stand_in.until_lost("voice")
    stand_in.engine.fails = ""
    stand_in.engine.go_on.set()
    before = len(stand_in.effects)
    state = stand_in.bench.loop.state
    while state is not None and "voice" in state.lost:
        # The late answer may take a moment; what is said meanwhile is not news.
        del stand_in.effects[before:]
        stand_in.bench.key("*")
        stand_in.next()
        state = stand_in.bench.loop.state


def _keypad(stand_in: StandInBench) -> None:
    device, gone = _Device("keypad"), threading.Event()

    def find() -> _Device:
        if gone.is_set():
            raise DeviceFault("keypad", "none", "plug one in")
        return device

    with (
        patch.object(input_device, "LOOK_AGAIN_S", 0.01),
        InputDeviceKeys(stand_in.bench.key, stand_in.bench.report("keypad"), find),
    ):
        gone.set()
        device.pull_out()
        stand_in.until_lost("keypad")


class _Torn(DummyOutput):
    """A terminal that went away."""

    def write(self, data: str) -> None:
        raise OSError(5, f"Input/output error{data[:0]}")

    write_raw = write


def _screen(stand_in: StandInBench) -> None:
    state = stand_in.bench.loop.state
    assert state is not None
    with create_pipe_input() as keys:
        screen = Screen(print, stand_in.bench.report("screen"), source=keys, output=_Torn())
        with screen:
            screen.show(view(state))
            stand_in.until_lost("screen")


def _stopped_terminal(stand_in: StandInBench) -> None:
    source, target = os.pipe()
    os.set_blocking(target, False)
    with open(target, "w", closefd=True) as out, open(source, "rb") as reader:
        while _written(target):
            pass
        os.set_blocking(target, True)
        printer = Printer(out, stand_in.bench.report("screen"), stuck_s=0.05)
        stand_in.bench._checks.append(printer.check)
        with printer:
            printer.line("anybody?")
            stand_in.until_lost("screen")
            reader.read1(1 << 20)
            stand_in.until_back("screen")


def _written(target: int) -> bool:
    try:
        return os.write(target, b"." * 4096) > 0
    except BlockingIOError:
        return False


def _reader_gone(stand_in: StandInBench) -> None:
    source, target = os.pipe()
    os.close(source)
    with open(target, "w") as out, Printer(out, stand_in.bench.report("screen")) as printer:
        printer.line("anybody?")
        stand_in.until_lost("screen")


def _slow_disk(stand_in: StandInBench) -> None:
    real, said = Journal.append, threading.Event()
    mouth = stand_in.bench._mouth
    assert mouth is not None
    speak = mouth.say

    def say(text: str) -> None:
        stand_in.effects.append(Say(text))
        speak(text)
        said.set()

    def slow(journal: Journal, job_id: str, event: Event) -> int:
        assert said.wait(LIMIT_S)
        return real(journal, job_id, event)

    with (
        patch("assistant.bench.live_bench.SLOW_DISK_S", 0.05),
        patch.object(Journal, "append", slow),
        patch.object(mouth, "say", say),
    ):
        stand_in.bench.key("5")
        stand_in.next()


@contextmanager
def _refusing(code: str) -> Iterator[None]:
    def refuse(journal: Journal, _job_id: str, _event: Event) -> int:
        raise RecordError(code, f"record {journal.path}: refused")  # type: ignore[arg-type]

    with patch.object(Journal, "append", refuse):
        yield


def _owed(stand_in: StandInBench) -> None:
    """A device is lost while the disk takes nothing; told when it does again."""
    with _refusing("full"):
        stand_in.bench.report("microphone")("it was pulled out")
        stand_in.next()
    stand_in.bench.key("5")
    stand_in.next()


def _clock(stand_in: StandInBench, by_s: float) -> None:
    times = [1_000.0, 1_000.0 + by_s]
    watch = ClockWatch(lambda: times.pop(0) if len(times) > 1 else times[0], lambda: 0.0)
    stand_in.bench.loop._clock_set = watch.set_by_s
    stand_in.bench.key("5")
    stand_in.next()


def _loud(stand_in: StandInBench) -> None:
    for too_loud in (True, False):
        stand_in.bench.mailbox.put(RoomNoise("2031", too_loud))
        stand_in.next()


def _endless(stand_in: StandInBench) -> None:
    """Somebody who never stops: the detector hears a voice for a minute."""
    stream = stand_in.microphone.streams[-1]
    for second in range(62):
        loud = 800 if second < 60 else 0
        stream.deliver(np.full(16_000, loud, np.int16))
        stand_in.drained()
    event = stand_in.next()
    assert isinstance(event, Heard)
    assert event.outcome in TURNED_DOWN


def _endless_told(folder: Path) -> str:
    with patch("assistant.devices.ears.endpoint.best_activity", _AlwaysVoice):
        return told(folder, _endless)


class _AlwaysVoice:
    def probability(self, chunk: "np.typing.NDArray[np.int16]") -> float:
        return float(np.any(chunk))

    def reset(self) -> None:
        """Nothing is remembered."""


def _audio_refused(stand_in: StandInBench) -> None:
    state = stand_in.bench.loop.state
    assert state is not None
    kept_audio.folder_of(stand_in.record, state.job).touch()
    stand_in.talk()
    stand_in.next()


def _missing_at_start(folder: Path) -> str:
    def none(kind: str) -> StandInLibrary:
        device: Device = "microphone" if kind == "microphone" else "speaker"
        raise DeviceFault(device, "PortAudio is missing", "install it")

    stand_in = StandInBench(folder)
    object.__setattr__(stand_in.bench._around, "library", none)
    with stand_in.running():
        stand_in.effects.clear()
        stand_in.until_lost("speaker")
    read = [line.removeprefix("sweepsay: ") for line in stand_in.err.getvalue().splitlines()]
    return " / ".join([*read, *(f'"{text}"' for text in stand_in.said)])


KEEPING = Wishes(sound=SoundSettings(headset=True), keep_audio=True)

BENCH_FAULTS: dict[str, Callable[[Path], str]] = {
    "there is no sound library": _missing_at_start,
    "the microphone is pulled out and put back": partial(told, provoke=_pulled_out),
    "the speaker is pulled out and put back": partial(
        told, provoke=partial(_pulled_out, device="speaker")
    ),
    "the sound library hangs": partial(told, provoke=_hanging_library),
    "the recogniser fails": partial(told, provoke=_recogniser_fails),
    "the recogniser hangs": partial(told, provoke=_recogniser_hangs),
    "every recogniser hangs": partial(told, provoke=partial(_recogniser_hangs, times=2)),
    "the voice fails": partial(told, provoke=partial(_voice, hangs=False)),
    "the voice hangs": partial(told, provoke=partial(_voice, hangs=True)),
    "the keypad is pulled out": partial(told, provoke=_keypad),
    "the screen cannot be drawn on": partial(told, provoke=_screen),
    "the terminal is stopped and goes on": partial(told, provoke=_stopped_terminal),
    "the program that reads us is gone": partial(told, provoke=_reader_gone),
    "the disk does not answer": partial(told, provoke=_slow_disk),
    "a device is lost while the disk is full": partial(told, provoke=_owed),
    "the clock is set back an hour": partial(told, provoke=partial(_clock, by_s=-3600.0)),
    "the clock is set forward a year": partial(told, provoke=partial(_clock, by_s=31_536_000.0)),
    "the room becomes too loud and quiet again": partial(told, provoke=_loud),
    "somebody talks for a minute without a pause": _endless_told,
    "sound that was asked to be kept cannot be": partial(
        told, provoke=_audio_refused, wishes=KEEPING
    ),
}
"""By the fault; each gives what is read and what is heard."""
