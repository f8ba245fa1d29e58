"""The microphone: blocks of 16 kHz sound, whatever the device delivers.

Taking sound in and keeping the device alive belong here; what is said in it does not.
"""

import queue
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from types import TracebackType

import numpy as np
import numpy.typing as npt
import soxr  # type: ignore[import-untyped]

from assistant.devices.sound.continuity import Continuity
from assistant.devices.sound.half_duplex import HalfDuplex
from assistant.devices.sound.library import SoundLibrary, Stream, find
from assistant.devices.sound.lifeline import Lifeline, Patience, Report

Samples = npt.NDArray[np.int16]

RATE = 16_000
"""Samples per second of every block that is handed out."""

LONGEST_QUEUE = 300
"""Blocks that may wait, 9.6 s in all; beyond that new ones are lost."""

SILENT_DB = -100.0


@dataclass(frozen=True, slots=True)
class Block:
    """Sound as it came: int16 mono at 16 kHz.

    ``at_s``: monotonic time of its last sample. ``gap``: sound is missing before it, so
    an utterance that was open cannot be trusted; ``lost``: and not because our own voice was in it.
    ``level_db``: RMS in dB of full scale.
    ``unheard``: time and level of each block before it that was dropped for holding our own voice.
    """

    samples: Samples
    at_s: float
    gap: bool
    level_db: float
    unheard: tuple[tuple[float, float], ...] = ()
    lost: bool = False


@dataclass(frozen=True, slots=True)
class _Raw:
    """What the callback copied, with the form that it is in."""

    data: bytes
    rate: int
    channels: int
    at_s: float
    latency_s: float
    gap: bool


class Microphone:
    """A microphone by name; None is the system's own choice.

    Opens in the background, reports a loss and the return through ``report``, and looks for
    the device again until it is closed. ``read`` is for one thread.
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
        self.overruns = 0
        self.level_db = SILENT_DB
        self._library = library
        self._duplex = duplex
        self._clock = clock
        self._stream: Stream | None = None
        self._queue: queue.Queue[_Raw] = queue.Queue(LONGEST_QUEUE)
        self._form: tuple[int, int] | None = None
        self._resampler: soxr.ResampleStream | None = None
        self._missing = True
        self._gap = self._lost = False
        self._continuity = Continuity()
        self._unheard: deque[tuple[float, float]] = deque(maxlen=LONGEST_QUEUE)
        self.lifeline = Lifeline(
            "microphone",
            self._open,
            self._close,
            self._active,
            report,
            patience=patience,
            clock=clock,
        )

    def __enter__(self) -> "Microphone":
        self.lifeline.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.lifeline.stop()

    def read(self, timeout_s: float) -> Block | None:
        """The next block that is not our own voice; None when none came in time."""
        until = self._clock() + timeout_s
        while True:
            left = until - self._clock()
            try:
                raw = self._queue.get(timeout=left) if left > 0 else self._queue.get_nowait()
            except queue.Empty:
                return None
            samples = self._to_speech_rate(raw)
            length_s = len(raw.data) / (2 * raw.channels * raw.rate)
            if raw.gap:
                self._continuity.starts()
            self._lost |= self._continuity.misses(raw.at_s, length_s) or raw.gap
            self._duplex.hears(samples, raw.at_s)
            # It may have waited in the device for up to the latency, or not at all.
            if self._duplex.drops(raw.at_s - raw.latency_s - length_s, raw.at_s):
                self._gap, self._lost = True, False
                # A resampler hands out now and then nothing, which is no silence.
                if len(samples):
                    self._unheard.append((raw.at_s, level_db(samples)))
                continue
            if not len(samples):
                continue
            self.level_db = level_db(samples)
            lost, gap = self._lost, self._gap or self._lost
            self._gap = self._lost = False
            unheard = tuple(self._unheard)
            self._unheard.clear()
            return Block(samples, raw.at_s, gap, self.level_db, unheard, lost)

    def drain(self) -> None:
        """Drop what was taken in so far; for the thread that reads."""
        for _ in range(LONGEST_QUEUE):
            if self.read(0.0) is None:
                return

    def _to_speech_rate(self, raw: _Raw) -> Samples:
        form = (raw.rate, raw.channels)
        if form != self._form:
            self._form = form
            self._resampler = (
                soxr.ResampleStream(raw.rate, RATE, 1, dtype="float32")
                if raw.rate != RATE
                else None
            )
        sound = np.frombuffer(raw.data, np.int16)
        if raw.channels == 1 and self._resampler is None:
            return sound
        mono = sound.reshape(-1, raw.channels).mean(axis=1, dtype=np.float32)
        if self._resampler is not None:
            mono = self._resampler.resample_chunk(mono)
        return np.asarray(np.clip(np.rint(mono), -32768, 32767), np.int16)

    def _take(self, data: memoryview, _frames: int) -> None:
        """The callback: copy, enqueue, return."""
        stream = self._stream
        if stream is None:
            return
        self.lifeline.beat()
        raw = _Raw(
            bytes(data),
            stream.rate,
            stream.channels,
            self._clock(),
            stream.latency_s,
            self._missing,
        )
        try:
            self._queue.put_nowait(raw)
        except queue.Full:
            self.overruns += 1
            self._missing = True
        else:
            self._missing = False

    def _open(self, look_again: bool) -> None:
        if look_again and not self._duplex.speaking():
            self._library.look_again()
        device = find(self._library.devices(), "microphone", self.name)
        self._missing = True
        self._stream = self._library.open("microphone", device, self._take)
        self.device_name = device.name

    def _close(self) -> None:
        stream, self._stream = self._stream, None
        self.level_db = SILENT_DB
        if stream is not None:
            stream.close()

    def _active(self) -> bool:
        return self._stream is not None and self._stream.active()


def level_db(samples: Samples) -> float:
    """RMS in dB of full scale; digital silence is -100."""
    if not len(samples):
        return SILENT_DB
    power = float(np.mean((samples / 32768.0) ** 2))
    return max(SILENT_DB, 10 * float(np.log10(power + 1e-12)))
