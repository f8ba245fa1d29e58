"""What a microphone's silence tells: is it alive, is it set right, how loud is the room.

Measuring and words for it; nothing is opened here.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from assistant.devices.microphone import level_db

BLOCK = 480
"""Samples per level: 30 ms at 16 kHz."""

SPEECH_DB = -26.0
"""Level of speech that is assumed until somebody has spoken, in dB of full scale.

The nominal active speech level of ITU-T recommendations (P.56 measures it, and test plans
set speech to it): -26 dB relative to overload. From memory.
"""

GOOD_SNR_DB, POOR_SNR_DB = 20.0, 10.0
"""Down to the first the recogniser was as good as in quiet; below the second it guesses."""

Told = tuple[Literal["ok", "note", "missing"], str, str]
"""Status, what was found, what to do."""


@dataclass(frozen=True, slots=True)
class Room:
    """Levels in dB of full scale: ``noise_db`` the power mean, ``floor_db`` the quiet fifth,
    ``peak_db`` the largest sample; ``clipped``: share of samples at the end of the scale."""

    noise_db: float
    floor_db: float
    peak_db: float
    clipped: float


def measure(samples: npt.NDArray[np.int16]) -> Room:
    """Levels of a stretch in which nobody speaks to us, int16 at 16 kHz, 30 ms or more."""
    whole = samples[: len(samples) // BLOCK * BLOCK].reshape(-1, BLOCK)
    levels = [level_db(block) for block in whole]
    largest = int(np.max(np.abs(samples.astype(np.int32)), initial=0))
    return Room(
        noise_db=level_db(samples),
        floor_db=float(np.percentile(levels, 20)) if levels else level_db(samples),
        peak_db=20 * float(np.log10(max(largest, 1) / 32768)),
        clipped=float(np.mean(np.abs(samples.astype(np.int32)) >= 32_767)) if largest else 0.0,
    )


def describe_levels(room: Room) -> Told:
    """Is the microphone alive and set right?"""
    found = f"noise {room.noise_db:.0f} dB, peak {room.peak_db:.0f} dB of full scale"
    if room.peak_db <= -90.0:
        return (
            "missing",
            "gives nothing but zeros",
            "switch its mute off, or allow this program to use the microphone",
        )
    if room.clipped > 0.001:
        return "note", f"{found}: overloaded", "turn its level down or move it away"
    return "ok", found, ""


def describe_room(room: Room) -> Told:
    """What to expect of the recogniser here, for a voice of ordinary level."""
    expected = SPEECH_DB - room.noise_db
    if expected >= GOOD_SNR_DB:
        return "ok", "quiet enough: calls are heard as they are", ""
    if expected >= POOR_SNR_DB:
        return (
            "note",
            "noisy: more calls will be asked again",
            "a headset, or the microphone nearer to your mouth, helps most",
        )
    return (
        "note",
        "too loud to call readings",
        "use the keypad, or a headset; or switch the noise off",
    )
