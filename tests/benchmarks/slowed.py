"""A slower processor, pretended: a process that is stopped most of the time.

It runs for ``RUN_S`` and stands for as much longer as it is to be slower. That is what a slower
processor with as many cores does to whatever takes longer than one round of it; what is shorter
may take a round more. POSIX only.
"""

import os
import signal
import threading
import time
from types import TracebackType

RUN_S = 0.003
"""One round is this long times the factor: 15 ms where it is five times slower."""


class Slowed:
    """While it is entered the process of this number is ``times`` slower; 1 is as it is."""

    def __init__(self, process: int, times: float) -> None:
        self._process, self._times = process, times
        self._end = threading.Event()
        self._thread = threading.Thread(target=self._run, name="slower", daemon=True)

    def __enter__(self) -> "Slowed":
        if self._times > 1:
            self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._end.set()
        if self._times > 1:
            self._thread.join()

    def _run(self) -> None:
        try:
            while not self._end.is_set():
                began = time.monotonic()
                os.kill(self._process, signal.SIGCONT)
                time.sleep(RUN_S)
                os.kill(self._process, signal.SIGSTOP)
                # A busy computer lets it run for longer than was meant: then it stands longer.
                time.sleep((self._times - 1) * (time.monotonic() - began))
            os.kill(self._process, signal.SIGCONT)
        except ProcessLookupError:
            return


def slower_by() -> float:
    """How many times slower this process runs than its processor, by a second of work."""
    began, busy = time.monotonic(), time.process_time()
    while time.monotonic() - began < 1.0:
        pass
    return (time.monotonic() - began) / (time.process_time() - busy)
