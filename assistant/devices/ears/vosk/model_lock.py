"""One installation of a model at a time: a lock that ends with the program, however it ends."""

import os
from collections.abc import Generator
from contextlib import contextmanager
from pathlib import Path

from filelock import FileLock, Timeout

from assistant.devices.ears.model_faults import ModelError


@contextmanager
def installing(folder: Path, name: str) -> Generator[None]:
    """Hold the lock on this model in this folder; its small file stays there.

    Raises ``ModelError`` at once when another program holds it, ``OSError`` when no lock can
    be made there.
    """
    path = folder / f".{name}.lock"
    lock = FileLock(path, timeout=0, preserve_lock_file=True, on_acquired=_sign)
    try:
        lock.acquire()
    except Timeout:
        raise ModelError(
            f"{name} is being installed by another sweepsay{_owner(path)}; "
            "wait until it has ended, then run the command again if need be"
        ) from None
    try:
        yield
    finally:
        lock.release()


def _sign(handle: int) -> None:
    """Leave our number behind the first byte, which is the one that Windows locks."""
    os.ftruncate(handle, 0)
    os.write(handle, f" {os.getpid()}".encode("ascii"))


def _owner(path: Path) -> str:
    """Which program holds the lock, as far as it can be read."""
    try:
        with path.open("rb") as file:
            file.seek(1)
            number = file.read(20).decode("ascii", "replace")
    except OSError:
        return ""
    return f" (process {number})" if number.isdigit() else ""
