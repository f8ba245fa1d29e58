"""What is done to a recording before it is heard: noise, a room, a poor microphone.

A condition is written as it is typed: ``quiet``, ``fan:20`` (noise at 20 dB of speech to noise,
see ``noise``), ``room:0.8:1.5`` (reverberation time in seconds, distance in metres), ``band``
(8 kHz and 300 to 3,400 Hz, as a telephone and a headset in telephone mode), ``level:-20`` (dB),
``clip:6`` (dB by which the peaks are cut), or several of them one after the other:
``room:0.4:1.5+fan:20``.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import get_args

import numpy as np
import soxr  # type: ignore[import-untyped]

from assistant.devices.sound.files import RATE, Samples
from assistant.simulation.noise import NoiseKind, Signal, mix, noise, to_int16
from tests.benchmarks.hearing_rooms import in_room

BAND_HZ = (300.0, 3400.0)
"""The band of a telephone channel (ITU-T G.712)."""

BAND_RATE = 8_000

USUAL = (
    "quiet", "fan:20", "fan:10", "motor:15", "taps:15", "babble:15", "room:0.4:0.4",
    "room:0.8:1.5", "room:0.4:1.5+fan:20", "band", "level:-20", "clip:6",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Condition:
    """What is done, step by step; a step is a name and its numbers."""

    steps: tuple[tuple[str, tuple[float, ...]], ...] = ()

    def __str__(self) -> str:
        shown = [":".join([name, *(f"{n:g}" for n in numbers)]) for name, numbers in self.steps]
        return "+".join(shown) or "quiet"

    def apply(self, sound: Signal, name: str, talkers: Sequence[Signal]) -> Samples:
        """The recording in this condition; its name says which noise is drawn.

        ``talkers``: whose talk babble is made of.
        """
        for number, (step, numbers) in enumerate(self.steps):
            if step in get_args(NoiseKind):
                chance = _drawn(f"{name} {self} {number}")
                kind: NoiseKind = step  # type: ignore[assignment]
                sound = mix(sound, noise(kind, len(sound), chance, talkers), numbers[0])
            elif step == "room":
                sound = in_room(sound, *numbers)
            elif step == "band":
                sound = telephone_band(sound)
            elif step == "level":
                sound = sound * 10 ** (numbers[0] / 20)
            else:
                peak = float(np.max(np.abs(sound))) * 10 ** (-numbers[0] / 20)
                sound = np.clip(sound, -peak, peak)
        return to_int16(sound)


_STEPS = {
    **dict.fromkeys(get_args(NoiseKind), 1), "room": 2, "band": 0, "level": 1, "clip": 1
}  # fmt: skip
"""Every step and how many numbers it takes."""


def condition(text: str) -> Condition:
    """A condition from its text. Raises ``ValueError`` with what can be written.

    >>> str(condition("room:0.40:1.5+fan:20"))
    'room:0.4:1.5+fan:20'
    """
    steps = []
    for part in text.split("+") if text != "quiet" else ():
        name, *rest = part.split(":")
        try:
            numbers = tuple(float(each) for each in rest)
        except ValueError:
            numbers = (np.nan,)
        if _STEPS.get(name) != len(numbers) or not np.all(np.isfinite(numbers)):
            raise ValueError(
                f"no condition '{part}': use quiet, {', '.join(get_args(NoiseKind))} with ':DB', "
                "room:SECONDS:METRES, band, level:DB, clip:DB, joined by '+'"
            )
        steps.append((name, numbers))
    return Condition(tuple(steps))


def telephone_band(sound: Signal) -> Signal:
    """A recording as a telephone channel leaves it, at the same rate as before."""
    narrow = soxr.resample(sound, RATE, BAND_RATE)
    size = 1 << (len(narrow) - 1).bit_length()
    spectrum = np.fft.rfft(narrow, size)
    hertz = np.fft.rfftfreq(size, 1 / BAND_RATE)
    # Edges of half an octave at most, so that they do not ring.
    low = np.clip((hertz - BAND_HZ[0] / 1.4) / (BAND_HZ[0] - BAND_HZ[0] / 1.4), 0, 1)
    high = np.clip((BAND_RATE / 2 - hertz) / (BAND_RATE / 2 - BAND_HZ[1]), 0, 1)
    filtered = np.fft.irfft(spectrum * low * high, size)[: len(narrow)]
    wide = soxr.resample(filtered, BAND_RATE, RATE)
    made = np.zeros(len(sound))
    made[: min(len(sound), len(wide))] = wide[: len(sound)]
    return made


def _drawn(name: str) -> np.random.Generator:
    return np.random.default_rng(list(hashlib.sha256(name.encode()).digest()[:16]))
