"""A sound card that is not there: blocks come and go at the pace of the clock.

For benchmarks of the live loop on machines without devices. What it plays is looked at, not
heard.
"""

import threading
import time

import numpy as np
import numpy.typing as npt

from assistant.devices.sound.library import BLOCK_S, DeviceKind, Fill, SoundDevice, Stream

Samples = npt.NDArray[np.int16]

MICROPHONE_RATE, SPEAKER_RATE = 16_000, 48_000
ROOM = 20.0
"""Root mean square of the room's noise, in units of sample value."""

_DEVICES = (
    SoundDevice(0, "pretended microphone", 1, 0, MICROPHONE_RATE, default_input=True),
    SoundDevice(1, "pretended speaker", 0, 1, SPEAKER_RATE, default_output=True),
)


class _Paced:
    """A stream on a thread of its own."""

    latency_s = 0.0
    channels = 1

    def __init__(self, rate: int, block_s: float) -> None:
        self.rate = rate
        self._block_s = block_s
        self._frames = round(rate * block_s)
        self._end = threading.Event()
        self._thread = threading.Thread(target=self._run, name="pretended device", daemon=True)
        self.due = 0.0
        """When the block under way was due: a card keeps time, however busy the processor is."""

    def start(self) -> None:
        self._thread.start()

    def active(self) -> bool:
        return self._thread.is_alive()

    def close(self) -> None:
        self._end.set()

    def _run(self) -> None:
        self.due = time.monotonic()
        while not self._end.wait(max(0.0, self.due - time.monotonic())):
            self.block(self._frames)
            self.due += self._block_s

    def block(self, frames: int) -> None:
        raise NotImplementedError


class PacedMicrophone(_Paced):
    """Gives the room's noise, and what is put into its mouthpiece on top."""

    def __init__(self) -> None:
        super().__init__(MICROPHONE_RATE, BLOCK_S["microphone"])
        self.fill: Fill | None = None
        self.ended_at = 0.0
        self._lock = threading.Lock()
        self._waiting = np.zeros(0, np.int16)
        self._chance = np.random.default_rng(1)

    def say(self, samples: Samples) -> None:
        """Speak; returns at once. ``ended_at`` is then when the last sample was taken."""
        with self._lock:
            self._waiting = np.concatenate([self._waiting, samples])

    def saying(self) -> bool:
        """Whether it is still speaking."""
        with self._lock:
            return len(self._waiting) > 0

    def block(self, frames: int) -> None:
        """Deliver one block, as PortAudio would."""
        sound = ROOM * self._chance.standard_normal(frames)
        with self._lock:
            part, self._waiting = self._waiting[:frames], self._waiting[frames:]
            over = len(part) > 0 and not len(self._waiting)
        sound[: len(part)] += part
        if over:
            self.ended_at = self.due - (frames - len(part)) / self.rate
        data = np.clip(sound, -32768, 32767).astype(np.int16)
        if self.fill is not None:
            self.fill(memoryview(data.tobytes()), frames)


class PacedSpeaker(_Paced):
    """Takes what is played and notes when each stretch of sound begins."""

    def __init__(self) -> None:
        super().__init__(SPEAKER_RATE, BLOCK_S["speaker"])
        self.fill: Fill | None = None
        self.blocks: list[tuple[float, int, int]] = []
        """When a block with sound was taken, and its first and last sample that is not zero."""

    def block(self, frames: int) -> None:
        """Take one block, as PortAudio would."""
        room = bytearray(2 * frames)
        if self.fill is None:
            return
        self.fill(memoryview(room), frames)
        loud = np.flatnonzero(np.frombuffer(bytes(room), np.int16))
        if len(loud):
            self.blocks.append((time.monotonic(), int(loud[0]), int(loud[-1])))

    def last_sound_at(self) -> float:
        """When the last sound was taken; long ago if there was none."""
        return self.blocks[-1][0] if self.blocks else float("-inf")

    def sound_after(self, at: float) -> float | None:
        """When the first sound at or after this time was taken; None if there was none."""
        for taken, first, last in self.blocks:
            if taken + last / self.rate >= at:
                return max(at, taken + first / self.rate)
        return None


class PacedSound:
    """Both as a ``SoundLibrary``."""

    def __init__(self) -> None:
        self.microphone = PacedMicrophone()
        self.speaker = PacedSpeaker()

    def devices(self) -> tuple[SoundDevice, ...]:
        """See ``SoundLibrary.devices``."""
        return _DEVICES

    def look_again(self) -> None:
        """See ``SoundLibrary.look_again``: they never go."""

    def open(self, kind: DeviceKind, device: SoundDevice, fill: Fill) -> Stream:
        """See ``SoundLibrary.open``; each once."""
        del device
        stream = self.microphone if kind == "microphone" else self.speaker
        stream.fill = fill
        stream.start()
        return stream
