"""The files of a record: its own, what SQLite keeps beside it, and their rights.

Belongs here: names, and holding the record's own file. Not here: what is in it.
"""

import errno
import os
import stat
import sys
from contextlib import suppress
from pathlib import Path

from assistant.records.faults import RecordError, from_system

PRIVATE = 0o600
"""What somebody's machine came out like is their business."""

_ONCE_USUAL = 0o644
"""The rights that earlier versions left a record with; others were given on purpose."""

_FAR = 1 << 40
"""Where the record's own file is locked: far behind SQLite's locks at 1 GiB (os.h,
PENDING_BYTE) and behind any page."""

if sys.platform == "win32":

    def _lock(handle: int) -> None:
        """A file that is open cannot be deleted here, so that the lock file is enough."""
        del handle
else:
    import fcntl

    def _lock(handle: int) -> None:
        fcntl.lockf(handle, fcntl.LOCK_EX | fcntl.LOCK_NB, 1, _FAR)


def log_of(path: Path) -> Path:
    """SQLite's write-ahead log: the newest rows are there and nowhere else."""
    return path.with_name(path.name + "-wal")


def index_of(path: Path) -> Path:
    """SQLite's index of the log, shared by the programs that have the record open."""
    return path.with_name(path.name + "-shm")


def journal_of(path: Path) -> Path:
    """SQLite's rollback journal, which is there while tables are made."""
    return path.with_name(path.name + "-journal")


def companions(path: Path) -> tuple[Path, Path, Path]:
    """What belongs to a record under its name, and goes where it goes."""
    return log_of(path), index_of(path), journal_of(path)


def has_content(path: Path) -> bool:
    """Whether there is a file that holds at least one byte."""
    try:
        return path.stat().st_size > 0
    except (FileNotFoundError, NotADirectoryError):
        return False


def check_place(path: Path) -> None:
    """Raise RecordError for what cannot be a record: a folder, a pipe, a device."""
    try:
        kind = path.stat().st_mode
    except (FileNotFoundError, NotADirectoryError):
        if path.name:
            return
        kind = stat.S_IFDIR
    except OSError as error:
        raise from_system(error, path) from None
    if not stat.S_ISREG(kind):
        what = "a folder" if stat.S_ISDIR(kind) else "no file but a pipe or a device"
        raise RecordError("cannot_open", f"record {path}: it is {what}: name a file with --db")


class Held:
    """The record's own file: made if there is none, and held by this program alone.

    The lock is on the file itself, so that whoever deletes the lock file beside it lets no
    second writer in. POSIX (fcntl, "Advisory locking") takes all locks of a process off a file
    when it closes any handle of that file. So `lock` is called again when SQLite has closed
    those with which the file was looked into, and `release` when it has closed all; as long as
    it holds a lock of its own, it puts closing off. Raises RecordError: "locked" at once when
    another program holds it.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        try:
            self._handle = os.open(path, os.O_RDWR | os.O_CREAT, PRIVATE)
        except OSError as error:
            raise from_system(error, path) from None
        self.lock()
        if stat.S_IMODE(os.fstat(self._handle).st_mode) == _ONCE_USUAL:
            # Somebody else's file stays as it is.
            with suppress(PermissionError):
                os.chmod(path, PRIVATE)

    def lock(self) -> None:
        """Take the lock, or take it again."""
        try:
            _lock(self._handle)
        except OSError as error:
            # On a file system without locks the lock file has to do.
            if error.errno in (errno.EACCES, errno.EAGAIN):
                self.release()
                raise in_use(self.path) from None

    def is_at(self, path: Path) -> bool:
        """Whether this is still the file that stands under the name."""
        try:
            return os.path.samestat(path.stat(), os.fstat(self._handle))
        except OSError:
            return False

    def beginning(self, size: int) -> bytes:
        """The first bytes of the file."""
        os.lseek(self._handle, 0, os.SEEK_SET)
        return os.read(self._handle, size)

    def release(self) -> None:
        """Let go of the file."""
        if self._handle >= 0:
            os.close(self._handle)
            self._handle = -1


def in_use(path: Path, who: str = "") -> RecordError:
    """The one line for a record that another program writes."""
    return RecordError(
        "locked",
        f"record {path}: another sweepsay{who} is writing it: "
        "go on there, close it, or name another file with --db",
    )
