"""Lines for a terminal or another program, written on a thread of its own.

A terminal that was stopped, or a program that does not read, blocks whoever writes to it.
The job must not wait for that, so only this thread does; what cannot be written is told.
"""

import contextlib
import os
import queue
import sys
import threading
import time
from collections.abc import Callable
from types import TracebackType
from typing import TextIO

from assistant.devices.sound.lifeline import Report
from assistant.devices.text.streams import OTHER_SIGNS
from assistant.devices.watch import Stint

STUCK_S = 5.0
"""A reader that takes nothing for so long counts as lost."""

MOST_LINES = 20_000
"""Lines that wait for a reader; beyond that new ones are left out."""


class Printer:
    """Writes lines in order; ``line`` returns at once and may be called from any thread.

    ``report`` is told the reason when nothing is taken any more, and None when it is again.
    """

    def __init__(
        self,
        out: TextIO,
        report: Report,
        *,
        stuck_s: float = STUCK_S,
        most: int = MOST_LINES,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._write = _writer(out)
        self._report = report
        self._stuck_s = stuck_s
        self._lines: queue.Queue[str | None] = queue.Queue(most)
        self._stint = Stint(clock)
        self._lost = False
        self._closed = False
        self.left_out = 0
        self._thread = threading.Thread(target=self._run, name="printer", daemon=True)

    def __enter__(self) -> "Printer":
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Wait for what is still to be written, but not for ever."""
        with contextlib.suppress(queue.Full):
            self._lines.put_nowait(None)
            self._thread.join(self._stuck_s)

    def line(self, text: str) -> None:
        """Write this and the end of the line soon."""
        if self._closed:
            return
        try:
            self._lines.put_nowait(text)
        except queue.Full:
            self.left_out += 1

    def check(self) -> None:
        """Look whether the reader still takes something; for the watch."""
        if self._stint.overdue() and not self._lost:
            self._lost = True
            self._report("it takes no more lines")

    def _run(self) -> None:
        while (text := self._lines.get()) is not None:
            try:
                with self._stint.within(self._stuck_s):
                    self._write(f"{text}\n")
            except (OSError, ValueError) as error:
                # The terminal or the program that read us is gone, for good.
                self._closed = True
                if not self._lost:
                    self._lost = True
                    self._report(str(error) or "it is closed")
                return
            if self._lost:
                self._lost = False
                self._report(None)


def _writer(out: TextIO) -> Callable[[str], None]:
    """Writing past Python's buffer, whose lock a thread that hangs would keep at the end."""
    try:
        handle = out.fileno()
        out.flush()
    except (OSError, ValueError, AttributeError):
        handle = -1
    if handle < 0 or sys.platform == "win32":
        return lambda text: _through(out, text)
    encoding = out.encoding or "utf-8"
    return lambda text: _whole(handle, text.encode(encoding, OTHER_SIGNS))


def _through(out: TextIO, text: str) -> None:
    out.write(text)
    out.flush()


def _whole(handle: int, data: bytes) -> None:
    while data:
        data = data[os.write(handle, data) :]
