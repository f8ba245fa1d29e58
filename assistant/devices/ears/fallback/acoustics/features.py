"""Sound to the features of the acoustic model, with the noise taken out.

The plain chain (pre-emphasis, 25 mel bands, the library's own noise removal, 13 cepstra,
differences) gives PocketSphinx's numbers to five digits, which a test checks. Two
additions keep speech in noise near to what the model was trained on: the spectrum of clean
speech is estimated with a mixture model of speech and the noise heard around the call (the
vector Taylor series method of Moreno, Raj and Stern, ICASSP 1996), and the swing of each
cepstrum, which noise flattens, is stretched part of the way back.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt

RATE = 16_000
SHIFT = 160
WINDOW = 410
BANDS = 25
CEPSTRA = 13

_FFT = 512
_LOWEST_HZ, _HIGHEST_HZ = 130.0, 6800.0
_PRE_EMPHASIS = 0.97
_LIFTER = 22

Samples = npt.NDArray[np.int16]
Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class SpeechPrior:
    """What clean speech looks like, fitted on recordings.

    ``means``, ``variances``: mixture components by 25 log mel bands, relative to the
    utterance's own level; ``weights`` of the components. ``swing``: the usual standard
    deviation of each of the 13 cepstra over an utterance.
    """

    means: Floats
    variances: Floats
    weights: Floats
    swing: Floats


def power_spectrum(samples: Samples) -> Floats:
    """Frames (every 10 ms) by 257 bins of power; at least one frame."""
    sound = samples.astype(np.float64)
    if len(sound) < WINDOW:
        sound = np.concatenate([sound, np.zeros(WINDOW - len(sound))])
    sound = np.concatenate([sound[:1], sound[1:] - _PRE_EMPHASIS * sound[:-1]])
    frames = 1 + (len(sound) - WINDOW) // SHIFT
    index = np.arange(WINDOW) + SHIFT * np.arange(frames)[:, None]
    window = 0.54 - 0.46 * np.cos(2 * np.pi * np.arange(WINDOW) / (WINDOW - 1))
    power: Floats = np.abs(np.fft.rfft(sound[index] * window, _FFT)) ** 2
    return power


@cache
def mel_filters(warp: float = 1.0) -> Floats:
    """257 bins by 25 triangular bands; ``warp`` moves all bands up for a shorter tract."""
    step = RATE / _FFT
    top = 2595 * np.log10(1 + _HIGHEST_HZ / 700)
    bottom = 2595 * np.log10(1 + _LOWEST_HZ / 700)
    edges = 700 * (10 ** (np.linspace(bottom, top, BANDS + 2) / 2595) - 1)
    # The library rounds the edges to bins; moved bands need not be.
    edges = np.round(edges / step) * step if warp == 1.0 else np.minimum(edges * warp, 7900.0)
    hertz = np.arange(_FFT // 2 + 1) * step
    bands = np.zeros((len(hertz), BANDS))
    for band in range(BANDS):
        low, centre, high = edges[band : band + 3]
        slope = np.minimum((hertz - low) / (centre - low), (high - hertz) / (high - centre))
        bands[:, band] = np.maximum(slope, 0) * 2 / (high - low)
    return bands


def cepstra(mel: Floats) -> Floats:
    """Frames by 13 cepstra of mel band powers."""
    coefficient = np.arange(CEPSTRA)
    cosine = np.cos(np.pi * coefficient[:, None] * (np.arange(BANDS) + 0.5) / BANDS)
    cosine *= np.sqrt(2 / BANDS)
    cosine[0] /= np.sqrt(2)
    lifter = 1 + _LIFTER / 2 * np.sin(coefficient * np.pi / _LIFTER)
    found: Floats = (np.log(np.maximum(mel, 1e-4)) @ cosine.T) * lifter
    return found


def library_noise_removal(mel: Floats) -> Floats:
    """PocketSphinx's noise removal: lower envelopes, masking in time, smoothed gains.

    The acoustic model was trained on speech that went through it.
    """
    frames, bands = mel.shape
    cleaned = np.empty_like(mel)
    band = np.arange(bands)
    low, high = np.maximum(band - 4, 0), np.minimum(band + 4, bands - 1) + 1
    power, noise, floor = mel[0], mel[0] / 20, mel[0] / 20
    peak, sums = np.zeros(bands), np.zeros(bands + 1)
    for index in range(frames):
        power = 0.7 * power + 0.3 * mel[index]
        noise = _lower_envelope(power, noise)
        signal = np.maximum(power - noise, 1.0)
        floor = _lower_envelope(signal, floor)
        peak = 0.85 * peak
        masked = np.where(signal < 0.85 * peak, 0.2 * peak, signal)
        peak = np.maximum(peak, signal)
        masked = np.maximum(masked, floor)
        gain = np.maximum(masked / np.maximum(power, masked / 20), 1 / 20)
        np.cumsum(gain, out=sums[1:])
        cleaned[index] = mel[index] * (sums[high] - sums[low]) / (high - low)
    return cleaned


def _lower_envelope(values: Floats, envelope: Floats) -> Floats:
    rising = 0.995 * envelope + 0.005 * values
    falling = 0.5 * envelope + 0.5 * values
    found: Floats = np.where(values >= envelope, rising, falling)
    return found


_LEAD = slice(2, 30)
_TRAIL = 8
_PASSES = 3
_STIFFNESS = 20.0


def clean_speech(mel: Floats, prior: SpeechPrior) -> Floats:
    """The mel powers that the speech alone would have had, estimated.

    The noise is taken from the first 0.3 s and the last 0.08 s, where the endpointer leaves
    it, and refined twice from the whole utterance. For every component of the prior the
    noise raises the log power by log(1 + exp(noise - speech)); the estimate takes the mean
    of that off, weighted by how well each component explains the frame.
    """
    level = float(np.log(np.quantile(mel.sum(axis=1), 0.95) + 1))
    heard = np.log(np.maximum(mel, 1e-3)) - level
    lead = heard[2 : max(3, min(_LEAD.stop, len(heard) // 4))]
    quiet = np.concatenate([lead, heard[-_TRAIL:]])
    noise = np.log(np.exp(quiet).mean(axis=0))
    spread = np.clip(quiet.var(axis=0), 0.05, 2.0)
    estimate = heard
    for refining in range(_PASSES):
        raised = np.logaddexp(0, noise - prior.means)
        share = 1 / (1 + np.exp(noise - prior.means))
        means = prior.means + raised
        variances = share**2 * prior.variances + (1 - share) ** 2 * spread
        weight = _responsibilities(heard, means, variances, prior.weights)
        estimate = heard - weight @ raised
        if refining < _PASSES - 1:
            pull = (1 - share) / variances
            away = (weight @ pull * heard - weight @ (pull * means)).sum(axis=0)
            firm = (weight @ ((1 - share) ** 2 / variances)).sum(axis=0) + _STIFFNESS / spread
            noise = noise + away / firm
    cleaned: Floats = np.exp(estimate + level)
    return cleaned


def _responsibilities(values: Floats, means: Floats, variances: Floats, weights: Floats) -> Floats:
    inverse = 1 / variances
    constant = np.log(weights) - 0.5 * ((means**2 * inverse).sum(1) + np.log(variances).sum(1))
    fit: Floats = values @ (means * inverse).T - 0.5 * (values**2) @ inverse.T + constant
    fit -= fit.max(axis=1, keepdims=True)
    np.exp(fit, out=fit)
    fit /= fit.sum(axis=1, keepdims=True)
    return fit


SILENCE_SHARE = 0.35
"""What the silence round an utterance counts for in its mean, whatever its length.

The model was trained on sentences, less their mean. Round one word there is twice as much
silence for the speech that there is, and with the plain mean every frame of the word seems
to be louder and further from silence than it was in a sentence.
"""

_LOUD = 0.4
"""A frame is speech from this part of the way from the quietest tenth to the loudest."""


def centre_and_swing(values: Floats) -> tuple[Floats, Floats]:
    """Mean and standard deviation (13 each) of cepstra (frames, 13).

    Silence has ``SILENCE_SHARE`` in both; frames below zero energy (digital silence) do not
    count, as in the library.
    """
    counted = values[values[:, 0] >= 0]
    if len(counted) < 10:
        counted = values
    energy = counted[:, 0]
    low, high = np.percentile(energy, (10, 95))
    loud = energy > low + _LOUD * (high - low)
    weights = np.full(len(counted), 1 / len(counted))
    if 0 < loud.sum() < len(loud):
        weights = np.where(loud, (1 - SILENCE_SHARE) / loud.sum(), SILENCE_SHARE / (~loud).sum())
    centre: Floats = weights @ counted
    swing: Floats = np.sqrt(weights @ (counted - centre) ** 2)
    return centre, swing


def normalised(values: Floats, swing: Floats, strength: float) -> Floats:
    """Cepstra about their mean, their swing brought towards the usual one."""
    centre, found = centre_and_swing(values)
    stretch = np.clip(swing / np.maximum(found, 1e-3), 1 / 3, 3.0) ** strength
    stretched: Floats = (values - centre) * stretch
    return stretched


def streams(values: Floats) -> tuple[Floats, Floats, Floats]:
    """Cepstra, their differences over 40 ms and the differences of those."""
    count = len(values)

    def at(offset: int) -> Floats:
        shifted: Floats = values[np.clip(np.arange(count) + offset, 0, count - 1)]
        return shifted

    return values, at(2) - at(-2), (at(3) - at(-1)) - (at(1) - at(-3))
