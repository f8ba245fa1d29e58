"""PortAudio, by way of sounddevice: loaded late, listed, found by name, started again.

Everything that calls PortAudio is here; microphone and speaker only know the protocol, so
that tests can stand in for the hardware. Nothing starts at import.
"""

import importlib
import json
import re
import subprocess
import sys
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, Literal, Protocol

from assistant.devices.faults import DeviceFault

DeviceKind = Literal["microphone", "speaker"]

NO_PORTAUDIO = "install it (Debian: apt install libportaudio2) and start again"

Fill = Callable[[memoryview, int], None]
"""Called from PortAudio's thread with int16 frames, interleaved, and their number."""


BLOCK_S: dict[DeviceKind, float] = {"microphone": 0.032, "speaker": 0.01}
"""Seconds of sound that are asked for at a time.

As long as the voice detector's chunks, so that no chunk waits for the rest of its block; and a
tone must start soon.
"""


@dataclass(frozen=True, slots=True)
class SoundDevice:
    """One entry of PortAudio's list. ``rate``: its usual samples per second."""

    index: int
    name: str
    inputs: int
    outputs: int
    rate: int
    default_input: bool = False
    default_output: bool = False

    def channels(self, kind: DeviceKind) -> int:
        """How many channels it has for this use."""
        return self.inputs if kind == "microphone" else self.outputs

    def is_default(self, kind: DeviceKind) -> bool:
        """Whether the system would choose it."""
        return self.default_input if kind == "microphone" else self.default_output


class Stream(Protocol):
    """An open, running stream."""

    rate: int
    channels: int
    latency_s: float

    def active(self) -> bool:
        """Whether PortAudio still runs it."""

    def close(self) -> None:
        """Stop it at once; may be called twice and never raises."""


class SoundLibrary(Protocol):
    """What microphone and speaker need of PortAudio."""

    def devices(self) -> tuple[SoundDevice, ...]:
        """The devices as of the last start."""

    def open(self, kind: DeviceKind, device: SoundDevice, fill: Fill) -> Stream:
        """Open and start; raises ``DeviceFault``."""

    def look_again(self) -> None:
        """Notice devices that came or went. Open streams may stop; reopen them then."""


def without_card(name: str) -> str:
    """A device's name without its card number, which changes from plug to plug.

    >>> without_card("USB Microphone: Audio (hw:2,0)")
    'USB Microphone: Audio'
    """
    return re.sub(r"\s*\((?:plug)?hw:[^)]*\)\s*$", "", name).strip()


def plain_name(name: str) -> str:
    """What names are compared by."""
    return without_card(name).casefold()


def find(devices: Sequence[SoundDevice], kind: DeviceKind, wanted: str | None) -> SoundDevice:
    """The device of this name, or of which this is a part; None takes the system's default.

    Raises ``DeviceFault`` that lists what there is.
    """
    usable = [device for device in devices if device.channels(kind) > 0]
    if not usable:
        raise DeviceFault(kind, f"there is no {kind}", "plug one in, or use keypad and typing")
    if not wanted:
        return next((device for device in usable if device.is_default(kind)), usable[0])
    looked_for = plain_name(wanted)
    same = [device for device in usable if plain_name(device.name) == looked_for]
    partly = [device for device in usable if looked_for in plain_name(device.name)]
    found = same or partly
    if found and len({plain_name(device.name) for device in found}) == 1:
        return found[0]
    names = ", ".join(dict.fromkeys(device.name for device in found or usable))
    if found:
        raise DeviceFault(kind, f"{wanted!r} fits several", f"choose one of: {names}")
    raise DeviceFault(kind, f"there is no {wanted!r}", f"plug it in, or choose one of: {names}")


class PortAudio:
    """PortAudio itself. Calls are one at a time, since it is not safe in threads.

    The library is one for the whole process, so all objects of this class share its lock and
    its open streams: to start it again ends every stream, whoever opened it.
    """

    _lock = threading.RLock()
    _open: ClassVar[list["_PortAudioStream"]] = []

    def __init__(self, kind: DeviceKind = "microphone") -> None:
        """Load it. Raises ``DeviceFault`` for the device that is asked about."""
        try:
            # The import itself starts PortAudio, hence not at the top of this file.
            self._sounddevice: Any = importlib.import_module("sounddevice")
        except ImportError as error:
            raise DeviceFault(
                kind, "the sounddevice package is missing", "install it with pip"
            ) from error
        except OSError as error:
            raise DeviceFault(kind, "PortAudio is missing", NO_PORTAUDIO) from error

    def devices(self) -> tuple[SoundDevice, ...]:
        """See ``SoundLibrary.devices``."""
        with self._lock:
            default_in, default_out = self._sounddevice.default.device
            return tuple(
                SoundDevice(
                    index=int(row["index"]),
                    name=str(row["name"]),
                    inputs=int(row["max_input_channels"]),
                    outputs=int(row["max_output_channels"]),
                    rate=round(row["default_samplerate"]),
                    default_input=row["index"] == default_in,
                    default_output=row["index"] == default_out,
                )
                for row in self._sounddevice.query_devices()
            )

    def open(self, kind: DeviceKind, device: SoundDevice, fill: Fill) -> Stream:
        """See ``SoundLibrary.open``. One channel at 16 kHz if the device can, else its own."""
        reasons: list[str] = []
        with self._lock:
            for rate, channels in _tries(kind, device):
                try:
                    stream = _PortAudioStream(self._sounddevice, kind, device, rate, channels, fill)
                except self._sounddevice.PortAudioError as error:
                    reasons.append(" ".join(str(error).split()))
                    continue
                self._open[:] = [each for each in self._open if each.active()]
                self._open.append(stream)
                return stream
        raise DeviceFault(
            kind,
            f"{device.name!r} does not open ({reasons[0] if reasons else 'no channels'})",
            "close other programs that use it, or choose another",
        )

    def look_again(self) -> None:
        """See ``SoundLibrary.look_again``. Starts PortAudio again only if there is news.

        It looks for devices only when it starts, and starting again stops a stream that
        works; so another process looks first.
        """
        there = _listed_elsewhere()
        if there is None or there == [_seen(device) for device in self.devices()]:
            return
        with self._lock:
            for stream in self._open:
                stream.close()
            self._open.clear()
            # sounddevice has no public name for these two; its documentation gives them.
            self._sounddevice._terminate()
            self._sounddevice._initialize()


def _seen(device: SoundDevice) -> list[str | int]:
    return [device.name, device.inputs, device.outputs]


LISTING_S = 10.0
"""How long another process may take to list the devices."""

_LIST_DEVICES = """
import json, sounddevice
names = ("name", "max_input_channels", "max_output_channels")
print(json.dumps([[row[name] for name in names] for row in sounddevice.query_devices()]))
"""


def _listed_elsewhere() -> list[list[str | int]] | None:
    """The devices as a new process sees them; None when it cannot tell."""
    try:
        done = subprocess.run(
            [sys.executable, "-c", _LIST_DEVICES],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            timeout=LISTING_S,
            check=True,
        )
        listed: list[list[str | int]] = json.loads(done.stdout)
    except (OSError, subprocess.SubprocessError, ValueError):
        return None
    return listed


def _tries(kind: DeviceKind, device: SoundDevice) -> list[tuple[int, int]]:
    """Rates and channels in the order of trial, best first."""
    most = device.channels(kind)
    own = device.rate or 48_000
    # Speech is wanted at 16 kHz; sound goes out best at the device's own rate.
    rates = (16_000, own, 48_000, 44_100) if kind == "microphone" else (own, 48_000, 44_100)
    channels = [count for count in (1, 2, most) if 0 < count <= most]
    pairs = [(rate, count) for count in dict.fromkeys(channels) for rate in rates]
    return list(dict.fromkeys(pairs))


class _PortAudioStream:
    """One stream; its callback copies and nothing else."""

    def __init__(
        self,
        sounddevice: Any,
        kind: DeviceKind,
        device: SoundDevice,
        rate: int,
        channels: int,
        fill: Fill,
    ) -> None:
        self.rate = rate
        self.channels = channels
        opener = sounddevice.RawInputStream if kind == "microphone" else sounddevice.RawOutputStream

        def callback(data: Any, frames: int, _time: object, _status: object) -> None:
            fill(memoryview(data), frames)

        self._stream: Any = opener(
            samplerate=rate,
            channels=channels,
            dtype="int16",
            device=device.index,
            blocksize=round(rate * BLOCK_S[kind]),
            # Sound taken in must outlast a recogniser that holds the interpreter's lock; it
            # is delivered block by block all the same.
            latency=0.1 if kind == "microphone" else 0.03,
            callback=callback,
        )
        self._closed = False
        self._error: type[Exception] = sounddevice.PortAudioError
        try:
            self._stream.start()
        except self._error:
            self.close()
            raise
        self.latency_s = float(self._stream.latency)

    def active(self) -> bool:
        """See ``Stream.active``."""
        try:
            return not self._closed and bool(self._stream.active)
        except self._error:
            return False

    def close(self) -> None:
        """See ``Stream.close``."""
        if self._closed:
            return
        self._closed = True
        self._stream.close(ignore_errors=True)
