"""Not listening while speaking: what the microphone must not hear, by time."""

import threading
from collections import deque

from assistant.devices.sound.delay import LATEST_S
from assistant.devices.sound.echo_watch import EchoWatch, Samples

TAIL_S = 0.2
"""How long a room and a loudspeaker go on after the last sample."""

REMEMBERED = 64
"""Stretches of speech that are remembered."""


class HalfDuplex:
    """Says which sound was taken while the program itself was speaking.

    Times are of one clock, in seconds. With a headset nothing is ever dropped. May be used
    from any thread. ``echo``: measures how much later than it was played our voice arrives, so
    that it is dropped until it is over there; without one it is taken to arrive at once.
    """

    def __init__(
        self, *, headset: bool = False, tail_s: float = TAIL_S, echo: EchoWatch | None = None
    ) -> None:
        self.headset = headset
        self._tail_s = tail_s
        self._echo = echo if not headset else None
        self._lock = threading.Lock()
        self._since: float | None = None
        # Sound may wait for a while before it is looked at, so the past is kept.
        self._spoke: deque[tuple[float, float]] = deque(maxlen=REMEMBERED)

    def speaking(self) -> bool:
        """Whether sound is on its way to the speaker now."""
        with self._lock:
            return self._since is not None

    def begins(self, at: float) -> None:
        """Sound is on its way to the speaker; more of it may follow before the end."""
        with self._lock:
            if self._since is None:
                self._since = at

    def ends(self, at: float) -> None:
        """The last sample leaves the speaker at this time, which may be to come."""
        with self._lock:
            if self._since is not None:
                self._spoke.append((self._since, at))
                self._since = None

    @property
    def delay_s(self) -> float | None:
        """How late our voice arrives; None when that is not known."""
        return None if self._echo is None else self._echo.delay_s

    def plays(self, samples: Samples, rate: int, at: float) -> None:
        """These samples leave the speaker from this time on; for the speaker's callback."""
        if self._echo is not None:
            self._echo.plays(samples.copy(), rate, at)

    def hears(self, samples: Samples, until: float) -> None:
        """The microphone took these in, at 16 kHz, until this time."""
        if self._echo is not None:
            self._echo.hears(samples, until)

    def reaches_until(self) -> float:
        """Until when our voice may be at the microphone, long ago if it is never heard there.

        While it is not known how late it arrives, as long as any speaker takes.
        """
        if self._echo is None:
            return float("-inf") if self.headset else self.spoke_until() + self._tail_s
        late_s = LATEST_S if self._echo.searching else 0.0
        return self.spoke_until() + self._tail_s + (self.delay_s or late_s)

    def spoke_until(self) -> float:
        """When the last sample left the speaker, or will; long ago when there was none."""
        with self._lock:
            return self._spoke[-1][1] if self._spoke else float("-inf")

    def drops(self, begin: float, end: float) -> bool:
        """Tell whether sound of this stretch may hold our own voice."""
        if self.headset:
            return False
        with self._lock:
            if self._since is not None and end > self._since:
                return True
            after_s = self._tail_s + (self.delay_s or 0.0)
            return any(begin < until + after_s and end > since for since, until in self._spoke)
