"""The tables of the record and how older ones become today's.

A migration is never changed once released: a change is a new entry at the end of
`MIGRATIONS`, and makes a table or trigger, by which the version is known. Every table that
holds what happened is append-only; undo is a new event.
"""

import sqlite3
import zlib
from contextlib import closing
from functools import cache

APPLICATION_ID = 0x53776179
"""In the file's header (PRAGMA application_id), so that a stranger's database is known."""

MIGRATIONS: tuple[str, ...] = (
    """
    CREATE TABLE jobs (
        position INTEGER PRIMARY KEY,
        id TEXT NOT NULL UNIQUE,
        machine TEXT NOT NULL,
        started_at TEXT NOT NULL
    ) STRICT;
    CREATE TABLE events (
        position INTEGER PRIMARY KEY,
        job TEXT NOT NULL REFERENCES jobs (id),
        number INTEGER NOT NULL,
        body TEXT NOT NULL,
        crc INTEGER NOT NULL,
        UNIQUE (job, number)
    ) STRICT;
    CREATE TABLE closings (
        job TEXT PRIMARY KEY REFERENCES jobs (id),
        at TEXT NOT NULL
    ) STRICT;
    CREATE TRIGGER jobs_stay BEFORE UPDATE ON jobs
        BEGIN SELECT RAISE(ABORT, 'the record is append-only'); END;
    CREATE TRIGGER jobs_are_kept BEFORE DELETE ON jobs
        BEGIN SELECT RAISE(ABORT, 'the record is append-only'); END;
    CREATE TRIGGER events_stay BEFORE UPDATE ON events
        BEGIN SELECT RAISE(ABORT, 'the record is append-only'); END;
    CREATE TRIGGER events_are_kept BEFORE DELETE ON events
        BEGIN SELECT RAISE(ABORT, 'the record is append-only'); END;
    CREATE TRIGGER closings_stay BEFORE UPDATE ON closings
        BEGIN SELECT RAISE(ABORT, 'the record is append-only'); END;
    CREATE TRIGGER closings_are_kept BEFORE DELETE ON closings
        BEGIN SELECT RAISE(ABORT, 'the record is append-only'); END;
    -- REPLACE deletes without the triggers above: the next number is the only one that fits.
    CREATE TRIGGER events_in_order BEFORE INSERT ON events
        WHEN NEW.number IS NOT
            (SELECT coalesce(max(number), 0) + 1 FROM events WHERE job = NEW.job)
        BEGIN SELECT RAISE(ABORT, 'the events of a job are numbered in order'); END;
    CREATE TRIGGER events_of_open_jobs BEFORE INSERT ON events
        WHEN EXISTS (SELECT 1 FROM closings WHERE job = NEW.job)
        BEGIN SELECT RAISE(ABORT, 'the job is closed'); END;
    """,
    """
    -- What replaying the first `number` events gave, for the version of the code named. It can
    -- be made again at any time, so that it alone may be replaced.
    CREATE TABLE snapshots (
        job TEXT PRIMARY KEY REFERENCES jobs (id),
        number INTEGER NOT NULL,
        code TEXT NOT NULL,
        body TEXT NOT NULL,
        crc INTEGER NOT NULL
    ) STRICT;
    """,
    """
    -- 1 while the newest rows may be in the write-ahead log alone: a copy of this file without
    -- its log then lacks them, and says so.
    CREATE TABLE uses (
        only INTEGER PRIMARY KEY CHECK (only = 1),
        log_open INTEGER NOT NULL
    ) STRICT;
    INSERT INTO uses (only, log_open) VALUES (1, 0);
    """,
)

VERSION = len(MIGRATIONS)
"""PRAGMA user_version of today's record."""


def crc_of(job_id: str, number: int, body: bytes) -> int:
    """CRC-32 of a row: SQLite notices torn pages but not a flipped bit in a text."""
    return zlib.crc32(body, zlib.crc32(f"{job_id}\n{number}\n".encode("utf-8", "replace")))


def version_of(connection: sqlite3.Connection) -> int:
    """The schema version of an open record, 0 for an empty file."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def is_empty(connection: sqlite3.Connection) -> bool:
    """Whether the database has no tables at all."""
    return bool(connection.execute("SELECT count(*) = 0 FROM sqlite_schema").fetchone()[0])


def names_in(connection: sqlite3.Connection) -> frozenset[str]:
    """The names of all tables, indexes and triggers."""
    return frozenset(str(row[0]) for row in connection.execute("SELECT name FROM sqlite_schema"))


@cache
def names(version: int) -> frozenset[str]:
    """The names of all tables, indexes and triggers of a whole record of this version."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as connection:
        for script in MIGRATIONS[:version]:
            connection.executescript(script)
        return names_in(connection)


def log_was_open(connection: sqlite3.Connection) -> bool:
    """Whether the program that wrote last did not come to close the record."""
    return bool(connection.execute("SELECT log_open FROM uses").fetchone() == (1,))


def note_log(connection: sqlite3.Connection, *, is_open: bool) -> None:
    """Note whether the log holds rows that the file itself may lack."""
    connection.execute("UPDATE uses SET log_open = ?", (int(is_open),))


def application_of(connection: sqlite3.Connection) -> int:
    """The application id in the header."""
    return int(connection.execute("PRAGMA application_id").fetchone()[0])


def migrate(connection: sqlite3.Connection) -> None:
    """Bring an empty or older record up to today's version, each step whole or not at all."""
    for version in range(version_of(connection), VERSION):
        # executescript commits what is open, so the transaction is part of the script.
        script = (
            f"BEGIN IMMEDIATE; {MIGRATIONS[version]}"
            f"PRAGMA application_id = {APPLICATION_ID};"
            f"PRAGMA user_version = {version + 1}; COMMIT;"
        )
        try:
            connection.executescript(script)
        except sqlite3.Error:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise
