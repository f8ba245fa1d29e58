"""A sound library without hardware: devices appear, vanish and deliver when told to."""

import numpy as np
import numpy.typing as npt

from assistant.devices.faults import DeviceFault
from assistant.devices.sound.library import DeviceKind, Fill, SoundDevice, Stream

MIC = SoundDevice(0, "USB Microphone: Audio (hw:1,0)", 2, 0, 44_100, default_input=True)
OUT = SoundDevice(1, "Shop Speaker: Analog (hw:0,0)", 0, 2, 48_000, default_output=True)


class StandInStream:
    def __init__(self, fill: Fill, rate: int, channels: int) -> None:
        self.rate = rate
        self.channels = channels
        self.latency_s = 0.0
        self.fill = fill
        self.runs = True

    def active(self) -> bool:
        return self.runs

    def close(self) -> None:
        self.runs = False

    def deliver(self, samples: npt.NDArray[np.int16]) -> None:
        """As PortAudio would: frames of interleaved channels."""
        frames = np.repeat(samples[:, None], self.channels, axis=1)
        self.fill(memoryview(np.ascontiguousarray(frames).tobytes()), len(samples))

    def take(self, frames: int) -> npt.NDArray[np.int16]:
        """What the device would play: the first of its channels, after a look at all."""
        room = bytearray(b"\x7f" * (frames * self.channels * 2))
        self.fill(memoryview(room), frames)
        out = np.frombuffer(bytes(room), np.int16).reshape(frames, -1)
        assert (out == out[:, :1]).all()
        return out[:, 0]


class StandInLibrary:
    """``present`` is what a look finds; ``form`` what the next stream runs at."""

    def __init__(self, *present: SoundDevice, form: tuple[int, int] = (16_000, 1)) -> None:
        self.present = list(present)
        self.form = form
        self.refuses = ""
        self.looks = 0
        self.streams: list[StandInStream] = []
        self._known = list(present)

    def devices(self) -> tuple[SoundDevice, ...]:
        return tuple(self._known)

    def look_again(self) -> None:
        self.looks += 1
        self._known = list(self.present)

    def open(self, kind: DeviceKind, device: SoundDevice, fill: Fill) -> Stream:
        if self.refuses or device not in self.present:
            raise DeviceFault(kind, self.refuses or "it is gone", "plug it in")
        stream = StandInStream(fill, *self.form)
        self.streams.append(stream)
        return stream


class Clock:
    """Time that stands still until it is moved."""

    def __init__(self) -> None:
        self.now = 1_000.0

    def __call__(self) -> float:
        return self.now
