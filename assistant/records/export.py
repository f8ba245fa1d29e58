"""A job for other programs: JSON that holds everything and can be taken in again, CSV of readings.

Lengths are exact decimal strings in ``unit``, "thou" or "mm", where they were called, and JSON
numbers where they were computed.
"""

import csv
import io
import json
from dataclasses import replace
from typing import Any

from assistant.dialogue.facts import FormSweep, SpindleChecks
from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Event
from assistant.dialogue.plain_json import answer_json, step_json
from assistant.dialogue.state import CompletedSweep
from assistant.metrology.answer import Answer
from assistant.records.faults import RecordError
from assistant.records.journal.codec import (
    DamagedEvent,
    Json,
    encode,
    event_from,
    read_json_document,
)
from assistant.records.journal.history import History, Kept, replay
from assistant.records.journal.journal import JobRow, Journal
from assistant.records.journal.versions import versions
from assistant.records.names import check_job_id, one_line

FORMAT = "sweepsay job"
VERSION = 1
"""Goes up when an older sweepsay could not take in the export any more."""

MAX_EXPORT_BYTES = 200_000_000
MAX_EVENTS = 1_000_000


def export_json(history: History) -> str:
    """The job as JSON (RFC 8259), ASCII only; `import_job` makes the same job of it again."""
    state = history.state
    document: dict[str, Json] = {
        "format": FORMAT,
        "version": VERSION,
        "written_by": versions(),
        "job": history.row.id,
        "machine": history.row.machine,
        "started_at": history.row.started_at,
        "closed_at": history.row.closed_at,
        "finished": history.finished,
        "damage": None if history.damage is None else str(history.damage),
        "unit": state.profile.scale.system,
        "profile": encode(state.profile, Profile),
        "as_found": _answer(history.as_found),
        "as_left": _answer(history.as_left),
        "readings": [_reading(kept, state.profile) for kept in history.standing],
        "undone": [_undone(kept, state.profile) for kept in history.undone],
        "spindle": encode(state.spindle, SpindleChecks),
        "form": encode(state.form, FormSweep),
        "sweeps": [_sweep(sweep) for sweep in history.sweeps],
        "steps": [
            {"event": told.number, "sweep": told.sweep, **step_json(told.step, state.profile.scale)}
            for told in history.steps
        ],
        "events": [encode(event, Event) for event in history.events],
    }
    return json.dumps(document, indent=1, allow_nan=False) + "\n"


def export_csv(history: History) -> str:
    """The accepted readings in order as CSV (RFC 4180), those taken back with the reason."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(
        ["job", "event", "sweep", "station", "value", "unit", "at", "closing", "zeroed",
         "source", "confidence", "undone", "undone_at"]
    )  # fmt: skip
    for kept in history.readings:
        row = _reading(kept, history.state.profile)
        undone = kept.undone
        writer.writerow(
            [history.row.id, row["event"], row["sweep"], row["station"], row["value"], row["unit"],
             _cell(row["at"]), _yes(row["closing"]), _yes(row["zeroed"]), row["source"],
             row["confidence"], undone.reason if undone else "",
             _cell(undone.at) if undone else ""]
        )  # fmt: skip
    return out.getvalue()


def import_job(journal: Journal, data: bytes) -> JobRow:
    """Take an exported job into the record, whole or not at all.

    Raises RecordError when the data are not an export, when they are damaged or newer, or when
    another job of that name is there; a job that is there already is left as it is.
    """
    document = _document(data)
    row, events = _job_of(document)
    replay(row, events)
    journal.add_job(row, events)
    return replace(row, events=len(events))


def _document(data: bytes) -> dict[str, Any]:
    if len(data) > MAX_EXPORT_BYTES:
        raise _bad(f"it is longer than {MAX_EXPORT_BYTES} bytes")
    try:
        document = read_json_document(data.decode("utf-8-sig"))
    except ValueError as error:
        raise _bad(one_line(str(error))) from None
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        raise _bad(f'it has no "format": "{FORMAT}"')
    version = document.get("version")
    if type(version) is not int or version < 1:
        raise _bad("its version is not a whole number")
    if version > VERSION:
        raise RecordError(
            "newer", f"this export is of version {version}, newer than {VERSION}: "
            "install a newer sweepsay",
        )  # fmt: skip
    return document


def _job_of(document: dict[str, Any]) -> tuple[JobRow, tuple[Event, ...]]:
    for key in ("job", "machine", "started_at"):
        if not isinstance(document.get(key), str):
            raise _bad(f'"{key}" is not text')
    closed_at = document.get("closed_at")
    if closed_at is not None and not isinstance(closed_at, str):
        raise _bad('"closed_at" is not text')
    rows = document.get("events")
    if not isinstance(rows, list) or not 0 < len(rows) <= MAX_EVENTS:
        raise _bad(f'"events" is not a list of 1 to {MAX_EVENTS} events')
    check_job_id(document["job"])
    try:
        events = tuple(event_from(each, number) for number, each in enumerate(rows, 1))
    except DamagedEvent as error:
        raise RecordError(
            "newer" if error.newer else "bad_input", f"this export: {error}"
        ) from None
    row = JobRow(
        document["job"],
        one_line(document["machine"]),
        one_line(document["started_at"]),
        None if closed_at is None else one_line(closed_at),
        len(events),
    )
    return row, events


def _bad(problem: str) -> RecordError:
    return RecordError(
        "bad_input", f"this is not an exported job: {problem}: use 'job export' files"
    )


def _answer(answer: Answer | None) -> Json:
    return None if answer is None else answer_json(answer)


def _reading(kept: Kept, profile: Profile) -> dict[str, Json]:
    taken = kept.taken
    value = taken.value if profile.scale.system == "thou" else taken.value / 100
    return {
        "event": kept.number,
        "sweep": taken.sweep,
        "station": taken.station,
        "value": f"{value:f}",
        "unit": profile.scale.system,
        "at": taken.at,
        "source": taken.source,
        "confidence": taken.confidence,
        "closing": taken.closing,
        "zeroed": taken.zeroed,
    }


def _undone(kept: Kept, profile: Profile) -> dict[str, Json]:
    undone = kept.undone
    reason, at = (undone.reason, undone.at) if undone else ("", "")
    return {**_reading(kept, profile), "reason": reason, "undone_at": at}


def _sweep(sweep: CompletedSweep) -> dict[str, Json]:
    return {
        "sweep": sweep.number,
        "refused": sweep.refused or None,
        "place": sweep.place or None,
        "result": answer_json(sweep.answer),
    }


def _cell(text: str) -> str:
    """Text from outside in a field: a spreadsheet would run what begins like a formula."""
    shown = one_line(text)
    return f"'{shown}" if shown.startswith(("=", "+", "-", "@")) else shown


def _yes(value: Json) -> str:
    return "yes" if value else "no"
