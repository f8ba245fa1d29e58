"""When a sound that was played arrives at the microphone, how loud, and how the room dies away.

Given what was sent and what was heard; nothing is opened or played here. The sound may be a
sweep made for it or anything else with a broad spectrum, such as a spoken prompt.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

RATE = 16_000
"""Samples per second of everything here."""

LATEST_S = 1.3
"""How late a sound may be: wireless speakers and televisions take up to a second."""

EARLIEST_S = 0.1
"""How much earlier than it was said to begin: drivers give their delay only roughly."""

SWEEP_S = 0.7
SWEEP_HZ = (250.0, 7_000.0)
SWEEP_PEAK = 0.35
"""Of full scale: below that of speech."""

LEAST_PROMINENCE = 9.0
"""The arrival over the usual size of everything else: chance alone gives about 5 in these times,
hammering and talk up to 6 (measured, see the tests)."""

LEAST_LIKENESS = 0.2
"""Correlation with a prompt, times the root of its seconds, that tells it from an answer to it.

Whoever answers soon after a prompt resembles its end at some delay, and stands out where it is
quiet: by prominence alone half of such answers of people were taken for the prompt. Of 5,000 this
reached 0.17; prompts through small loudspeakers, rooms and noise as loud as they: 95 % above 0.22
(measured; chance correlation falls with the root of the length).
"""

LEAST_ARRIVED_S = 0.15
"""Less of a prompt is not compared: a later look has more of it."""

PRE_EMPHASIS = 0.95
"""Evens out the spectrum of speech, whose few strong low partials are alike in everybody."""

LEAST_FALL_DB = 15.0
"""The decay must be seen as far as this, or nothing is said of it."""

ATTACK, REFLECTED = 80, 240
"""Samples that a sound takes to rise, and by which a reflection that is louder may be later."""

Samples = npt.NDArray[np.int16]
Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Arrival:
    """A sound that was found again.

    ``delay_s``: from when it was said to begin to when it began. ``prominence``: the peak over
    the root mean square of what is not the sound. ``reverberation_s``: time in which the room's
    sound decays by 60 dB; None when too little of the decay is above the noise.
    """

    delay_s: float
    prominence: float
    reverberation_s: float | None


def sweep(rate: int = RATE, volume: float = 1.0) -> Samples:
    """A sound to send: a sine that rises exponentially, as int16 samples (ISO 18233, annex B).

    ``volume``: 0 to 1.
    """
    low, high = SWEEP_HZ
    times = np.arange(round(SWEEP_S * rate)) / rate
    growth = np.log(high / low) / SWEEP_S
    phase = 2 * np.pi * low / growth * (np.exp(growth * times) - 1)
    edge = np.clip(np.minimum(times, times[-1] - times) / 0.02, 0, 1)
    sound = SWEEP_PEAK * volume * np.sin(phase) * np.sin(np.pi / 2 * edge) ** 2
    return np.asarray(np.rint(32767 * sound), np.int16)


def arrival(heard: Samples, sent: Samples, begins: int) -> Arrival | None:
    """Find a sound again; None when it was not heard.

    ``heard``: from before the sound began until ``LATEST_S`` after its end; ``begins``: the
    sample of ``heard`` at which it was said to begin. Both int16 at 16 kHz. The cross-correlation
    is divided by the spectrum of what was sent (generalised cross-correlation: C. H. Knapp and
    G. C. Carter, IEEE Trans. Acoust. Speech Signal Process. 24 (1976) 320), so that it is the
    response of the way from speaker to microphone.
    """
    if not len(sent) or not np.any(heard):
        return None
    response = _response(heard, sent)
    first = max(0, begins - round(EARLIEST_S * RATE))
    last = min(len(heard), begins + round(LATEST_S * RATE))
    inside = response[first:last]
    if not len(inside):
        return None
    peak = int(np.argmax(inside))
    around = np.concatenate([inside[: max(0, peak - ATTACK)], inside[peak + RATE // 2 :]])
    rest = around if len(around) > RATE // 10 else inside
    usual = float(np.sqrt(np.mean(rest**2)))
    prominence = float(inside[peak]) / max(usual, 1e-12)
    if prominence < LEAST_PROMINENCE:
        return None
    # A reflection may be louder than what came straight, but it is later.
    before = max(0, peak - REFLECTED)
    early = np.flatnonzero(inside[before : peak + 1] > 0.5 * inside[peak])
    direct = before + int(early[0])
    decay = _reverberation(inside[direct:])
    return Arrival((first + direct - begins) / RATE, prominence, decay)


def is_prompt(heard: Samples, sent: Samples, at: int) -> bool:
    """Whether what was found at this sample is the prompt, and not somebody who answers it.

    By normalised cross-correlation (J. P. Lewis, Fast normalized cross-correlation, 1995) of
    pre-emphasised sound, the largest over the delays of early reflections, of as much of the
    prompt as has arrived.
    """
    loud = np.flatnonzero(np.abs(sent) > 0.01 * np.abs(sent).max(initial=1))
    if not len(loud):
        return False
    begins = max(0, at + int(loud[0]) - ATTACK)
    there = _pre_emphasised(heard[begins:])
    source = _pre_emphasised(sent[loud[0] : loud[-1] + 1])[: len(there) - REFLECTED - 2 * ATTACK]
    if len(source) < LEAST_ARRIVED_S * RATE:
        return False
    there = there[: len(source) + REFLECTED + 2 * ATTACK]
    products = np.correlate(there, source, "valid")
    powers = np.correlate(there**2, np.ones(len(source)), "valid")
    alike = np.abs(products) / np.sqrt(np.maximum(powers * np.sum(source**2), 1e-12))
    return bool(float(alike.max()) * (len(source) / RATE) ** 0.5 >= LEAST_LIKENESS)


def _pre_emphasised(sound: Samples) -> Floats:
    even = sound.astype(np.float64)
    even[1:] -= PRE_EMPHASIS * even[:-1]
    return even


def _response(heard: Samples, sent: Samples) -> Floats:
    """Size of the impulse response at each sample, by division of spectra in the sound's band."""
    size = 1 << (len(heard) + len(sent) - 1).bit_length()
    out, source = (np.fft.rfft(each / 32768, size) for each in (heard, sent))
    power = np.abs(source) ** 2
    # Where nothing was sent nothing can be learnt: weak parts of the spectrum are left out.
    smooth = np.convolve(power, np.ones(101) / 101, mode="same")
    enough = smooth > 1e-3 * smooth.max()
    divided = np.where(enough, out * np.conj(source) / np.maximum(smooth, 1e-20), 0)
    # The size of the analytic signal: an envelope without ripples.
    both = np.zeros(size, complex)
    both[: len(divided)] = 2 * divided
    found: Floats = np.abs(np.fft.ifft(both))[: len(heard)]
    return found


def _reverberation(response: Floats) -> float | None:
    """From the decay curve (Schroeder's backward integration, ISO 3382-1), as far as it is seen."""
    power = response[: round(1.5 * RATE)] ** 2
    noise = float(np.mean(power[-len(power) // 4 :]))
    blocks = power[: len(power) // 80 * 80].reshape(-1, 80).mean(axis=1)
    # Up to where the response goes under in the noise, whose share is taken out.
    under = np.flatnonzero(blocks < 2 * noise)
    end = 80 * int(under[0]) if len(under) else len(power)
    if end < 160:
        return None
    left = np.cumsum((power[:end] - noise)[::-1])[::-1]
    decay_db = 10 * np.log10(np.maximum(left / left[0], 1e-9))
    inside = np.flatnonzero((decay_db <= -5) & (decay_db >= -5 - LEAST_FALL_DB))
    seen_db = 10 * np.log10(max(float(blocks[: end // 80].max()) / max(noise, 1e-20), 1e-9))
    if len(inside) < 80 or seen_db < LEAST_FALL_DB + 15:
        return None
    slope = float(np.polyfit(inside / RATE, decay_db[inside], 1)[0])
    return -60 / slope if slope < 0 else None
