"""The speaker: sounds one after the other, cut off at once when told to.

Playing and keeping the device alive belong here; the voice and the tones come from
elsewhere as samples.
"""

import threading
import time
from collections import deque
from collections.abc import Callable
from types import TracebackType

import numpy as np
import numpy.typing as npt
import soxr  # type: ignore[import-untyped]

from assistant.devices.sound.half_duplex import HalfDuplex
from assistant.devices.sound.library import SoundLibrary, Stream, find
from assistant.devices.sound.lifeline import Lifeline, Patience, Report

Samples = npt.NDArray[np.int16]

FADE_S = 0.005
"""How fast a sound that is cut off fades: at once to the ear, but without a crack."""


class Speaker:
    """A speaker by name; None is the system's own choice.

    The stream runs all the time, so that a tone starts with the next block of 10 ms.
    ``play`` may be called from any thread.
    """

    def __init__(
        self,
        library: SoundLibrary,
        name: str | None,
        report: Report,
        duplex: HalfDuplex,
        *,
        patience: Patience | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.name = name
        self.device_name = ""
        self.began_at: float | None = None
        """When the first sample of the last stretch of sound left, or is to leave, the device."""
        self._library = library
        self._duplex = duplex
        self._clock = clock
        self._stream: Stream | None = None
        self._lock = threading.Lock()
        self._waiting: deque[Samples] = deque()
        self._begins = False
        self._ended_at = float("-inf")
        self._silent = threading.Event()
        self._silent.set()
        self.lifeline = Lifeline(
            "speaker",
            self._open,
            self._close,
            self._active,
            report,
            patience=patience,
            clock=clock,
        )

    def __enter__(self) -> "Speaker":
        self.lifeline.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.lifeline.stop()

    def playing(self) -> bool:
        """Whether something is still to be heard, what is in the device's buffer included."""
        return not self._silent.is_set() or self._clock() < self._ended_at

    def play(self, samples: Samples, rate: int) -> bool:
        """Play after what is playing; returns at once.

        False when there is no speaker now: the sound is dropped, not kept for later.
        """
        stream = self._stream
        if stream is None:
            return False
        if not len(samples):
            return True
        if rate != stream.rate:
            sound = soxr.resample(samples.astype(np.float32), rate, stream.rate)
            samples = np.asarray(np.clip(np.rint(sound), -32768, 32767), np.int16)
        with self._lock:
            if self._stream is not stream:
                return False
            self._begins = self._begins or not self._waiting
            self._waiting.append(samples)
            self._silent.clear()
            self._duplex.begins(self._clock())
        return True

    def cut_off(self) -> None:
        """Stop what is playing and forget what waits; nothing when all is silent."""
        with self._lock:
            if not self._waiting or self._stream is None:
                return
            fade = round(FADE_S * self._stream.rate)
            rest = self._waiting[0][:fade]
            ramp = np.linspace(1.0, 0.0, len(rest), dtype=np.float32)
            self._waiting.clear()
            self._waiting.append(np.asarray(rest * ramp, np.int16))

    def wait(self, timeout_s: float) -> bool:
        """Wait until the last sample was to be heard; tells whether it was in this time.

        What is in the device's buffer is waited for as well: a stream that closes drops it.
        """
        until = time.monotonic() + timeout_s
        if not self._silent.wait(timeout_s):
            return False
        rest_s, left_s = self._ended_at - self._clock(), until - time.monotonic()
        time.sleep(max(0.0, min(rest_s, left_s)))
        return rest_s <= max(0.0, left_s)

    def _give(self, data: memoryview, frames: int) -> None:
        """The callback: copy what waits, silence behind it."""
        stream = self._stream
        out = np.frombuffer(data, np.int16).reshape(frames, -1)
        out[:] = 0
        if stream is None:
            return
        self.lifeline.beat()
        with self._lock:
            if not self._waiting:
                return
            if self._begins:
                self._begins = False
                self.began_at = self._clock() + stream.latency_s
            at = 0
            while at < frames and self._waiting:
                first = self._waiting.popleft()
                part = first[: frames - at]
                out[at : at + len(part)] = part[:, None]
                at += len(part)
                if len(part) < len(first):
                    self._waiting.appendleft(first[len(part) :])
            self._duplex.plays(out[:at, 0], stream.rate, self._clock() + stream.latency_s)
            if not self._waiting:
                self._ended(self._clock() + stream.latency_s + at / stream.rate)

    def _ended(self, at: float) -> None:
        self._ended_at = at
        self._duplex.ends(at)
        self._silent.set()

    def _open(self, look_again: bool) -> None:
        if look_again:
            self._library.look_again()
        device = find(self._library.devices(), "speaker", self.name)
        self._stream = self._library.open("speaker", device, self._give)
        self.device_name = device.name

    def _close(self) -> None:
        with self._lock:
            stream, self._stream = self._stream, None
            if self._waiting:
                self._waiting.clear()
                self._ended(self._clock())
        if stream is not None:
            stream.close()

    def _active(self) -> bool:
        return self._stream is not None and self._stream.active()
