"""The lock that lets one program at a time write a record.

A lock of the operating system on a small file beside the record: it ends with the program,
however that ends, so that a crash leaves nothing to clean up. Readers do not need it.
"""

import os
from pathlib import Path
from types import TracebackType

from filelock import FileLock, Timeout

from assistant.records.faults import from_system
from assistant.records.journal.record_files import in_use


def lock_path(record: Path) -> Path:
    """The file that is locked for this record."""
    return record.with_name(record.name + ".lock")


class WriterLock:
    """Held from construction to `release`; raises RecordError "locked" at once if it is taken."""

    def __init__(self, record: Path) -> None:
        path = lock_path(record)
        # The file stays, since removing it could free a lock that another has just taken; whoever
        # closes the record may be another thread than opened it.
        self._lock = FileLock(
            path, timeout=0, thread_local=False, preserve_lock_file=True, on_acquired=_sign
        )
        try:
            self._lock.acquire()
        except Timeout:
            raise in_use(record, _owner(path)) from None
        except OSError as error:
            raise from_system(error, path) from None

    def release(self) -> None:
        """Let others write; may be called twice."""
        self._lock.release()

    def __enter__(self) -> "WriterLock":
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


def _owner(path: Path) -> str:
    """Which program holds the lock, as far as it can be read."""
    try:
        with path.open("rb") as file:
            file.seek(1)
            number = file.read(20).decode("ascii", "replace")
    except OSError:
        return ""
    return f" (process {number})" if number.isdigit() else ""
