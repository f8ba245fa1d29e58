"""One installation of a model at a time: a lock that ends with the program, however it ends."""

import os
import sys
from collections.abc import Generator
from contextlib import contextmanager
from pathlib import Path

from assistant.devices.model_faults import ModelError

if sys.platform == "win32":
    import msvcrt

    def _lock(handle: int) -> None:
        # Beyond the text, which others may then still read.
        os.lseek(handle, 1 << 30, os.SEEK_SET)
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        os.lseek(handle, 0, os.SEEK_SET)

    def _remove(path: Path) -> None:
        """An open file cannot be removed here; an empty one is left."""
else:
    import fcntl

    def _lock(handle: int) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)

    def _remove(path: Path) -> None:
        path.unlink(missing_ok=True)


@contextmanager
def installing(folder: Path, name: str) -> Generator[None]:
    """Hold the lock on this model in this folder.

    Raises ``ModelError`` at once when another program holds it, ``OSError`` when no lock can
    be made there.
    """
    path = folder / f"{name}.lock"
    while True:
        handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
        try:
            try:
                _lock(handle)
            except OSError:
                owner = os.read(handle, 20).decode("ascii", "replace").strip()
                who = f" (process {owner})" if owner.isdigit() else ""
                raise ModelError(
                    f"{name} is being installed by another sweepsay{who}; "
                    "wait until it has ended, then run the command again if need be"
                ) from None
            if not _is_current(path, handle):
                # Whoever held it removed the file while we waited to open it.
                continue
            os.ftruncate(handle, 0)
            os.write(handle, str(os.getpid()).encode("ascii"))
            try:
                yield
            finally:
                _remove(path)
            return
        finally:
            os.close(handle)


def _is_current(path: Path, handle: int) -> bool:
    try:
        return os.path.samestat(path.stat(), os.fstat(handle))
    except FileNotFoundError:
        return False
