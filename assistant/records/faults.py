"""What can go wrong with the record: a code for programs, one line for the person.

Belongs here: the error of the record and the meaning of SQLite's and the system's errors.
"""

import errno
import shutil
import sqlite3
from pathlib import Path
from typing import Literal

FaultCode = Literal[
    "locked",
    "busy",
    "full",
    "read_only",
    "cannot_open",
    "disk_error",
    "not_a_record",
    "newer",
    "damaged",
    "no_record",
    "no_job",
    "closed_job",
    "bad_name",
    "bad_input",
]


class RecordError(Exception):
    """The record could not do it; the message is one line and says what to do next.

    ``code`` says what happened, for programs and for the choice of a spoken prompt.
    Nothing was half-written.
    """

    def __init__(self, code: FaultCode, message: str) -> None:
        super().__init__(message)
        self.code: FaultCode = code


_CODES: dict[int, FaultCode] = {
    sqlite3.SQLITE_FULL: "full",
    sqlite3.SQLITE_READONLY: "read_only",
    sqlite3.SQLITE_PERM: "read_only",
    sqlite3.SQLITE_CANTOPEN: "cannot_open",
    sqlite3.SQLITE_BUSY: "busy",
    sqlite3.SQLITE_LOCKED: "busy",
    sqlite3.SQLITE_CORRUPT: "damaged",
    sqlite3.SQLITE_NOTADB: "damaged",
}

_ADVICE: dict[FaultCode, str] = {
    "full": "the disk is full: free some space and go on, nothing recorded so far is lost",
    "read_only": "it may not be written: make it writable, or name another file with --db",
    "cannot_open": "it cannot be opened: check the folder, or name another file with --db",
    "busy": "another program is holding it: close that program and try again",
    "damaged": "it is damaged: 'sweepsay run' sets it aside and reads what it can",
}


def from_sqlite(error: Exception, path: Path) -> RecordError:
    """What an error of SQLite means for the person; any that is none means damaged pages."""
    if not isinstance(error, sqlite3.Error):
        return RecordError("damaged", f"record {path}: {_ADVICE['damaged']}")
    # The low byte is the kind of the error, the rest its finer cause.
    number = getattr(error, "sqlite_errorcode", 0) & 0xFF
    code = _CODES.get(number)
    if code is None and _is_full(path):
        # For some of its files SQLite only says that a write failed.
        code = "full"
    if code is None:
        # Mostly SQLITE_IOERR: a write that the disk refused, a cable that was pulled.
        advice = f"the disk refused it ({error}): check it and go on"
        return RecordError("disk_error", f"record {path}: {advice}")
    return RecordError(code, f"record {path}: {_ADVICE[code]}")


def _is_full(path: Path) -> bool:
    try:
        return shutil.disk_usage(path.parent).free < LEAST_FREE
    except OSError:
        return False


LEAST_FREE = 1 << 16
"""Bytes; with less than this a disk counts as full."""

_OS_CODES: dict[int, FaultCode] = {
    errno.ENOSPC: "full",
    errno.EDQUOT: "full",
    errno.EFBIG: "full",
    errno.EROFS: "read_only",
    errno.EACCES: "read_only",
    errno.EPERM: "read_only",
}


def from_system(error: OSError, path: Path) -> RecordError:
    """What an error of the operating system about a file means for the person."""
    code = _OS_CODES.get(error.errno or 0, "cannot_open")
    advice = {
        "full": "the disk is full: free some space and try again",
        "read_only": "it may not be written: make it writable, or name another place",
    }.get(code, f"{error.strerror or error}: name another place")
    return RecordError(code, f"{path}: {advice}")
