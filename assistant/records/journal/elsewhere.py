"""A whole copy of a record: for a backup, or when its files were taken away while it is open.

SQLite's backup copies the pages as one transaction sees them ("SQLite Backup API"), so that the
copy is whole while others write; the copy of a file by other means may lack its log.
"""

import sqlite3
from collections.abc import Callable
from contextlib import closing
from itertools import count
from pathlib import Path

from assistant.records.faults import RecordError, from_sqlite, from_system
from assistant.records.journal import schema
from assistant.records.journal.opening import Opened
from assistant.records.journal.record_files import PRIVATE, companions
from assistant.records.journal.rescue import fresh_path
from assistant.records.whole_files import sync_folder


def write_copy(target: Path, copy: Callable[[sqlite3.Connection], None]) -> None:
    """Make one file that holds all that ``copy`` puts into a database, whole or not at all.

    Raises RecordError, also when there is a file of that name: what was kept before stays.
    """
    part = target.with_name(f".{target.name}.part")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        if target.exists():
            raise RecordError("bad_input", f"{target} is there already: give a new name")
        _remove(part)
        part.touch(PRIVATE)
        with closing(sqlite3.connect(part, isolation_level=None)) as connection:
            connection.execute("PRAGMA synchronous = FULL")
            copy(connection)
            # One file without companions, whatever becomes of its name.
            connection.execute("PRAGMA journal_mode = DELETE")
            if schema.version_of(connection) == schema.VERSION:
                schema.note_log(connection, is_open=False)
        part.rename(target)
        sync_folder(target.parent)
    except sqlite3.Error as error:
        _remove(part)
        raise from_sqlite(error, target) from error
    except OSError as error:
        _remove(part)
        raise from_system(error, target) from None
    except BaseException:
        _remove(part)
        raise


def written_elsewhere(path: Path, opened: Opened) -> Path:
    """Write a record again whose files were deleted or replaced; where it is then.

    Under its old name if that is free, else beside it. What was open is closed. Raises
    RecordError; what is open then stays so.
    """
    replaced = path.exists() and (opened.held is None or not opened.held.is_at(path))
    target = _free_name(path) if replaced else path
    # Under the name by which the next opening would find it, were this stopped here.
    whole = fresh_path(target)
    _remove(whole)
    write_copy(whole, opened.connection.backup)
    # SQLite leaves alone what stands under its names by now, since it sees that its file has moved.
    opened.connection.close()
    opened.release()
    if not replaced:
        for part in companions(path):
            part.unlink(missing_ok=True)
    whole.replace(target)
    sync_folder(target.parent)
    return target


def _free_name(path: Path) -> Path:
    names = (path.with_name(f"{path.name}.kept-{k}") for k in count(1))
    return next(name for name in names if not name.exists())


def _remove(path: Path) -> None:
    for part in (path, *companions(path)):
        part.unlink(missing_ok=True)
