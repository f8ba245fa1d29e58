"""What a bystander of a simulated job would have heard, in the order of the clock.

Only the timeline: sounds are put down at the clock's time and mixed at the end. What is
said comes from elsewhere.
"""

from pathlib import Path

import numpy as np
import numpy.typing as npt

from assistant.devices.sound.mixdown import PlacedSound, mix, room_noise, wav_of
from assistant.records.whole_files import replace_file
from assistant.simulation.clock import SimulatedClock
from assistant.simulation.noise import RATE, active_level_db

Samples = npt.NDArray[np.int16]

SPEECH_DB = -26.0
"""Active level of both voices in the mix, in dB below full scale (as in ITU-T P.56)."""

PERSON, ASSISTANT = -0.35, 0.35
"""Where the two stand: apart they are easier to follow."""


class QuietRoom:
    """A steady, quiet room whose noise never repeats within a minute.

    ``level_db``: RMS in dB below full scale.
    """

    def __init__(self, seed: int, level_db: float = -62.0) -> None:
        chance = np.random.default_rng(seed)
        self._noise = room_noise(60.0, level_db, chance, rate=RATE)

    def during(self, start_s: float, samples: int) -> Samples:
        """The noise from a time on, at 16 kHz; the same time always sounds the same."""
        first = round(start_s * RATE)
        places = np.arange(first, first + samples) % len(self._noise)
        return self._noise[places]


class Soundtrack:
    """Sounds by the clock, to be mixed into one recording."""

    def __init__(self, clock: SimulatedClock, room: QuietRoom) -> None:
        self.clock = clock
        self.room = room
        self._pieces: list[PlacedSound] = []

    def voice(self, samples: Samples, rate: int, side: float, start_s: float | None = None) -> None:
        """Somebody speaks, now or at another time; both voices come out equally loud."""
        if not len(samples):
            return
        level = active_level_db(samples / 32768.0)
        gain = 10 ** ((SPEECH_DB - level) / 20) if np.isfinite(level) else 1.0
        self._put(samples, rate, gain, side, start_s)

    def sound(self, samples: Samples, rate: int, side: float = ASSISTANT) -> None:
        """A tone, as loud as it is."""
        self._put(samples, rate, 0.5, side, None)

    def _put(
        self, samples: Samples, rate: int, gain: float, side: float, start_s: float | None
    ) -> None:
        at = self.clock.seconds if start_s is None else start_s
        self._pieces.append(PlacedSound(at, samples, rate, float(gain), side))

    @property
    def length_s(self) -> float:
        """Up to the end of the last sound."""
        return max((piece.end_s for piece in self._pieces), default=0.0)

    def write(self, path: Path) -> None:
        """Mix everything with the room round it. Raises MixdownError, RecordError."""
        room = self.room.during(0.0, round((self.length_s + 0.5) * RATE))
        replace_file(path, wav_of(mix([*self._pieces, PlacedSound(0.0, room, RATE)])))
