"""Short tones that answer before the voice does: heard, asked, missed, key.

Each answer has its own rhythm and length, so that it is told apart without hearing pitch:
one short; two short; one long; a tick. Pitch only helps along (falling is bad news). The
sets differ in pitch and colour, never in rhythm.
"""

from dataclasses import dataclass
from functools import cache
from typing import Literal, get_args

import numpy as np
import numpy.typing as npt

ToneName = Literal["heard", "asked", "missed", "key"]
ToneSet = Literal["soft", "low", "knock", "off"]

TONE_SETS: tuple[ToneSet, ...] = get_args(ToneSet)

LOUDEST = 0.35
"""Peak of a tone at volume 1, of full scale: below that of speech."""

RISE_S, FALL_S = 0.006, 0.018
"""How long a pulse swells and fades: shorter ones click."""


@dataclass(frozen=True, slots=True)
class Pulse:
    """One beat: when it begins, how long it is, and its pitch as a part of the set's."""

    start_s: float
    length_s: float
    pitch: float


RHYTHMS: dict[ToneName, tuple[Pulse, ...]] = {
    "heard": (Pulse(0.0, 0.075, 1.0),),
    "asked": (Pulse(0.0, 0.075, 1.0), Pulse(0.135, 0.075, 1.335)),
    "missed": (Pulse(0.0, 0.32, 0.6),),
    "key": (Pulse(0.0, 0.025, 1.0),),
}


@dataclass(frozen=True, slots=True)
class Colour:
    """Pitch of a set in Hz, and the share of each harmonic, the fundamental first."""

    pitch_hz: float
    harmonics: tuple[float, ...]


COLOURS: dict[ToneSet, Colour] = {
    # Hearing lost with age or in shops goes from the top: everything stays below 2 kHz
    # (common practice, no source).
    "soft": Colour(880.0, (1.0, 0.2)),
    "low": Colour(440.0, (1.0, 0.4, 0.2)),
    "knock": Colour(220.0, (0.5, 0.3, 1.0, 0.2, 0.6)),
}


def duration_s(name: ToneName) -> float:
    """How long a tone is."""
    return max(pulse.start_s + pulse.length_s for pulse in RHYTHMS[name])


@cache
def tone(
    name: ToneName, rate: int = 16_000, chosen: ToneSet = "soft", volume: float = 1.0
) -> npt.NDArray[np.int16]:
    """A tone as int16 mono samples, read-only; the set "off" has none.

    ``rate``: 8,000 Hz or more. ``volume``: 0 to 1.
    """
    if not 0.0 <= volume <= 1.0:
        raise ValueError(f"volume is {volume}: use 0 to 1")
    if rate < 8_000:
        raise ValueError(f"rate is {rate} Hz: use 8000 or more")
    if chosen == "off":
        return _frozen(np.zeros(0, np.int16))
    colour = COLOURS[chosen]
    sound = np.zeros(round(duration_s(name) * rate) + 1)
    for pulse in RHYTHMS[name]:
        shape = _pulse(colour, pulse, rate)
        start = round(pulse.start_s * rate)
        sound[start : start + len(shape)] += shape[: len(sound) - start]
    sound *= LOUDEST * volume / np.max(np.abs(sound))
    return _frozen(np.rint(sound * 32767.0).astype(np.int16))


def _pulse(colour: Colour, pulse: Pulse, rate: int) -> npt.NDArray[np.float64]:
    """One beat with soft ends."""
    time_s = np.arange(round(pulse.length_s * rate)) / rate
    base = colour.pitch_hz * pulse.pitch
    wave = np.zeros_like(time_s)
    for number, share in enumerate(colour.harmonics, start=1):
        if base * number < rate / 2:
            wave += share * np.sin(2 * np.pi * base * number * time_s)
    rise = np.clip(time_s / RISE_S, 0.0, 1.0)
    fall = np.clip((pulse.length_s - time_s) / FALL_S, 0.0, 1.0)
    return np.asarray(wave * np.sin(rise * np.pi / 2) ** 2 * np.sin(fall * np.pi / 2) ** 2)


def _frozen(samples: npt.NDArray[np.int16]) -> npt.NDArray[np.int16]:
    samples.setflags(write=False)
    return samples
