"""The lock that lets one program at a time write a record; readers do not need it."""

from pathlib import Path

from assistant.locks.program_lock import HeldElsewhere, ProgramLock
from assistant.records.faults import from_system
from assistant.records.journal.record_files import in_use


def lock_path(record: Path) -> Path:
    """The file that is locked for this record."""
    return record.with_name(record.name + ".lock")


def lock_record(record: Path) -> ProgramLock:
    """Take the lock of this record; raises RecordError, "locked" at once if another has it."""
    path = lock_path(record)
    try:
        return ProgramLock(path)
    except HeldElsewhere as other:
        raise in_use(record, other.who) from None
    except OSError as error:
        raise from_system(error, path) from None
