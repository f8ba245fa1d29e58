"""A lock that one program at a time holds, and which program that is.

It is a lock of the operating system on a small file: it ends with the program, however that ends,
so that a crash leaves nothing to clean up. What it stands for, and what is told to a program that
comes second, is its user's.
"""

import os
from pathlib import Path
from types import TracebackType

from filelock import FileLock, Timeout


class HeldElsewhere(Exception):
    """Another program holds the lock; ``who`` names its process, as far as that can be read."""

    def __init__(self, who: str) -> None:
        super().__init__(f"held by another program{who}")
        self.who = who


class ProgramLock:
    """Held from construction to `release`.

    Raises ``HeldElsewhere`` at once when another program holds it, ``OSError`` when no lock can
    be made there.
    """

    def __init__(self, path: Path) -> None:
        # The file stays, since removing it could free a lock that another has just taken; whoever
        # lets go of it may be another thread than took it.
        self._lock = FileLock(
            path, timeout=0, thread_local=False, preserve_lock_file=True, on_acquired=_sign
        )
        try:
            self._lock.acquire()
        except Timeout:
            raise HeldElsewhere(_holder(path)) from None

    def release(self) -> None:
        """Let others have it; may be called twice."""
        self._lock.release()

    def __enter__(self) -> "ProgramLock":
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.release()


def _sign(handle: int) -> None:
    """Leave our number behind the first byte, which is the one that Windows locks."""
    os.ftruncate(handle, 0)
    os.write(handle, f" {os.getpid()}".encode("ascii"))


def _holder(path: Path) -> str:
    """Which program holds the lock, as far as it can be read."""
    try:
        with path.open("rb") as file:
            file.seek(1)
            number = file.read(20).decode("ascii", "replace")
    except OSError:
        return ""
    return f" (process {number})" if number.isdigit() else ""
