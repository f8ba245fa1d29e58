"""``python -m tests.records.golden_record``: what is shown of a record that was made earlier.

``golden_record.db`` is a record as it was written once, and stays as it is; what is shown of it
stands in ``golden_record.txt``. The command shows it again, lists what changed and writes it down.
Without the record it is made first: two jobs that were left in the middle, each with a snapshot
of its state, and one that was finished. ``golden_left.db`` is another: a job that was left in the
middle of a sweep with a doubt still open, and one that was left with the bolt loose.
"""

import difflib
import io
import json
import os
import shutil
import sys
import tempfile
import time
from pathlib import Path

from assistant.commands.job import job_show
from assistant.devices.text.lines import event_of
from assistant.dialogue.messages import Effect, Event, Listen, Resumed, Say, Started
from assistant.dialogue.state import State
from assistant.dialogue.step import fold, step
from assistant.records.journal.codec import encode
from assistant.records.journal.journal import JobRow, Journal
from assistant.records.journal.resume import code_version, load_state
from tests.dialogue.golden_jobs import files

RECORD = Path(__file__).parent / "golden_record.db"
TEXT = RECORD.with_suffix(".txt")

AT = "2031-05-04T12:00:00.000Z"

LEFT_OFF = {"table-doubtful-12": 108, "script-gap-asked": 12}
"""Golden jobs that were left after so many events, the snapshot taken three before."""

FINISHED = "head-6"

LEFT = RECORD.with_name("golden_left.db")
MID_SWEEP, LOOSE = "script-overnight", "script-front-to-back"
LEFT_AT = {MID_SWEEP: 22, LOOSE: 13}


def make(path: Path, left_off: dict[str, int], finished: str = "") -> None:
    """Write a record: what this version of the program makes of these jobs."""
    with Journal.open(path) as journal:
        for name, count in left_off.items():
            events = _renamed(name)[:count]
            _add(journal, name, events, None)
            state = fold(events[:-3])
            assert state is not None
            body = json.dumps(encode(state, State), separators=(",", ":"), allow_nan=False)
            journal.save_snapshot(name, count - 3, code_version(), body)
        if finished:
            _add(journal, finished, _renamed(finished), AT)


def _renamed(name: str) -> tuple[Event, ...]:
    first, *rest = files.read(name).events
    assert isinstance(first, Started)
    return (Started(first.at, name, first.profile), *rest)


def _add(journal: Journal, name: str, events: tuple[Event, ...], closed_at: str | None) -> None:
    first = events[0]
    assert isinstance(first, Started)
    journal.add_job(JobRow(name, first.profile.name, first.at, closed_at, len(events)), events)


def shown(path: Path) -> str:
    """Every job as ``job show`` prints it, and what is said to whoever goes on with it."""
    with Journal.open(path) as journal:
        rows = journal.jobs()
        said = {row.id: _resumed(journal, row.id) for row in rows}
    lines = []
    for row in rows:
        out, err = io.StringIO(), io.StringIO()
        job_show(path, row.id, as_json=False, out=out, err=err)
        lines += [*out.getvalue().splitlines(), *err.getvalue().splitlines(), *said[row.id], ""]
    return "\n".join(lines)


def _resumed(journal: Journal, job: str) -> list[str]:
    state = load_state(journal, job)
    assert state is not None
    lines = []
    state, effects = step(state, Resumed(AT))
    lines += _said("taken up again", effects)
    for words in ("yes", "yes", "status", "help") if effects else ():
        event = event_of(words, AT, state.turn, state.profile.scale)
        state, effects = step(state, event)
        lines += _said(words, effects)
    return lines


def _said(what: str, effects: tuple[Effect, ...]) -> list[str]:
    said = [effect.text for effect in effects if isinstance(effect, Say)]
    asked = [
        f"({effect.phase}, {effect.station or 'no station'})"
        for effect in effects
        if isinstance(effect, Listen)
    ]
    return [f"{what:14} {' '.join([*said, *asked])}".rstrip()]


def main() -> int:
    """Make the records that are not there, and write down what is shown of them, in UTC."""
    os.environ["TZ"] = "UTC"
    time.tzset()
    _write(RECORD, LEFT_OFF, FINISHED)
    _write(LEFT, LEFT_AT)
    return 0


def _write(record: Path, left_off: dict[str, int], finished: str = "") -> None:
    if not record.exists():
        with tempfile.TemporaryDirectory() as folder:
            made = Path(folder) / record.name
            make(made, left_off, finished)
            shutil.copy(made, record)
    with tempfile.TemporaryDirectory() as folder:
        now = shown(Path(shutil.copy(record, folder)))
    text = record.with_suffix(".txt")
    before = text.read_text(encoding="utf-8") if text.exists() else ""
    lines = difflib.unified_diff(before.splitlines(), now.splitlines(), "before", "after", n=0)
    sys.stdout.writelines(f"{line}\n" for line in lines)
    text.write_text(now, encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
