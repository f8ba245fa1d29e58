"""The lock that lets one program at a time write a record.

A lock of the operating system on a small file beside the record: it ends with the program,
however that ends, so that a crash leaves nothing to clean up. Readers do not need it.
"""

import os
import sys
from pathlib import Path
from types import TracebackType

from assistant.records.faults import RecordError, from_system

if sys.platform == "win32":
    import msvcrt

    # Locked beyond the text, which others may then still read.
    _PLACE = 1 << 30

    def _lock(handle: int) -> None:
        os.lseek(handle, _PLACE, os.SEEK_SET)
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        os.lseek(handle, 0, os.SEEK_SET)
else:
    import fcntl

    def _lock(handle: int) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)


def lock_path(record: Path) -> Path:
    """The file that is locked for this record."""
    return record.with_name(record.name + ".lock")


class WriterLock:
    """Held from construction to `release`; raises RecordError "locked" at once if it is taken."""

    def __init__(self, record: Path) -> None:
        path = lock_path(record)
        try:
            self._handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
        except OSError as error:
            raise from_system(error, path) from None
        try:
            _lock(self._handle)
        except OSError:
            owner = os.read(self._handle, 20).decode("ascii", "replace").strip()
            os.close(self._handle)
            who = f" (process {owner})" if owner.isdigit() else ""
            raise RecordError(
                "locked",
                f"record {record}: another sweepsay{who} is writing it: "
                "go on there, close it, or name another file with --db",
            ) from None
        try:
            os.ftruncate(self._handle, 0)
            os.write(self._handle, str(os.getpid()).encode("ascii"))
        except OSError as error:
            self.release()
            raise from_system(error, path) from None

    def release(self) -> None:
        """Let others write; the file stays, since removing it could free a lock just taken."""
        if self._handle >= 0:
            os.close(self._handle)
            self._handle = -1

    def __enter__(self) -> "WriterLock":
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.release()
