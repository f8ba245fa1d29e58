"""Time limits on calls that may never return: noticed from another thread, told, worked round.

A call into a library, a disk or a terminal that hangs cannot be ended from outside. What can
be done belongs here: to know that a thread is in such a call for too long, and to look at
all of them now and then.
"""

import threading
import time
from collections.abc import Callable, Generator, Sequence
from contextlib import contextmanager
from types import TracebackType

EVERY_S = 0.25
"""How often the checks are made."""


class Stint:
    """One thread's stay in a call that may hang; ``overdue`` may be asked by any thread."""

    __slots__ = ("_clock", "_until")

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._until: float | None = None

    @contextmanager
    def within(self, limit_s: float) -> Generator[None]:
        """The call, which should be over after this many seconds."""
        self._until = self._clock() + limit_s
        try:
            yield
        finally:
            self._until = None

    def ends(self) -> None:
        """What might hang is over, though the block goes on."""
        self._until = None

    def overdue(self) -> bool:
        """Whether a call lasts longer than it should."""
        until = self._until
        return until is not None and self._clock() > until


class Watch:
    """Makes checks on a thread of its own until it is closed; a check returns at once."""

    def __init__(self, checks: Sequence[Callable[[], None]], every_s: float = EVERY_S) -> None:
        self._checks = checks
        self._every_s = every_s
        self._end = threading.Event()
        self._thread = threading.Thread(target=self._run, name="watch", daemon=True)

    def __enter__(self) -> "Watch":
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._end.set()
        self._thread.join(2.0)

    def _run(self) -> None:
        while not self._end.wait(self._every_s):
            for check in self._checks:
                check()
