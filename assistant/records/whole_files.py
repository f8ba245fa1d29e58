"""Files that are there whole or not at all: written beside, then put in place."""

import os
import tempfile
from pathlib import Path

from assistant.records.faults import RecordError, from_system

DATABASE = b"SQLite format 3\0"
"""How a record begins (SQLite's file format, 1.3 "The Database Header")."""

BESIDE_A_RECORD = ("-wal", "-shm", "-journal", ".lock")


def replace_file(path: Path, data: bytes) -> None:
    """Write a file durably; an old one of that name stays until the new one is complete.

    What is not a file (a terminal, /dev/null) is written into and stays what it is; a record is
    never replaced. Raises RecordError, and leaves nothing half-written.
    """
    try:
        if path.exists() and not path.is_file():
            path.write_bytes(data)
            return
        if _is_of_a_record(path):
            raise RecordError("bad_name", f"{path} belongs to a record: give another name")
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    except OSError as error:
        raise from_system(error, path) from None
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        # mkstemp makes it readable by its owner only; a report is for others, too.
        os.chmod(name, 0o666 & ~_umask())
        os.replace(name, path)
        sync_folder(path.parent)
    except OSError as error:
        Path(name).unlink(missing_ok=True)
        raise from_system(error, path) from None
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def _is_of_a_record(path: Path) -> bool:
    """Whether this is a record of jobs or any other database, or one of the files beside it."""
    beside = (path.name.removesuffix(end) for end in BESIDE_A_RECORD if path.name.endswith(end))
    for file in (path, *(path.with_name(name) for name in beside if name)):
        if file.is_file():
            with file.open("rb") as opened:
                if opened.read(len(DATABASE)) == DATABASE:
                    return True
    return False


def read_file(path: Path, limit: int) -> bytes:
    """A whole file of at most ``limit`` bytes; raises RecordError for anything else."""
    try:
        if not path.is_file():
            problem = "it is not a file" if path.exists() else "there is no such file"
            raise RecordError("bad_input", f"{path}: {problem}: name another one")
        with path.open("rb") as file:
            data = file.read(limit + 1)
    except OSError as error:
        raise RecordError("bad_input", f"{path}: it cannot be read ({error.strerror})") from None
    if len(data) > limit:
        raise RecordError("bad_input", f"{path}: it is longer than {limit} bytes: not one of ours")
    return data


def sync_folder(folder: Path) -> None:
    """Make new and renamed names in a folder durable, where the system can do that."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except PermissionError:
        # Folders cannot be opened on some systems, which then need no such step.
        return
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _umask() -> int:
    # It can only be read by setting it.
    mask = os.umask(0o077)
    os.umask(mask)
    return mask
