"""Keeping a sound device open: notice that it died, open it again, say so once.

``Reconnection`` is the rule, without clock or thread; ``Lifeline`` drives it.
"""

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, assert_never

from assistant.devices.faults import DeviceFault
from assistant.devices.watch import Stint

Attempt = Literal["wait", "open", "drop"]

Report = Callable[[str | None], None]
"""Told the reason when the device is lost, and None when it works again."""


@dataclass(frozen=True, slots=True)
class Patience:
    """How long to wait, in seconds.

    ``start``: for the first block after opening. ``silence``: for the next block, which is
    due every 10 to 30 ms; but a device that wakes up was seen to pause for 2 s before the
    first block, and once more after it. ``retries``: before each
    further attempt to open; the last one repeats.
    """

    start: float = 5.0
    silence: float = 3.0
    retries: tuple[float, ...] = (0.25, 0.5, 1.0, 2.0)


class Reconnection:
    """When to open a device and when to give it up. Times are from any one clock."""

    def __init__(self, patience: Patience | None = None) -> None:
        self._patience = patience or Patience()
        self._state: Literal["closed", "starting", "running"] = "closed"
        self._since = float("-inf")
        self._failures = 0
        self._lost = False

    @property
    def lost(self) -> bool:
        """Whether the device was reported lost and is not back."""
        return self._lost

    @property
    def failures(self) -> int:
        """Attempts to open that failed since it last worked."""
        return self._failures

    def due(self, now: float, *, active: bool = True) -> Attempt:
        """What to do now; ``active``: whether the open stream says that it runs."""
        match self._state:
            case "closed":
                waits = self._patience.retries
                wait = waits[min(self._failures, len(waits)) - 1] if self._failures else 0.0
                return "open" if now >= self._since + wait else "wait"
            case "starting":
                silent = now > self._since + self._patience.start
                return "drop" if silent or not active else "wait"
            case "running":
                silent = now > self._since + self._patience.silence
                return "drop" if silent or not active else "wait"
            case _:
                assert_never(self._state)

    def opened(self, now: float) -> None:
        """It was opened; blocks should come."""
        self._state, self._since = "starting", now

    def block(self, now: float) -> bool:
        """A block came; tells whether this is news: the device is back."""
        if self._state == "closed":
            return False
        self._state, self._since, self._failures = "running", now, 0
        back, self._lost = self._lost, False
        return back

    def dropped(self, now: float) -> bool:
        """It was closed because it was silent; tells whether this is news.

        One that worked is tried again at once before anything is said: a restart of the
        sound system is no loss.
        """
        worked = self._state == "running"
        self._state, self._since = "closed", now
        return False if worked else self._failed()

    def failed(self, now: float) -> bool:
        """It could not be opened; tells whether this is news."""
        self._state, self._since = "closed", now
        return self._failed()

    def hangs(self) -> bool:
        """Its library does not return from a call; tells whether this is news."""
        news, self._lost = not self._lost, True
        return news

    def _failed(self) -> bool:
        self._failures += 1
        news, self._lost = not self._lost, True
        return news


class Lifeline:
    """Opens a device, watches it and opens it again, on a thread of its own.

    ``open_`` opens the stream and may raise ``DeviceFault``; it is told whether devices
    should be looked for again. ``close`` closes it. ``active`` asks the stream. All three
    are called from the thread only, because closing a device that was pulled out may hang.
    Call ``beat`` for every block; it is cheap and may be called from any thread. ``check``
    tells of a library that hangs; another thread should call it now and then.
    """

    TICK_S = 0.1
    CALL_S = 4.0
    """How long closing or asking a device may take."""
    OPEN_S = 15.0
    """How long opening may take: looking for devices is given 10 s of it."""

    def __init__(
        self,
        name: str,
        open_: Callable[[bool], None],
        close: Callable[[], None],
        active: Callable[[], bool],
        report: Report,
        *,
        patience: Patience | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._open, self._close, self._active, self._report = open_, close, active, report
        self._clock = clock
        self._rule = Reconnection(patience)
        self._reason = ""
        self.remedy = ""
        self._last_beat = float("-inf")
        self._seen_beat = float("-inf")
        self._stint = Stint(clock)
        self._end = threading.Event()
        self._first = threading.Event()
        self._thread = threading.Thread(target=self._run, name=name, daemon=True)

    def start(self) -> None:
        """Begin; returns at once."""
        self._thread.start()

    def wait_for_first_attempt(self, limit_s: float = 5.0) -> str | None:
        """Wait until opening was tried once; the reason when it failed, else None."""
        self._first.wait(limit_s)
        return self._reason or None if self._rule.lost else None

    def stop(self) -> None:
        """End and close; gives a device that hangs up after two seconds."""
        self._end.set()
        if self._thread.is_alive():
            self._thread.join(2.0)

    def check(self) -> None:
        """Say once when the library does not return; the thread may be stuck in it for ever."""
        if self._stint.overdue() and self._rule.hangs():
            self._reason = "its library does not answer"
            self._report(self._reason)

    def beat(self) -> None:
        """The device delivered or took a block."""
        self._last_beat = self._clock()

    def tick(self) -> None:
        """One look at the device; the thread does this ten times a second."""
        if self._last_beat > self._seen_beat:
            self._seen_beat = self._last_beat
            if self._rule.block(self._last_beat):
                self._report(None)
        now = self._clock()
        with self._stint.within(self.CALL_S):
            active = self._active()
        match self._rule.due(now, active=active):
            case "wait":
                return
            case "drop":
                with self._stint.within(self.CALL_S):
                    self._close()
                self._seen_beat = self._last_beat
                self._reason, self.remedy = "it delivers nothing", "check its plug"
                if self._rule.dropped(now):
                    self._report(self._reason)
            case "open":
                self._try(now)

    def _try(self, now: float) -> None:
        try:
            with self._stint.within(self.OPEN_S):
                self._open(self._rule.failures > 0)
        except Exception as error:  # noqa: BLE001 - whatever it is, it is told and tried again
            fault = error if isinstance(error, DeviceFault) else None
            self._reason = fault.reason if fault else _told(error)
            self.remedy = fault.remedy if fault else "check its plug"
            if self._rule.failed(now):
                self._report(self._reason)
        else:
            self._seen_beat = self._last_beat
            self._rule.opened(self._clock())

    def _run(self) -> None:
        try:
            while not self._end.is_set():
                self.tick()
                self._first.set()
                self._end.wait(self.TICK_S)
        finally:
            self._close()
            self._first.set()


def _told(error: Exception) -> str:
    return " ".join(f"{type(error).__name__} {error}".split())
