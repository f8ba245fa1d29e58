"""A numeric keypad read directly as a Linux input device: it needs no focus and no terminal.

Optional: needs the ``evdev`` package (extra ``keypad``). Only a keypad that is a device of
its own is taken, and taken for us alone; the keypad of a keyboard stays with the terminal.
"""

import importlib
import os
import select
import sys
import threading
from collections.abc import Callable, Iterable
from pathlib import Path
from types import TracebackType
from typing import Any, Protocol

from assistant.devices.faults import DeviceFault
from assistant.devices.sound.lifeline import Report

KEY_OF_CODE: dict[int, str] = {
    82: "0", 79: "1", 80: "2", 81: "3", 75: "4", 76: "5", 77: "6", 71: "7", 72: "8", 73: "9",
    83: ".", 121: ".", 78: "+", 74: "-", 55: "*", 98: "/", 96: "enter",
}  # fmt: skip
"""KEY_KP0 and so on of linux/input-event-codes.h; they do not depend on Num Lock."""

LETTER_A = 30
"""KEY_A: a device that has it is a keyboard."""

EVENT_KEY = 1
PRESSED = 1

LOOK_AGAIN_S = 1.0

INPUT_GROUP = "join the input group (sudo usermod -aG input $USER), then log in again"


class KeypadDevice(Protocol):
    """What is used of evdev's InputDevice."""

    name: str
    fd: int

    def capabilities(self) -> dict[int, list[Any]]:
        """Event types and codes that the device can send."""

    def read(self) -> Iterable[Any]:
        """The events that wait, each with type, code and value."""

    def grab(self) -> None:
        """Take the device for this program alone."""

    def close(self) -> None:
        """Let it go."""


def is_keypad(capabilities: dict[int, list[Any]]) -> bool:
    """Tell whether a device has a keypad's keys and is not a whole keyboard."""
    codes = {code for code in capabilities.get(EVENT_KEY, ()) if isinstance(code, int)}
    needed = {code for code, key in KEY_OF_CODE.items() if key in "0123456789" or key == "enter"}
    return needed <= codes and LETTER_A not in codes


def find_keypad(
    folder: Path = Path("/dev/input"), opener: Callable[[str], KeypadDevice] | None = None
) -> KeypadDevice:
    """Open the first keypad. Raises ``DeviceFault`` that says what to do."""
    if not sys.platform.startswith("linux"):
        raise DeviceFault("keypad", "input devices are read on Linux only", "use the terminal")
    if opener is None:
        opener = _evdev()
    paths = sorted(folder.glob("event*"), key=lambda path: (len(path.name), path.name))
    forbidden = [path for path in paths if not os.access(path, os.R_OK)]
    for path in paths:
        if path in forbidden:
            continue
        try:
            device = opener(str(path))
        except OSError:
            # Pulled out between the listing and now; the next look will not list it.
            continue
        if is_keypad(device.capabilities()):
            return device
        device.close()
    if forbidden:
        raise DeviceFault("keypad", "no permission to read input devices", INPUT_GROUP)
    raise DeviceFault("keypad", "there is no separate numeric keypad", "plug one in")


def _evdev() -> Callable[[str], KeypadDevice]:
    try:
        opener: Callable[[str], KeypadDevice] = importlib.import_module("evdev").InputDevice
    except ImportError as error:
        raise DeviceFault(
            "keypad", "the evdev package is missing", "pip install 'sweepsay[keypad]'"
        ) from error
    return opener


class InputDeviceKeys:
    """Tells every key of the keypad, looks for it again when it is pulled out.

    ``told`` gets a key's name, from a thread. ``report`` is told the reason when the keypad
    is lost and None when it is back. The first look is made in the constructor and raises
    ``DeviceFault``.
    """

    def __init__(
        self,
        told: Callable[[str], None],
        report: Report,
        find: Callable[[], KeypadDevice] = find_keypad,
    ) -> None:
        self._told, self._report, self._find = told, report, find
        self._device: KeypadDevice | None = _taken(find())
        self.name = self._device.name
        self._wake_read, self._wake_write = os.pipe()
        self._thread = threading.Thread(target=self._run, name="keypad device", daemon=True)

    def __enter__(self) -> "InputDeviceKeys":
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        os.write(self._wake_write, b".")
        self._thread.join(2.0)
        os.close(self._wake_write)
        os.close(self._wake_read)
        if self._device is not None:
            self._device.close()

    def _run(self) -> None:
        while True:
            device = self._device
            if device is None:
                if select.select([self._wake_read], [], [], LOOK_AGAIN_S)[0]:
                    return
                self._look()
                continue
            if self._wake_read in select.select([self._wake_read, device.fd], [], [])[0]:
                return
            try:
                self._tell(device)
            except OSError as error:
                device.close()
                self._device = None
                self._report(error.strerror or "it was pulled out")

    def _tell(self, device: KeypadDevice) -> None:
        for event in device.read():
            if event.type == EVENT_KEY and event.value == PRESSED and event.code in KEY_OF_CODE:
                self._told(KEY_OF_CODE[event.code])

    def _look(self) -> None:
        try:
            self._device = _taken(self._find())
        except DeviceFault:
            return
        self._report(None)


def _taken(device: KeypadDevice) -> KeypadDevice:
    try:
        device.grab()
    except OSError as error:
        device.close()
        raise DeviceFault(
            "keypad", "another program holds the keypad", "close that program"
        ) from error
    return device
