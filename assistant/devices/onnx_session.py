"""Neural networks run by ``onnxruntime``, from threads that the end of the program need not join.

The runtime lets go of the interpreter's lock while it works. A daemon thread that wants it back
after the interpreter has ended is unwound through C++ ("terminate called without an active
exception"), and the process aborts with whatever exit code that has. So the end of the program
waits for calls that are under way, and none begins after it.
"""

import atexit
import ctypes
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

LONGEST_CALL_S = 5.0
"""How long the end of the program waits: a large model takes so long to load on a slow disk."""

OWN_PAGES_FROM, KEPT_FREE = 5 << 18, 32 << 20
"""Bytes from which a piece of memory has pages of its own, and goes back when it is freed; bytes
that may stay free at the end of a thread's memory.

By itself the GNU allocator raises the first with every large piece that is freed, and then keeps
what the longest sentence ever spoken took: 100 to 200 MB. Below it, every step of the decoder
asked the system for its megabyte of log probabilities anew: hearing took a fifth longer. Once
set, both stay (mallopt(3)).
"""

_M_TRIM_THRESHOLD, _M_MMAP_THRESHOLD = -1, -3

_change = threading.Condition()
_under_way = 0
_ending = False


class Session:
    """A network, loaded. ``model``: the path of its file; ``options``: the runtime's.

    Raises what the runtime raises, ``ImportError`` when it is not installed.
    """

    def __init__(self, model: str, options: Any) -> None:
        onnxruntime = runtime()
        # An arena of the runtime's own would keep what the longest sound and sentence took.
        options.enable_cpu_mem_arena = False
        _allocator("mallopt", _M_MMAP_THRESHOLD, OWN_PAGES_FROM)
        _allocator("mallopt", _M_TRIM_THRESHOLD, KEPT_FREE)
        with _call():
            self._session: Any = onnxruntime.InferenceSession(
                model, options, providers=["CPUExecutionProvider"]
            )
        give_memory_back()

    def run(self, outputs: list[str] | None, inputs: dict[str, Any]) -> list[Any]:
        """The named outputs, or all, for these inputs."""
        with _call():
            found: list[Any] = self._session.run(outputs, inputs)
        return found


def runtime() -> Any:
    """The library, loaded. Raises ``ImportError`` when it is not installed."""
    with _call():
        import onnxruntime

        return onnxruntime


def give_memory_back() -> None:
    """Return to the system what is free in between (malloc_trim(3)); it takes a millisecond.

    Loading a network leaves 10 MB behind, speaking a sentence 20 MB.
    """
    _allocator("malloc_trim", 0)


def _allocator(call: str, *arguments: int) -> None:
    """Call the GNU allocator; other systems' have no such functions."""
    told = getattr(ctypes.CDLL(None), call, None) if sys.platform == "linux" else None
    if told is not None:
        told(*arguments)


@contextmanager
def _call() -> Iterator[None]:
    global _under_way
    with _change:
        # Whoever comes now would come back too late: it waits for good, and ends with the rest.
        if threading.current_thread() is not threading.main_thread():
            _change.wait_for(lambda: not _ending)
        _under_way += 1
    try:
        yield
    finally:
        with _change:
            _under_way -= 1
            _change.notify_all()


@atexit.register
def _end() -> None:
    global _ending
    with _change:
        _ending = True
        _change.wait_for(lambda: not _under_way, LONGEST_CALL_S)
