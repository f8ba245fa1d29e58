"""Is the room too loud to hear by voice? A rule with hysteresis, fed with levels.

The noise is the quiet fifth of the last seconds, the voice that of the last utterances that
were taken; the difference is what the recogniser will have to work with. Pure: times are
those of the blocks.
"""

from collections import deque

import numpy as np

from assistant.devices.ears.room import POOR_SNR_DB, SPEECH_DB

WINDOW_S = 6.0
"""The noise is judged over this long: longer than any call, so that quiet is in it."""

LOUD_AFTER_S = 3.0
QUIET_AFTER_S = 5.0
"""How long it must stay so before it is said; slower to forgive than to warn."""

MARGIN_DB = 4.0
"""It must be this much better before it is said that it is better."""

VOICES = 5
"""Utterances that the level of the voice is the median of."""


class NoiseWatch:
    """Feed every block; ``feed`` tells True when it became too loud, False when quiet again.

    ``poor_db``: speech over noise below which calls are mostly guessed.
    """

    def __init__(self, poor_db: float = POOR_SNR_DB) -> None:
        self.poor_db = poor_db
        self.too_loud = False
        self._levels: deque[tuple[float, float]] = deque()
        self._voices: deque[float] = deque(maxlen=VOICES)
        self._since: float | None = None

    def feed(self, level_db: float, at_s: float) -> bool | None:
        """One block's level in dB of full scale and the time of its end in seconds."""
        self._levels.append((at_s, level_db))
        while at_s - self._levels[0][0] > WINDOW_S:
            self._levels.popleft()
        if at_s - self._levels[0][0] < WINDOW_S / 2:
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

    def spoke(self, snr_db: float) -> None:
        """An utterance was taken: its speech over its noise in dB tells the voice's level."""
        self._voices.append(self.noise_db + snr_db)

    @property
    def noise_db(self) -> float:
        """The noise now, in dB of full scale; silence before anything was fed."""
        # A copy at once: the voice asks from another thread than the one that feeds.
        levels = [level for _, level in list(self._levels)]
        return float(np.percentile(levels, 20)) if levels else -100.0

    @property
    def expected_snr_db(self) -> float:
        """Speech over noise that the next call should have."""
        voice = float(np.median(self._voices)) if self._voices else SPEECH_DB
        return voice - self.noise_db

    def _turns(self) -> bool:
        """Whether things are now the other way than was last said."""
        if self.too_loud:
            return self.expected_snr_db > self.poor_db + MARGIN_DB
        return self.expected_snr_db < self.poor_db
