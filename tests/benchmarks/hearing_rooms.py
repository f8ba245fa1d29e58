"""Rooms: how one sounds from a mouth to a microphone, by the image-source method.

J. B. Allen and D. A. Berkley, "Image method for efficiently simulating small-room acoustics",
J. Acoust. Soc. Am. 65 (1979) 943, as computed by the package pyroomacoustics, which only the
benchmark needs. Reverberation time as ISO 3382 has it: see ``reverberation_time``.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt

from assistant.simulation.noise import RATE, Signal

SIZE_M = (6.2, 4.9, 2.9)
"""A workshop of one bay; no side is a multiple of another, which would ring."""

MOUTH_M = (2.1, 2.3, 1.5)
BEARING_RAD, DROP_M = 0.6, 0.3
"""Which way the microphone is from the mouth, and how much lower."""

TAIL_DB = 60.0
"""The response ends where what is left of it is this far below the whole."""

Point = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Place:
    """A room's size, and where in it mouth and microphone are, in metres."""

    size: Point
    mouth: Point
    microphone: Point


@cache
def response(reverberation_s: float, distance_m: float) -> Signal:
    """From mouth to microphone in a room of this reverberation time; the direct sound comes first.

    Scaled so that sound comes out as loud as the direct sound and all reflections together
    would be at a power of 1. Raises ``ValueError`` for a room or a distance that cannot be.
    """
    if not 0.15 <= reverberation_s <= 1.5:
        raise ValueError(f"a reverberation time of {reverberation_s:g} s: use 0.15 to 1.5")
    if not 0.1 <= distance_m <= 3.5:
        raise ValueError(f"a microphone {distance_m:g} m away: use 0.1 to 3.5 m")
    across = np.sqrt(max(0.0, distance_m**2 - DROP_M**2))
    aside = across * np.array([np.cos(BEARING_RAD), np.sin(BEARING_RAD)])
    microphone = (*(MOUTH_M[:2] + aside).tolist(), MOUTH_M[2] - min(DROP_M, distance_m))
    return response_at(Place(SIZE_M, MOUTH_M, microphone), reverberation_s)


def response_at(place: Place, reverberation_s: float) -> Signal:
    """The same of any place. Raises ``ValueError`` where there is no such room."""
    first = _images(place, reverberation_s)
    # Sabine's formula is for a diffuse field, which a furnished box is not: corrected once by
    # what came out, the response has the time that was asked for within a few percent.
    made = _images(place, reverberation_s * reverberation_s / reverberation_time(first))
    left = np.cumsum(made[::-1] ** 2)[::-1]
    made = made[
        int(np.argmax(np.abs(made))) : int(np.argmax(left < left[0] * 10 ** (-TAIL_DB / 10)))
    ]
    found: Signal = made / np.sqrt(np.sum(made**2))
    found.setflags(write=False)
    return found


def _images(place: Place, reverberation_s: float) -> Signal:
    import pyroomacoustics

    absorption, order = pyroomacoustics.inverse_sabine(reverberation_s, place.size)
    material = pyroomacoustics.Material(absorption)
    room = pyroomacoustics.ShoeBox(place.size, fs=RATE, materials=material, max_order=order)
    room.add_source(list(place.mouth))
    room.add_microphone(list(place.microphone))
    room.compute_rir()
    return np.asarray(room.rir[0][0], np.float64)


def in_room(sound: Signal, reverberation_s: float, distance_m: float) -> Signal:
    """A recording as it would be heard there, at the level of the recording, as long as it is.

    The reverberation of the last sounds is cut off with the recording: give it some quiet.
    """
    return through(sound, response(reverberation_s, distance_m))


def through(sound: Signal, impulse_response: Signal) -> Signal:
    """The same with any response."""
    heard = fft_convolved(sound, impulse_response)[: len(sound)]
    before, after = (float(np.sqrt(np.mean(each**2))) for each in (sound, heard))
    return heard * (before / after) if after else heard


def fft_convolved(one: Signal, other: Signal) -> Signal:
    """The convolution of two signals, by way of their spectra."""
    length = len(one) + len(other) - 1
    size = 1 << (length - 1).bit_length()
    made = np.fft.irfft(np.fft.rfft(one, size) * np.fft.rfft(other, size), size)
    return np.asarray(made[:length], np.float64)


def reverberation_time(
    impulse_response: npt.NDArray[np.floating], rate: int = RATE, fall_db: float = 20.0
) -> float:
    """The time in seconds in which sound decays by 60 dB, from an impulse response.

    Backward integration of its square gives the decay curve (M. R. Schroeder, "New method of
    measuring reverberation time", J. Acoust. Soc. Am. 37 (1965) 409); a straight line is fitted
    from 5 dB to ``5 + fall_db`` below its beginning and continued to 60 dB: T20 of
    ISO 3382-1:2009, or T30 with 30. Raises ``ValueError`` when it does not decay that far.
    """
    power = np.asarray(impulse_response, np.float64) ** 2
    left = np.cumsum(power[::-1])[::-1]
    decay_db = 10 * np.log10(np.maximum(left / left[0], 1e-30))
    inside = np.flatnonzero((decay_db <= -5) & (decay_db >= -5 - fall_db))
    if len(inside) < 2 or decay_db[-1] > -5 - fall_db:
        raise ValueError(f"the response does not decay by {5 + fall_db:g} dB: make it longer")
    slope = np.polyfit(inside / rate, decay_db[inside], 1)[0]
    return float(-60 / slope)
