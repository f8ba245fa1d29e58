"""A key that is held down in a terminal: what it sends again by itself is not a second answer.

A terminal tells presses only, never that a key was let go, so that time must tell. A keypad
that is read as an input device says itself what is a repeat.
"""

import threading
import time
from collections.abc import Callable

FIRST_REPEAT_S = 0.2
"""A held key sends nothing again before this: the shortest delay that Linux's kbdrate(8) sets
is 250 ms, and X.Org's usual one 660 ms (xset(1))."""

LAST_FIRST_REPEAT_S = 1.1
"""The longest delay that kbdrate(8) sets is 1 s: what comes later is a press of its own."""

REPEAT_S = 0.12
"""Repeats follow each other faster: 10.9 a second on a Linux console, 25 under X.Org (kbdrate(8),
xset(1)). A press that may be the first of them waits so long for a second."""

TALK = "talk"
"""The space bar: pressed once before a call and once after it, or held down for as long."""

GUARDED = frozenset({"enter", "+", "-", "/", TALK})
"""Keys that answer or take back by themselves; digits only make a number longer."""

LET_GO_S = 0.2
"""A key that sent repeats and sends none for so long was let go: the slowest come every 0.09 s."""


class HeldKey:
    """Hands on presses that are meant; ``told`` gets them, sometimes from a thread of its own.

    A press that comes as long after the same key as repeats begin is handed on ``REPEAT_S``
    later, unless another follows at the pace of repeats: then it is none. Of the talk key that is
    held down the end is handed on as a second press, unless that took longer than ``longest_s``.
    ``later`` calls a function after so many seconds. Any thread may press.
    """

    def __init__(
        self,
        told: Callable[[str], None],
        clock: Callable[[], float] = time.monotonic,
        later: "Callable[[float, Callable[[], None]], None] | None" = None,
        longest_s: float = float("inf"),
    ) -> None:
        self._told, self._clock, self._later = told, clock, later or _later
        self._lock = threading.RLock()
        self._key = ""
        self._at = self._since = float("-inf")
        self._longest_s = longest_s
        self._waits = False
        self._repeats = False

    def pressed(self, key: str) -> None:
        """The terminal sent this key."""
        with self._lock:
            now = self._clock()
            gap_s = now - self._at if key == self._key else float("inf")
            follows = key in GUARDED and gap_s < REPEAT_S and (self._waits or self._repeats)
            if follows:
                self._at, self._waits, self._repeats = now, False, True
                if key == TALK:
                    self._later(LET_GO_S, self._let_go)
                return
            self.settle()
            self._key, self._at, self._repeats = key, now, False
            if key in GUARDED and FIRST_REPEAT_S <= gap_s <= LAST_FIRST_REPEAT_S:
                self._waits = True
                self._later(REPEAT_S, self._due)
                return
            self._since = now
            self._told(key)

    def settle(self) -> None:
        """Something else was typed: a press that waits was meant."""
        with self._lock:
            if self._waits:
                self._waits = False
                self._told(self._key)

    def _let_go(self) -> None:
        with self._lock:
            if self._repeats and self._clock() - self._at >= LET_GO_S:
                self._repeats = False
                if self._at - self._since < self._longest_s:
                    self._told(self._key)

    def _due(self) -> None:
        with self._lock:
            if self._clock() - self._at >= REPEAT_S:
                self.settle()


def _later(seconds: float, do: Callable[[], None]) -> None:
    timer = threading.Timer(seconds, do)
    timer.daemon = True
    timer.start()
