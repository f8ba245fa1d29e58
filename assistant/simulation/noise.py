"""Workshop noises and mixing at a stated signal-to-noise ratio, for demo, tests, benchmark.

Signals are numpy arrays of float64, full scale 1.0, 16 kHz, one channel. Everything is
drawn from the generator that is passed in, so a seed repeats it. Reading and writing
sound files does not belong here.

Signal-to-noise ratio here is the active speech level (ITU-T P.56, method B) less the
level of the noise, both in decibels over the full band of 0 to 8 kHz, the noise as its
root mean square over its whole length, gaps between hammer blows included. Deviations
from P.56: the envelope is taken from 1 ms means of the rectified signal instead of from
every sample, and no band limiting is done before the measurement.
"""

import itertools
from collections.abc import Sequence
from typing import Literal, assert_never

import numpy as np
import numpy.typing as npt

RATE = 16_000
"""Samples per second of every signal here."""

Signal = npt.NDArray[np.float64]
NoiseKind = Literal["fan", "air", "motor", "taps", "grinder", "babble", "white"]
NOISES: tuple[NoiseKind, ...] = ("fan", "air", "motor", "taps", "grinder", "babble", "white")

_MARGIN_DB = 15.9
_TIME_CONSTANT_S = 0.03
_HANGOVER_S = 0.2
_BLOCK = RATE // 1000


def noise(
    kind: NoiseKind,
    count: int,
    chance: np.random.Generator,
    talkers: Sequence[npt.NDArray[np.floating]] = (),
) -> Signal:
    """``count`` samples of a noise with a root mean square of 1.

    ``fan``: a ventilated room with blade tones, falling by 4 to 6 dB per octave like the
    room noise of ITU-T P.800 (Hoth). ``air``: an air line or extractor, 1.5 to 4 dB per
    octave: at the same ratio far more of it lies where consonants are. ``motor``: mains or
    shaft harmonics to 3.6 kHz over a broad floor. ``taps``: a hammer on steel every 0.35 to
    0.6 s. ``grinder``: a whine that gives way under load, with hiss. ``white``: white.
    ``babble``: the sum of four of the ``talkers``, recordings that the caller supplies.
    Raises ValueError for ``babble`` without talkers, and for a count below one.
    """
    if count < 1:
        raise ValueError(f"{count} samples of noise: ask for at least one")
    match kind:
        case "fan":
            made = _fan(count, chance)
        case "air":
            made = _shaped(count, chance, tilt=chance.uniform(0.5, 1.3), low_hz=60)
            made *= _wander(count, chance, 0.05)
        case "motor":
            made = _motor(count, chance)
        case "taps":
            made = _taps(count, chance)
        case "grinder":
            made = _grinder(count, chance)
        case "babble":
            made = _babble(count, chance, talkers)
        case "white":
            made = chance.standard_normal(count)
        case _:
            assert_never(kind)
    return made / max(float(np.sqrt(np.mean(made**2))), 1e-12)


def active_level_db(speech: npt.NDArray[np.floating]) -> float:
    """The active speech level in dB below full scale, after ITU-T P.56 method B.

    Pauses longer than the hangover of 0.2 s do not count. Silence gives minus infinity.
    """
    x = np.asarray(speech, dtype=np.float64)
    energy = float(np.sum(x**2))
    if energy == 0.0:
        return -np.inf
    blocks = np.abs(x[: len(x) // _BLOCK * _BLOCK]).reshape(-1, _BLOCK).mean(axis=1)
    envelope = _smooth(_smooth(blocks))
    hang = int(_HANGOVER_S * 1000)
    thresholds = 2.0 ** np.arange(-15.0, 0.0)
    above: list[tuple[float, float]] = []
    for threshold in thresholds:
        active = _held(envelope >= threshold, hang)
        if active == 0:
            break
        level = 10 * np.log10(energy / (active * _BLOCK))
        above.append((level, level - 20 * np.log10(threshold)))
    if not above or above[0][1] <= _MARGIN_DB:
        return float(10 * np.log10(energy / len(x)))
    for (level, margin), (next_level, next_margin) in itertools.pairwise(above):
        if next_margin <= _MARGIN_DB < margin:
            part = (margin - _MARGIN_DB) / (margin - next_margin)
            return float(level + part * (next_level - level))
    return float(above[-1][0])


def mix(speech: npt.NDArray[np.floating], added: npt.NDArray[np.floating], snr_db: float) -> Signal:
    """Speech with this noise under it, at ``snr_db`` of active speech level over noise.

    The noise must be at least as long as the speech. The speech keeps its level unless
    the sum would clip; then both are turned down alike.
    """
    if len(added) < len(speech):
        raise ValueError("the noise is shorter than the speech: make it at least as long")
    clean = np.asarray(speech, dtype=np.float64)
    under = np.asarray(added[: len(clean)], dtype=np.float64)
    rms = float(np.sqrt(np.mean(under**2)))
    level = active_level_db(clean)
    if rms == 0.0 or not np.isfinite(level):
        raise ValueError("neither the speech nor the noise may be silent")
    summed = clean + under / rms * 10 ** ((level - snr_db) / 20)
    peak = float(np.max(np.abs(summed)))
    return summed if peak <= 0.99 else summed * (0.99 / peak)


def to_int16(signal: npt.NDArray[np.floating]) -> npt.NDArray[np.int16]:
    """Full scale 1.0 to 16-bit samples; what is beyond full scale is clipped."""
    clipped = np.clip(np.asarray(signal, dtype=np.float64), -1.0, 1.0)
    samples: npt.NDArray[np.int16] = np.rint(clipped * 32767).astype(np.int16)
    return samples


def from_int16(samples: npt.NDArray[np.int16]) -> Signal:
    """16-bit samples to full scale 1.0."""
    return samples.astype(np.float64) / 32767


def _smooth(values: Signal) -> Signal:
    """First order low-pass of 1 ms values with the time constant of P.56."""
    keep = float(np.exp(-0.001 / _TIME_CONSTANT_S))
    smoothed = np.empty_like(values)
    state = 0.0
    for index, value in enumerate(values.tolist()):
        state = keep * state + (1 - keep) * value
        smoothed[index] = state
    return smoothed


def _held(active: npt.NDArray[np.bool_], hang: int) -> int:
    """How many blocks are active when each stays so for ``hang`` blocks longer."""
    last = np.where(active, np.arange(len(active)), -(hang + 1))
    since = np.arange(len(active)) - np.maximum.accumulate(last)
    return int(np.count_nonzero(since <= hang))


def _shaped(count: int, chance: np.random.Generator, tilt: float, low_hz: float) -> Signal:
    """Noise whose power falls as frequency to the ``tilt``, flat below ``low_hz``."""
    length = 1 << max(10, (count - 1).bit_length())
    hertz = np.fft.rfftfreq(length, 1 / RATE)
    gain = np.maximum(hertz, low_hz) ** (-tilt / 2)
    gain[0] = 0.0
    phased = chance.standard_normal(len(hertz)) + 1j * chance.standard_normal(len(hertz))
    made: Signal = np.fft.irfft(gain * phased, length)[:count]
    return made / float(np.sqrt(np.mean(made**2)) + 1e-12)


def _wander(count: int, chance: np.random.Generator, depth: float) -> Signal:
    """A slow change about 1, for speeds and loudness."""
    steps = count // (RATE // 4) + 2
    walk = 1 + depth * np.cumsum(chance.standard_normal(steps)) / np.sqrt(steps)
    wandering: Signal = np.interp(np.arange(count), np.arange(steps) * (RATE // 4), walk)
    return wandering


def _tones(
    count: int, chance: np.random.Generator, base_hz: float, top_hz: float, fall: float, sway: float
) -> Signal:
    """Harmonics of a base frequency that sways a little, each falling as 1/k^fall."""
    turns = 2 * np.pi * np.cumsum(base_hz * _wander(count, chance, sway)) / RATE
    total = np.zeros(count)
    for k in range(1, max(1, int(top_hz / base_hz)) + 1):
        size = k**-fall * chance.uniform(0.4, 1.6)
        total += size * np.sin(k * turns + chance.uniform(0, 2 * np.pi))
    return total / float(np.sqrt(np.mean(total**2)) + 1e-12)


def _fan(count: int, chance: np.random.Generator) -> Signal:
    air = _shaped(count, chance, tilt=chance.uniform(1.4, 1.9), low_hz=60)
    blades = _tones(count, chance, chance.uniform(80, 220), 1200, 1.2, 0.01)
    return air * _wander(count, chance, 0.05) + 0.25 * blades


def _motor(count: int, chance: np.random.Generator) -> Signal:
    hum = _tones(count, chance, chance.uniform(24, 60) * 2, 3600, chance.uniform(0.5, 1.0), 0.004)
    return hum + chance.uniform(0.15, 0.35) * _shaped(count, chance, tilt=1.0, low_hz=80)


def _taps(count: int, chance: np.random.Generator) -> Signal:
    total = 0.02 * _shaped(count, chance, tilt=1.0, low_hz=60)
    times = np.arange(RATE // 4) / RATE
    at = chance.uniform(0.0, 0.4)
    while at * RATE < count:
        ring = chance.standard_normal(len(times)) * np.exp(-times / 0.004)
        for _ in range(4):
            tone = np.sin(2 * np.pi * chance.uniform(500, 5000) * times)
            ring += chance.uniform(0.3, 1.0) * tone * np.exp(-times / chance.uniform(0.015, 0.06))
        start = int(at * RATE)
        part = ring[: count - start] * chance.uniform(0.6, 1.2)
        total[start : start + len(part)] += part
        at += chance.uniform(0.35, 0.6)
    return total


def _grinder(count: int, chance: np.random.Generator) -> Signal:
    whine = _tones(count, chance, chance.uniform(250, 700), 6000, chance.uniform(0.4, 0.9), 0.03)
    hiss = np.diff(chance.standard_normal(count + 1))
    return whine * np.abs(_wander(count, chance, 0.3)) + chance.uniform(0.2, 0.6) * hiss


def _babble(
    count: int, chance: np.random.Generator, talkers: Sequence[npt.NDArray[np.floating]]
) -> Signal:
    if not talkers:
        raise ValueError("babble is made of talk: pass recordings as talkers")
    total = np.zeros(count)
    for _ in range(4):
        talk = np.zeros(0)
        while len(talk) < 2 * count:
            piece = np.asarray(talkers[int(chance.integers(len(talkers)))], dtype=np.float64)
            if not np.any(piece):
                raise ValueError("a talker is silent: leave that recording out")
            talk = np.concatenate([talk, piece / np.sqrt(np.mean(piece**2))])
        start = int(chance.integers(count))
        total += talk[start : start + count]
    return total
