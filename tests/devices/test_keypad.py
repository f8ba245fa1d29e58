"""Keys of a keypad as terminals send them, through the library's parser and a real terminal."""

import os
import queue
import sys
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from prompt_toolkit.input import PipeInput, create_pipe_input
from prompt_toolkit.key_binding import KeyPress
from prompt_toolkit.keys import Keys

from assistant.devices.faults import DeviceFault
from assistant.devices.keys import input_device
from assistant.devices.keys.bounce import BOUNCE_S, Bounce
from assistant.devices.keys.input_device import (
    EVENT_KEY,
    KEY_OF_CODE,
    LETTER_A,
    InputDeviceKeys,
    find_keypad,
    is_keypad,
)
from assistant.devices.keys.keypad import (
    EndOfInput,
    Interrupt,
    Key,
    KeyDecoder,
    Line,
    Stroke,
    Talk,
)
from assistant.devices.keys.terminal_keys import TerminalKeys
from assistant.dialogue.keys import KEYS
from tests.devices.tmux_window import MISSING, TmuxWindow

# What terminals send, after XTerm Control Sequences (Dickey), "PC-Style Function Keys" and
# "VT220-Style Function Keys", and console_codes(4) for the Linux console.
NUM_LOCK_ON = {key: key for key in "0123456789.+-*/"} | {"enter": "\r"}
NUM_LOCK_OFF = {
    "0": "\x1b[2~", "1": "\x1b[F", "2": "\x1b[B", "3": "\x1b[6~", "4": "\x1b[D", "5": "\x1b[E",
    "6": "\x1b[C", "7": "\x1b[H", "8": "\x1b[A", "9": "\x1b[5~", ".": "\x1b[3~",
    "+": "+", "-": "-", "*": "*", "/": "/", "enter": "\r",
}  # fmt: skip
LINUX_CONSOLE = NUM_LOCK_OFF | {"1": "\x1b[4~", "7": "\x1b[1~", "5": "\x1b[G"}
CURSOR_APPLICATION = NUM_LOCK_OFF | {
    "1": "\x1bOF", "2": "\x1bOB", "4": "\x1bOD", "5": "\x1bOE", "6": "\x1bOC", "7": "\x1bOH",
    "8": "\x1bOA",
}  # fmt: skip
KEYPAD_APPLICATION = {
    "0": "\x1bOp", "1": "\x1bOq", "2": "\x1bOr", "3": "\x1bOs", "4": "\x1bOt", "5": "\x1bOu",
    "6": "\x1bOv", "7": "\x1bOw", "8": "\x1bOx", "9": "\x1bOy", ".": "\x1bOn", "+": "\x1bOk",
    "-": "\x1bOm", "*": "\x1bOj", "/": "\x1bOo", "enter": "\x1bOM",
}  # fmt: skip
TERMINALS = {
    "num lock on": NUM_LOCK_ON,
    "num lock off": NUM_LOCK_OFF,
    "linux console": LINUX_CONSOLE,
    "application cursor": CURSOR_APPLICATION,
    "application keypad": KEYPAD_APPLICATION,
    "comma": {".": ","},
}


@pytest.fixture
def pipe() -> Iterator[PipeInput]:
    with create_pipe_input() as made:
        yield made


def _strokes(pipe: PipeInput, sent: str, decoder: KeyDecoder | None = None) -> list[Stroke]:
    pipe.send_text(sent)
    return (decoder or KeyDecoder()).feed([*pipe.read_keys(), *pipe.flush_keys()], 0.0)


def test_every_key_of_the_dialogue_is_covered() -> None:
    for name, sent in TERMINALS.items():
        if name != "comma":
            assert set(sent) == set(KEYS)


@pytest.mark.parametrize("terminal", TERMINALS)
def test_each_key_in_each_mode(pipe: PipeInput, terminal: str) -> None:
    for key, sent in TERMINALS[terminal].items():
        assert _strokes(pipe, sent) == [Key(key)], f"{terminal}: {key} sends {sent!r}"


@pytest.mark.parametrize("terminal", ["num lock on", "num lock off", "application keypad"])
def test_a_whole_number_at_once(pipe: PipeInput, terminal: str) -> None:
    keys = ["-", "1", "5", ".", "5", "enter"]
    sent = "".join(TERMINALS[terminal][key] for key in keys)
    assert _strokes(pipe, sent) == [Key(key) for key in keys]


def test_a_sequence_may_come_byte_by_byte(pipe: PipeInput) -> None:
    decoder = KeyDecoder()
    told: list[Stroke] = []
    for character in "".join(KEYPAD_APPLICATION.values()) + "".join(NUM_LOCK_OFF.values()):
        pipe.send_text(character)
        told += decoder.feed(pipe.read_keys(), 0.0)
    told += decoder.feed(pipe.flush_keys(), 0.0)
    assert told == [Key(key) for key in (*KEYPAD_APPLICATION, *NUM_LOCK_OFF)]


def test_words_are_told_as_a_line(pipe: PipeInput) -> None:
    assert _strokes(pipe, "front plus 6.5\r") == [Line("front plus 6.5")]
    assert _strokes(pipe, "locked\n") == [Line("locked")]


def test_words_can_be_mended(pipe: PipeInput) -> None:
    decoder = KeyDecoder()
    assert _strokes(pipe, "lofk\x7f\x7fcked", decoder) == []
    assert decoder.words == "locked"
    assert _strokes(pipe, "\x15done", decoder) == []
    assert _strokes(pipe, "\r", decoder) == [Line("done")]
    assert _strokes(pipe, "x\x7f5", decoder) == [Key("5")], "an emptied line is not a line"


def test_keypad_keys_inside_a_line_belong_to_it(pipe: PipeInput) -> None:
    sent = "right " + KEYPAD_APPLICATION["-"] + NUM_LOCK_OFF["7"] + "\x1bOM"
    assert _strokes(pipe, sent) == [Line("right -7")]


def test_pasted_words(pipe: PipeInput) -> None:
    decoder = KeyDecoder()
    paste = KeyPress(Keys.BracketedPaste, "front plus six\r\nback zero\n\nle")
    assert decoder.feed([paste], 0.0) == [Line("front plus six"), Line("back zero")]
    assert decoder.words == "le"
    assert _strokes(pipe, "ft zero\r", decoder) == [Line("left zero")]


def test_the_other_keys(pipe: PipeInput) -> None:
    assert _strokes(pipe, " ") == [Talk()]
    assert _strokes(pipe, "\x03") == [Interrupt()]
    assert _strokes(pipe, "\x04") == [EndOfInput()]
    for sent in ("\x1bOP", "\x1b[15~", "\t", "\x7f", "\x1b", "\x1b[1;5C", "\x00"):
        assert _strokes(pipe, sent) == [], f"{sent!r} does nothing"


def test_a_lone_escape_does_not_eat_what_is_typed_later(pipe: PipeInput) -> None:
    decoder = KeyDecoder()
    pipe.send_text("\x1b")
    assert decoder.feed([*pipe.read_keys(), *pipe.flush_keys()], 0.0) == []
    pipe.send_text("Ok\r")
    assert decoder.feed(pipe.read_keys(), 1.0) == [Line("Ok")]


def test_endless_typing_stays_bounded(pipe: PipeInput) -> None:
    decoder = KeyDecoder()
    for _ in range(20):
        _strokes(pipe, "x" * 1_000, decoder)
    assert len(decoder.words) == 400


def test_the_thread_tells_strokes_and_the_end(pipe: PipeInput) -> None:
    told: queue.Queue[Stroke] = queue.Queue()
    with TerminalKeys(told.put, source=pipe):
        pipe.send_text("7\x1bOMdone\r")
        assert [told.get(timeout=30) for _ in range(3)] == [Key("7"), Key("enter"), Line("done")]
        pipe.close()
        assert told.get(timeout=30) == EndOfInput()


def test_without_a_terminal(tmp_path: Path) -> None:
    with (
        (tmp_path / "typed").open("w+") as stdin,
        pytest.raises(DeviceFault, match="keypad: this is not a terminal; start"),
    ):
        TerminalKeys(print, stdin=stdin)


@pytest.mark.skipif(bool(MISSING), reason=MISSING or "-")
@pytest.mark.parametrize("mode", ["numeric", "application"])
def test_in_a_real_terminal(mode: str) -> None:
    """tmux sends a keypad's keys as the program has set the keypad mode."""
    names = {key: f"KP{key}" for key in "0123456789.+-*/"} | {"enter": "KPEnter"}
    with TmuxWindow(["tests.devices.show_strokes", mode]) as window:
        window.wait_for("ready")
        window.press(*names.values())
        seen = window.wait_for("Key(name='enter')")
        told = [line for line in seen.splitlines() if line.startswith("Key")]
        assert told == [f"Key(name='{key}')" for key in names]
        window.press("Home", "Up", "PageUp", "Delete")
        window.wait_for(lambda seen: seen.count("Key(name='.')") == 2)
        window.type("back zero")
        window.press("Enter")
        window.wait_for("Line(text='back zero')")
        window.press("C-c")
        assert "ended 0" in window.wait_for("ended")


# -- read directly ---------------------------------------------------------------------------


@dataclass
class _Event:
    type: int
    code: int
    value: int


@dataclass
class _Device:
    """As evdev's InputDevice; what is put into ``events`` is read after ``press``."""

    path: str
    codes: list[int] = field(default_factory=lambda: list(KEY_OF_CODE))
    name: str = "Numeric Keypad"
    grabbed: bool = False
    closed: bool = False
    gone: bool = False

    def __post_init__(self) -> None:
        self.fd, self._write = os.pipe()
        self._events: list[_Event] = []

    def press(self, *events: _Event) -> None:
        self._events += events
        os.write(self._write, b".")

    def pull_out(self) -> None:
        self.gone = True
        os.write(self._write, b".")

    def capabilities(self) -> dict[int, list[Any]]:
        return {0: [], EVENT_KEY: list(self.codes), 4: [(0, object())]}

    def read(self) -> list[_Event]:
        os.read(self.fd, 1)
        if self.gone:
            raise OSError(19, "No such device")
        events, self._events = self._events, []
        return events

    def grab(self) -> None:
        self.grabbed = True

    def close(self) -> None:
        if not self.closed:
            self.closed = True
            os.close(self.fd)
            os.close(self._write)


def test_codes_are_those_of_the_kernel() -> None:
    """Against linux/input-event-codes.h, by way of evdev, which is compiled from it."""
    evdev = pytest.importorskip("evdev", reason="evdev not installed (pip install evdev)")
    names = {"*": "ASTERISK", "/": "SLASH", "+": "PLUS", "-": "MINUS", "enter": "ENTER"}
    for code, key in KEY_OF_CODE.items():
        expected = ["KPDOT", "KPCOMMA"] if key == "." else [f"KP{names.get(key, key)}"]
        assert code in [getattr(evdev.ecodes, f"KEY_{name}") for name in expected]
    assert evdev.ecodes.KEY_A == LETTER_A
    assert evdev.ecodes.EV_KEY == EVENT_KEY


def test_a_keypad_is_told_from_a_keyboard_and_a_mouse() -> None:
    keypad = list(KEY_OF_CODE)
    assert is_keypad({EVENT_KEY: keypad})
    assert not is_keypad({EVENT_KEY: [*keypad, LETTER_A]})
    assert not is_keypad({EVENT_KEY: [272, 273]})
    assert not is_keypad({})


def test_the_right_device_is_found(tmp_path: Path) -> None:
    for number in (0, 1, 2, 10):
        (tmp_path / f"event{number}").touch()
    made: list[_Device] = []

    def opener(path: str) -> _Device:
        if path.endswith("event1"):
            raise OSError(19, "No such device")
        keyboard = [*KEY_OF_CODE, LETTER_A]
        made.append(_Device(path, keyboard if path.endswith("event0") else list(KEY_OF_CODE)))
        return made[-1]

    found = find_keypad(tmp_path, opener)
    assert found is made[-1]
    assert made[-1].path.endswith("event2")
    assert made[0].closed
    found.close()


def test_what_to_do_when_there_is_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(DeviceFault, match="there is no separate numeric keypad; plug one in"):
        find_keypad(tmp_path, _Device)
    (tmp_path / "event0").touch()
    monkeypatch.setattr(os, "access", lambda *_args: False)
    with pytest.raises(DeviceFault, match="join the input group"):
        find_keypad(tmp_path, _Device)


def test_what_to_do_without_the_library(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "evdev", None)
    with pytest.raises(DeviceFault, match="evdev package is missing; pip install"):
        find_keypad()


def test_keys_pulled_out_and_put_back(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(input_device, "LOOK_AGAIN_S", 0.01)
    devices = [_Device("first"), _Device("second")]
    there = threading.Event()
    there.set()

    def find() -> _Device:
        if not there.is_set():
            raise DeviceFault("keypad", "none", "plug one in")
        return devices[0]

    told: queue.Queue[str] = queue.Queue()
    reports: queue.Queue[str | None] = queue.Queue()
    with InputDeviceKeys(told.put, reports.put, find) as keys:
        first, second = devices
        assert first.grabbed
        assert keys.name == "Numeric Keypad"
        down, held, up = (_Event(EVENT_KEY, 71, value) for value in (1, 2, 0))
        first.press(_Event(4, 4, 71), down, held, held, up, _Event(EVENT_KEY, 69, 1))
        first.press(_Event(EVENT_KEY, 96, 1))
        assert [told.get(timeout=30), told.get(timeout=30)] == ["7", "enter"]
        there.clear()
        del devices[0]
        first.pull_out()
        assert reports.get(timeout=30) == "No such device"
        there.set()
        assert reports.get(timeout=30) is None
        second.press(_Event(EVENT_KEY, 78, 1))
        assert told.get(timeout=30) == "+"
    assert first.closed
    assert second.closed
    assert told.empty(), "holding a key is one key, and Num Lock is none"


def test_a_keypad_that_another_program_holds() -> None:
    class Held(_Device):
        def grab(self) -> None:
            raise OSError(16, "Device or resource busy")

    device = Held("held")
    with pytest.raises(DeviceFault, match="another program holds the keypad"):
        InputDeviceKeys(print, print, lambda: device)
    assert device.closed


def test_a_second_enter_within_a_moment_is_no_second_answer() -> None:
    bounce = Bounce()
    assert bounce.counts("enter", 1.0)
    assert not bounce.counts("enter", 1.0 + 0.1 * BOUNCE_S)
    assert not bounce.counts("enter", 1.0 + 0.9 * BOUNCE_S)
    assert not bounce.counts("enter", 1.0 + 1.5 * BOUNCE_S), "the finger still trembles"
    assert bounce.counts("enter", 1.0 + 2.6 * BOUNCE_S)


def test_digits_signs_and_enter_after_them_all_count() -> None:
    bounce = Bounce()
    keys = ("enter", "1", "1", "-", "-", "enter", "/", "/")
    assert all(bounce.counts(key, 0.001 * place) for place, key in enumerate(keys))
