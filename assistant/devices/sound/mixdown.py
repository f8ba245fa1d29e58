"""Timed pieces of sound to one recording: what a bystander would have heard.

Only mixing belongs here; what is said and when comes from elsewhere.
"""

import io
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import soundfile
import soxr  # type: ignore[import-untyped]

LONGEST_S = 4 * 3600.0
"""A longer mix is a mistake in its times."""

LOUDEST = 0.98
"""Peak of the finished mix, of full scale: a louder one is turned down as a whole."""

Floats = npt.NDArray[np.float32]


class MixdownError(Exception):
    """The recording cannot be written; the text says why and what to do."""


@dataclass(frozen=True, slots=True)
class PlacedSound:
    """A sound that begins ``start_s`` after the recording does.

    ``samples``: int16 mono at ``rate`` Hz. ``gain``: factor. ``side``: -1 left, 0 both,
    +1 right; voices a little apart are easier to follow.
    """

    start_s: float
    samples: npt.NDArray[np.int16]
    rate: int
    gain: float = 1.0
    side: float = 0.0

    def __post_init__(self) -> None:
        if self.samples.ndim != 1:
            raise ValueError("a piece has one channel")
        if self.rate <= 0 or not -1.0 <= self.side <= 1.0:
            raise ValueError(f"rate {self.rate} or side {self.side} is out of range")
        if not 0.0 <= self.end_s <= LONGEST_S or self.start_s < 0.0:
            raise ValueError(f"a piece from {self.start_s} s to {self.end_s} s is out of range")

    @property
    def end_s(self) -> float:
        """When it ends."""
        return self.start_s + len(self.samples) / self.rate


def mix(pieces: Iterable[PlacedSound], *, rate: int = 22_050, tail_s: float = 0.5) -> Floats:
    """All pieces at their times: shape (samples, 1), or (samples, 2) when any has a side.

    Values are within +-1. Resampling is by soxr.
    """
    pieces = tuple(pieces)
    length_s = max((piece.end_s for piece in pieces), default=0.0) + tail_s
    stereo = any(piece.side for piece in pieces)
    # One sample more than that: a resampled piece may be rounded up.
    out = np.zeros((round(length_s * rate) + 1, 2 if stereo else 1), np.float32)
    for piece in pieces:
        if not len(piece.samples):
            continue
        sound = piece.samples.astype(np.float32) * np.float32(piece.gain / 32768.0)
        if piece.rate != rate:
            sound = np.asarray(soxr.resample(sound, piece.rate, rate), np.float32)
        first = round(piece.start_s * rate)
        room = out[first : first + len(sound)]
        room += sound[: len(room), None] * _shares(piece.side, stereo)
    peak = float(np.max(np.abs(out), initial=0.0))
    if peak > LOUDEST:
        out *= np.float32(LOUDEST / peak)
    return out


def _shares(side: float, stereo: bool) -> Floats:
    """How much of a piece goes to each channel, at constant power."""
    if not stereo:
        return np.ones(1, np.float32)
    angle = (side + 1.0) * np.pi / 4
    return np.array([np.cos(angle), np.sin(angle)], np.float32)


def room_noise(
    duration_s: float, level_db: float, rng: np.random.Generator, *, rate: int = 22_050
) -> npt.NDArray[np.int16]:
    """A steady room: noise that falls 6 dB per octave above 200 Hz.

    ``level_db``: its RMS in dB below full scale, so negative.
    """
    count = round(duration_s * rate)
    if count == 0:
        return np.zeros(0, np.int16)
    spectrum = np.fft.rfft(rng.standard_normal(count))
    spectrum /= np.sqrt(1.0 + (np.fft.rfftfreq(count, 1 / rate) / 200.0) ** 2)
    spectrum[0] = 0.0
    sound = np.fft.irfft(spectrum, count)
    rms = float(np.sqrt(np.mean(sound**2)))
    sound *= 10 ** (level_db / 20) * 32768.0 / rms if rms > 0 else 0.0
    return np.clip(np.rint(sound), -32768, 32767).astype(np.int16)


def wav_of(sound: Floats, rate: int = 22_050) -> bytes:
    """A mix as a 16-bit WAV file."""
    file = io.BytesIO()
    soundfile.write(file, sound, rate, subtype="PCM_16", format="WAV")
    return file.getvalue()
