"""How late our own voice arrives at the microphone, measured by every prompt that is spoken.

What was played is looked for in what was taken in meanwhile; nothing is opened here.
"""

import threading
from collections import deque

import numpy as np
import numpy.typing as npt
import soxr  # type: ignore[import-untyped]

from assistant.devices.sound.delay import LATEST_S, RATE, arrival, is_prompt

LOOKS_S = (0.15, 0.4, 0.7, 1.0, LATEST_S)
"""When it is looked for, counted from the end of what was played: most are known at once."""

SHORTEST_S = 0.35
"""Less than this is a tone, whose few frequencies tell nothing."""

LONGEST_S = 4.0
"""What of a prompt is looked for at most."""

BEFORE_S = 0.3
"""From how long before the prompt on it is looked for."""

APART_S = 0.3
"""Silence that parts one prompt from the next."""

PATIENT = 3
"""Prompts that were not heard, after which each is looked for once only."""

Samples = npt.NDArray[np.int16]


class EchoWatch:
    """Told what is played and what is heard; ``delay_s`` is what it knows, None before it does.

    Times are of one clock, in seconds. ``plays`` may be called from the speaker's thread, the
    others from the microphone's.
    """

    def __init__(self) -> None:
        self.delay_s: float | None = None
        self._lock = threading.Lock()
        self._played: list[tuple[float, int, Samples]] = []
        self._played_until = float("-inf")
        self._heard: deque[tuple[float, Samples]] = deque()
        self._looks = 0
        self._unheard = 0

    @property
    def searching(self) -> bool:
        """Whether it may still be heard, for all that is known."""
        return self.delay_s is None and self._unheard < PATIENT

    def plays(self, samples: Samples, rate: int, at: float) -> None:
        """These samples leave the speaker from this time on."""
        with self._lock:
            if at > self._played_until + APART_S:
                self._played = []
                self._looks = 0
            if not self._played or at - self._played[0][0] < LONGEST_S:
                self._played.append((at, rate, samples))
            self._played_until = at + len(samples) / rate

    def hears(self, samples: Samples, until: float) -> None:
        """These samples, at 16 kHz, were taken in until this time."""
        self._heard.append((until, samples))
        while until - self._heard[0][0] > LONGEST_S + 2 * LATEST_S:
            self._heard.popleft()
        with self._lock:
            due = self._due(until)
            played = list(self._played) if due else []
        if played:
            self._look(played)

    def _due(self, now: float) -> bool:
        """Whether it is time to look again."""
        if not self._played or self._looks >= len(LOOKS_S):
            return False
        if self._played_until - self._played[0][0] < SHORTEST_S:
            return False
        if self._unheard >= PATIENT:
            self._looks = len(LOOKS_S) - 1
        if now < self._played_until + LOOKS_S[self._looks]:
            return False
        while self._looks < len(LOOKS_S) and now >= self._played_until + LOOKS_S[self._looks]:
            self._looks += 1
        return True

    def _look(self, played: list[tuple[float, int, Samples]]) -> None:
        begin = played[0][0]
        # Tones and prompts come at rates of their own, and one may last longer than the next.
        pieces = [(round((at - begin) * RATE), _at_rate(each, rate)) for at, rate, each in played]
        sent = np.zeros(max(first + len(piece) for first, piece in pieces), np.int16)
        for first, piece in pieces:
            sent[first : first + len(piece)] = piece
        blocks = [block for block in self._heard if block[0] > begin - BEFORE_S]
        heard = np.concatenate([samples for _, samples in blocks])
        ends = np.cumsum([len(samples) for _, samples in blocks]) / RATE
        first_at = float(np.median([at for at, _ in blocks] - ends))
        begins = round((begin - first_at) * RATE)
        found = arrival(heard, sent, begins)
        if found is not None and is_prompt(heard, sent, begins + round(found.delay_s * RATE)):
            self.delay_s = max(0.0, found.delay_s)
            self._unheard = 0
            with self._lock:
                self._looks = len(LOOKS_S)
        elif self._looks >= len(LOOKS_S):
            self._unheard += 1


def _at_rate(samples: Samples, rate: int) -> Samples:
    """The same sound at 16 kHz."""
    if rate == RATE:
        return samples
    sound = soxr.resample(samples.astype(np.float32), rate, RATE)
    return np.asarray(np.clip(np.rint(sound), -32768, 32767), np.int16)
