"""Is the room too loud to hear by voice? A rule with hysteresis, fed with levels.

The noise is the quiet fifth of the last seconds, the voice that of the last utterances that
were taken; the difference is what the recogniser will have to work with. Pure: times are
those of the blocks.
"""

from collections import deque
from collections.abc import Sequence

import numpy as np

from assistant.devices.ears.room import POOR_SNR_DB, SPEECH_DB

WINDOW_S = 6.0
"""The noise is judged over this long: longer than any call, so that quiet is in it."""

LOUD_AFTER_S = 3.0
QUIET_AFTER_S = 5.0
"""How long it must stay so before it is said; slower to forgive than to warn."""

MARGIN_DB = 4.0
"""It must be this much better before it is said that it is better."""

UNDER_VOICE_S = 2.0
"""Our own voice pauses within this time: few breaths are longer."""

PAUSE_SHARE = 5
"""Percent of that time in which it is quiet: a tenth of a second."""

VOICES = 5
"""Utterances that the level of the voice is the median of."""


_Level = tuple[float, float]
"""Time in seconds and level in dB of full scale."""


class NoiseWatch:
    """Feed every block; ``feed`` tells True when it became too loud, False when quiet again.

    ``poor_db``: speech over noise below which calls are mostly guessed.
    """

    def __init__(self, poor_db: float = POOR_SNR_DB) -> None:
        self.poor_db = poor_db
        self.too_loud = False
        self._levels: deque[_Level] = deque()
        self._pauses: deque[_Level] = deque()
        self._now_s = 0.0
        self._voices: deque[float] = deque(maxlen=VOICES)
        self._since: float | None = None

    def feed(self, level_db: float, at_s: float) -> bool | None:
        """One block's level in dB of full scale and the time of its end in seconds."""
        self._levels.append((at_s, level_db))
        return self._watch(at_s)

    def under_voice(self, levels: Sequence[tuple[float, float]]) -> bool | None:
        """Times and levels while our own voice was to be heard, oldest first; news as ``feed``.

        What is left in its pauses is the room, or its echo: at least no less than the room (minimum
        statistics: R. Martin, "Noise power spectral density estimation based on optimal
        smoothing and minimum statistics", 2001). Too much for ``noise_db``: a voice that is
        raised over its own echo would be raised again.
        """
        news = None
        long_s = levels[-1][0] - levels[0][0] if levels else 0.0
        if long_s < UNDER_VOICE_S:
            return None
        for part in np.array_split(np.array(levels), int(long_s / UNDER_VOICE_S)):
            pause = float(np.percentile(part[:, 1], PAUSE_SHARE))
            for at_s in part[:, 0].tolist():
                self._pauses.append((at_s, pause))
                told = self._watch(at_s)
                news = news if told is None else told
        return news

    def spoke(self, snr_db: float) -> None:
        """An utterance was taken: its speech over its noise in dB tells the voice's level."""
        self._voices.append(self.noise_db + snr_db)

    @property
    def noise_db(self) -> float:
        """The noise when last heard, in dB of full scale; silence before anything was fed."""
        # A copy at once: the voice asks from another thread than the one that feeds.
        return _quiet_fifth(list(self._levels))

    @property
    def expected_snr_db(self) -> float:
        """Speech over noise that the next call should have."""
        voice = float(np.median(self._voices)) if self._voices else SPEECH_DB
        return voice - _quiet_fifth([*self._recent(self._levels), *self._recent(self._pauses)])

    def _recent(self, levels: deque[_Level]) -> list[_Level]:
        return [one for one in levels if self._now_s - one[0] <= WINDOW_S]

    def _watch(self, at_s: float) -> bool | None:
        self._now_s = at_s
        for levels in (self._levels, self._pauses):
            # What was heard last stays until something is heard again.
            while len(levels) > 1 and at_s - levels[0][0] > WINDOW_S:
                levels.popleft()
        seen = [levels[0][0] for levels in (self._levels, self._pauses) if levels]
        if at_s - max(min(seen), at_s - WINDOW_S) < WINDOW_S / 2:
            return None
        if not self._turns():
            self._since = None
            return None
        if self._since is None:
            self._since = at_s
        wait = QUIET_AFTER_S if self.too_loud else LOUD_AFTER_S
        if at_s - self._since < wait:
            return None
        self._since = None
        self.too_loud = not self.too_loud
        return self.too_loud

    def _turns(self) -> bool:
        """Whether things are now the other way than was last said."""
        if self.too_loud:
            return self.expected_snr_db > self.poor_db + MARGIN_DB
        return self.expected_snr_db < self.poor_db


def _quiet_fifth(levels: Sequence[_Level]) -> float:
    return float(np.percentile([level for _, level in levels], 20)) if levels else -100.0
