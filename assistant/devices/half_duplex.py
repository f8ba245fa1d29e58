"""Not listening while speaking: what the microphone must not hear, by time."""

import threading
from collections import deque

TAIL_S = 0.2
"""How long a room and a loudspeaker go on after the last sample."""

REMEMBERED = 64
"""Stretches of speech that are remembered."""


class HalfDuplex:
    """Says which sound was taken while the program itself was speaking.

    Times are of one clock, in seconds. With a headset nothing is ever dropped. May be used
    from any thread.
    """

    def __init__(self, *, headset: bool = False, tail_s: float = TAIL_S) -> None:
        self.headset = headset
        self._tail_s = tail_s
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

    def drops(self, begin: float, end: float) -> bool:
        """Tell whether sound of this stretch may hold our own voice."""
        if self.headset:
            return False
        with self._lock:
            if self._since is not None and end > self._since:
                return True
            return any(begin < until + self._tail_s and end > since for since, until in self._spoke)
