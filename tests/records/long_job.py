"""How quickly a very long job is taken up again: ``python -m tests.records.long_job [EVENTS]``.

A table, no test: times depend on the machine. By default as many events as can be behind the
last snapshot are behind it.
"""

import sys
import tempfile
import time
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

from assistant.dialogue.messages import Decision, Event, Heard
from assistant.dialogue.state import State
from assistant.dialogue.step import fold, step
from assistant.records.journal.journal import JobRow, Journal
from assistant.records.journal.resume import EVERY, keep_snapshot, load_state
from grammar.meaning import Meaning, Reading, Unclear
from tests.records.jobs import rehearsed


def talk(_number: int) -> Meaning:
    """A radio that is never silent."""
    return Unclear("something")


def corrections(number: int) -> Meaning:
    """A person who is never content with a reading."""
    return Reading(Decimal(number % 20), True, "right", correction=True)


def _events(count: int, meaning: Callable[[int], Meaning]) -> tuple[list[Event], State]:
    events = list(rehearsed(3).events[:8])
    at = events[-1].at
    state = fold(events)
    assert state is not None
    while len(events) < count:
        meant = meaning(len(events))
        outcome: Decision = "reject" if isinstance(meant, Unclear) else "accept"
        event = Heard(at, state.turn, "voice", outcome, "what was said", meant, 0.9)
        state, _ = step(state, event)
        events.append(event)
    return events, state


def _time(count: int, meaning: Callable[[int], Meaning]) -> str:
    events, last = _events(count, meaning)
    at = count // EVERY * EVERY
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "jobs.db"
        with Journal.open(path) as journal:
            journal.add_job(JobRow(last.job, "drill press", events[0].at, None, count), events)
            if at:
                state = fold(events[:at])
                assert state is not None
                assert keep_snapshot(journal, at, state)
        size = path.stat().st_size / 1e6
        started, cpu = time.perf_counter(), time.process_time()
        with Journal.open(path) as journal:
            opened = time.perf_counter()
            state = load_state(journal, last.job)
            loaded, cpu = time.perf_counter(), time.process_time() - cpu
    assert state == last
    return (
        f"{meaning.__name__:12} {count:8} {size:7.1f} MB  open and check {opened - started:5.2f} s"
        f"  load {loaded - opened:5.2f} s  together {loaded - started:5.2f} s"
        f" (of the processor {cpu:5.2f} s)\n"
    )


def main() -> int:
    """Print a line for each kind of job."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 99_999
    for meaning in (talk, corrections):
        sys.stdout.write(_time(count, meaning))
    return 0


if __name__ == "__main__":
    sys.exit(main())
