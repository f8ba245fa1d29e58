"""Taking up a job quickly: a snapshot of its state, and only the events after it.

A snapshot is what replaying the first events gave. It is used only by the very code that made
it, since other code might make another state of the same events; a job without a usable one
is replayed from its beginning.
"""

import hashlib
import json
from functools import cache
from pathlib import Path

import assistant.dialogue
import assistant.metrology
import grammar
from assistant.dialogue.state import State
from assistant.dialogue.step import fold
from assistant.records.faults import RecordError
from assistant.records.journal import codec
from assistant.records.journal.codec import CodecError, decode, encode, read_json_document
from assistant.records.journal.journal import Journal

EVERY = 500
"""Events between two snapshots: so many are replayed in a small part of a second."""


def load_state(journal: Journal, job_id: str) -> State | None:
    """The state of a job after all its events; None if it has none.

    Raises DamagedEvent if one cannot be read (nothing may then be appended: it would stand
    behind a gap), RecordError when the record cannot be read.
    """
    found = _snapshot(journal, job_id)
    if found is None:
        return fold(journal.events(job_id))
    number, state = found
    return fold(journal.events(job_id, after=number), state)


def keep_snapshot(journal: Journal, number: int, state: State) -> bool:
    """Keep a snapshot after event ``number`` when it is time for one; whether it was kept.

    A disk that refuses it is no reason to stop: the job only resumes less quickly.
    """
    version = code_version()
    if number % EVERY or not version:
        return False
    body = json.dumps(encode(state, State), separators=(",", ":"), allow_nan=False)
    try:
        journal.save_snapshot(state.job, number, version, body)
    except RecordError:
        return False
    return True


def _snapshot(journal: Journal, job_id: str) -> tuple[int, State] | None:
    version = code_version()
    kept = journal.snapshot(job_id, version) if version else None
    if kept is None:
        return None
    number, body = kept
    try:
        state = decode(read_json_document(body), State)
    except (CodecError, ValueError):
        return None
    return (number, state) if journal.job(job_id).events >= number else None


@cache
def code_version() -> str:
    """A digest of all code that a state depends on; empty where its sources are not there."""
    digest = hashlib.sha256()
    folders = [
        Path(place)
        for package in (assistant.dialogue, assistant.metrology, grammar)
        for place in package.__path__
    ]
    # Prompts are among them: a state holds what was said last.
    sources = sorted(
        (path.relative_to(folder), path) for folder in folders for path in folder.rglob("*.py")
    )
    for name, path in (*sources, (Path("codec.py"), Path(codec.__file__))):
        if not path.is_file():
            return ""
        digest.update(f"{name.as_posix()}\n".encode() + path.read_bytes())
    return digest.hexdigest() if sources else ""
