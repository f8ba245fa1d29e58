"""What a microphone's silence tells: is it alive, is it set right, how loud is the room.

Measuring and words for it; nothing is opened here.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from assistant.devices.sound.delay import Arrival
from assistant.devices.sound.microphone import RATE, level_db

BLOCK = 480
"""Samples per level: 30 ms at 16 kHz."""

SPEECH_DB = -26.0
"""Level of speech that is assumed until somebody has spoken, in dB of full scale.

The nominal active speech level of ITU-T recommendations (P.56 measures it, and test plans
set speech to it): -26 dB relative to overload. From memory.
"""

FAINT_DB = -45.0
"""A voice below this is worth a word: what was quantised so coarsely is heard less well."""

GOOD_SNR_DB, POOR_SNR_DB = 20.0, 10.0
"""Down to the first the recogniser was as good as in quiet; below the second it guesses."""

STEP_DB = 20.0
"""A fall by this much within a third of an octave at 4 kHz is a filter's, not a room's."""

BELOW_STEP_HZ, ABOVE_STEP_HZ = (2_800.0, 3_500.0), (4_400.0, 7_000.0)
"""A telephone channel passes up to 3,400 Hz (ITU-T G.712); at 8,000 samples a second nothing is
above 4,000."""

MAINS_HZ = (50, 60)
HARMONICS = 8
HUM_SHARE, HUM_DB = 0.5, -60.0
"""Hum is worth a word when it is half of the noise, and louder than this in dB of full scale."""

LATE_S = 0.25
"""A sound that arrives later than this comes from a wireless speaker or through a slow driver."""

LIVELY_S = 0.6
"""Reverberation time from which a far microphone hears more of the room than of the mouth."""

FLAT_TOP = 3
"""So many equal samples in a row near the largest one are a clipped peak."""

Samples = npt.NDArray[np.int16]
Told = tuple[Literal["ok", "note", "missing"], str, str]
"""Status, what was found, what to do."""


@dataclass(frozen=True, slots=True)
class Room:
    """Levels in dB of full scale: ``noise_db`` the power mean, ``floor_db`` the quiet fifth,
    ``peak_db`` the largest sample; ``clipped``: share of samples in clipped peaks.

    ``step_db``: by how much the spectrum falls at 4 kHz; ``hum_hz``: 50 or 60, the mains whose
    harmonics are strongest, ``hum_share`` their share of the noise's power.
    """

    noise_db: float
    floor_db: float
    peak_db: float
    clipped: float
    step_db: float = 0.0
    hum_hz: int = 50
    hum_share: float = 0.0


def measure(samples: Samples) -> Room:
    """Levels of a stretch in which nobody speaks to us, int16 at 16 kHz, 30 ms or more."""
    whole = samples[: len(samples) // BLOCK * BLOCK].reshape(-1, BLOCK)
    levels = [level_db(block) for block in whole]
    largest = int(np.max(np.abs(samples.astype(np.int32)), initial=0))
    hertz, power = _spectrum(samples)
    hum_hz, hum_share = _hum(hertz, power)
    return Room(
        noise_db=level_db(samples),
        floor_db=float(np.percentile(levels, 20)) if levels else level_db(samples),
        peak_db=20 * float(np.log10(max(largest, 1) / 32768)),
        clipped=clipped(samples),
        step_db=_step(hertz, power),
        hum_hz=hum_hz,
        hum_share=hum_share,
    )


def clipped(samples: Samples) -> float:
    """The share of samples in peaks that are cut off, at full scale or by a driver below it."""
    size = np.abs(samples.astype(np.int32))
    largest = int(np.max(size, initial=0))
    if largest < 1_000:
        return 0.0
    loud = size >= 0.98 * largest
    same = np.append(np.diff(samples.astype(np.int32)) == 0, False) & loud
    run, cut = 0, 0
    for index in np.flatnonzero(loud).tolist():
        run += 1
        if not same[index]:
            cut += run if run >= FLAT_TOP else 0
            run = 0
    return (cut + (run if run >= FLAT_TOP else 0)) / len(samples)


def voice_band_step(samples: Samples) -> float:
    """By how many dB the spectrum of a voice falls at 4 kHz, by its hissing sounds; NaN of silence.

    Those have most of their power above 4 kHz, so that a microphone that lacks it is known.
    """
    frames = samples[: len(samples) // BLOCK * BLOCK].reshape(-1, BLOCK) / 32768
    if len(frames) < 10:
        return float("nan")
    power = np.abs(np.fft.rfft(frames * np.hanning(BLOCK), axis=1)) ** 2
    hertz = np.asarray(np.fft.rfftfreq(BLOCK, 1 / RATE), np.float64)
    low, high = (_between(hertz, band) for band in (BELOW_STEP_HZ, ABOVE_STEP_HZ))
    ratio = power[:, high].mean(axis=1) / np.maximum(power[:, low].mean(axis=1), 1e-15)
    loud = power.sum(axis=1) > np.percentile(power.sum(axis=1), 50)
    # The tenth of the loud frames that has most above 4 kHz: "s", "f", "t", "th".
    return -10 * float(np.log10(max(np.percentile(ratio[loud], 90), 1e-9)))


def _spectrum(samples: Samples) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Hertz and power of each bin, a mean over windows of a second at most (Welch's method)."""
    size = min(RATE, len(samples) // 2 * 2)
    if size < BLOCK:
        return np.zeros(1), np.zeros(1)
    window = np.hanning(size)
    starts = range(0, len(samples) - size + 1, size // 2)
    parts = [np.abs(np.fft.rfft(samples[at : at + size] / 32768 * window)) ** 2 for at in starts]
    hertz = np.asarray(np.fft.rfftfreq(size, 1 / RATE), np.float64)
    return hertz, np.asarray(np.mean(parts, axis=0), np.float64)


def _between(hertz: npt.NDArray[np.float64], band: tuple[float, float]) -> npt.NDArray[np.bool_]:
    inside: npt.NDArray[np.bool_] = (hertz >= band[0]) & (hertz <= band[1])
    return inside


def _step(hertz: npt.NDArray[np.float64], power: npt.NDArray[np.float64]) -> float:
    low, high = (power[_between(hertz, band)] for band in (BELOW_STEP_HZ, ABOVE_STEP_HZ))
    if not len(low) or not np.any(low):
        return 0.0
    # By medians, so that a motor's whistle in either band says nothing.
    return 10 * float(np.log10(max(np.median(low), 1e-20) / max(np.median(high), 1e-20)))


def _hum(hertz: npt.NDArray[np.float64], power: npt.NDArray[np.float64]) -> tuple[int, float]:
    """The mains frequency whose harmonics stand out most, and their share of all power."""
    total = float(power[hertz >= 20].sum()) if len(hertz) > 1 else 0.0
    if not total or hertz[1] > 5.0:
        return MAINS_HZ[0], 0.0
    shares = {}
    for mains in MAINS_HZ:
        found = 0.0
        for number in range(1, HARMONICS + 1):
            away = np.abs(hertz - mains * number)
            near, beside = away <= 2.5, (away > 4) & (away < 12)
            found += max(0.0, float(power[near].sum() - np.median(power[beside]) * near.sum()))
        shares[mains] = found / total
    best = max(MAINS_HZ, key=lambda mains: shares[mains])
    return best, min(1.0, shares[best])


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
    if room.step_db > STEP_DB:
        return "note", f"{found}; {NARROW}", WIDER
    if room.hum_share > HUM_SHARE and room.noise_db > HUM_DB:
        return (
            "note",
            f"{found}; most of it is hum of the mains ({room.hum_hz} Hz)",
            "plug it in elsewhere, away from motors and chargers; calls are heard all the same",
        )
    return "ok", found, ""


NARROW = "nothing above 4 kHz: a telephone's sound, more calls will be asked again"
WIDER = (
    "a wireless headset does this when its microphone is on: use a wired one, or the computer's "
    "own microphone (--microphone NAME)"
)


def describe_voice(samples: Samples, speech_db: float) -> Told:
    """What a person's own voice tells of the microphone; ``speech_db`` in dB of full scale."""
    found = f"your voice is at {speech_db:.0f} dB of full scale"
    if clipped(samples) > 0.001:
        return "note", f"{found}: overloaded", "turn the microphone's level down or move it away"
    if speech_db < FAINT_DB:
        return "note", f"{found}: faint", "turn the microphone's level up, or move it nearer"
    if voice_band_step(samples) > STEP_DB:
        return "note", f"{found}; {NARROW}", WIDER
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


def describe_echo(found: Arrival | None, *, headset: bool) -> Told:
    """What a sound that was played tells when it is heard again, or is not."""
    if found is None:
        if headset:
            return "ok", "the microphone does not hear the speaker", ""
        return (
            "note",
            "the microphone does not hear the speaker",
            "with a headset, --headset listens while it speaks; else turn the speaker up",
        )
    told = f"the microphone hears the speaker after {max(0.0, found.delay_s):.2f} s"
    if headset:
        return "note", told, "it would hear itself: leave --headset out (--no-headset)"
    if found.delay_s > LATE_S:
        return (
            "note",
            f"{told}: it listens that much later",
            "a speaker with a cable answers sooner",
        )
    if found.reverberation_s is not None:
        told += f"; sound dies away in {found.reverberation_s:.1f} s"
        if found.reverberation_s > LIVELY_S:
            return (
                "note",
                f"{told}: a lively room, far calls will be asked again",
                "the microphone within an arm's length of your mouth, or a headset",
            )
    return "ok", told, ""
