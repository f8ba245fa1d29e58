"""Whole jobs to record: a simulated person works through one on a simulated machine."""

import random
from collections.abc import Iterable
from dataclasses import replace
from functools import cache
from pathlib import Path

from assistant.devices.text.lines import event_of
from assistant.dialogue.messages import Event, Heard, KeyPressed, Started
from assistant.dialogue.step import fold
from assistant.records.journal.journal import JobRow, Journal
from assistant.simulation.bench import Bench, draw_machine, profile_for
from assistant.simulation.caller import Operator
from assistant.simulation.clock import SimulatedClock
from assistant.simulation.rehearsal import Rehearsal, rehearse
from grammar.scale import System
from tests.simulation.text_carrier import TextCarrier


@cache
def rehearsed(seed: int, system: System = "thou") -> Rehearsal:
    """A job that went through to its end."""
    clock = SimulatedClock()
    operator = Operator(Bench(draw_machine(seed, system)), profile_for(system), random.Random(seed))
    played = rehearse(operator, TextCarrier(clock), clock, job=f"job-{seed}")
    assert not played.tally.ended, played.tally.ended
    return played


def record(path: Path, *jobs: tuple[Event, ...], close: bool = True) -> None:
    """Write jobs into the record at ``path``."""
    closed_at = "2031-05-04T12:00:00Z" if close else None
    with Journal.open(path) as journal:
        for events in jobs:
            first = events[0]
            assert isinstance(first, Started)
            row = JobRow(first.job, first.profile.name, first.at, closed_at, len(events))
            journal.add_job(row, events)


def as_it_came(events: Iterable[Event]) -> tuple[Event, ...]:
    """The events without where the job stood as they came, which the loop puts down with them."""
    return tuple(
        replace(one, phase="", told=None) if isinstance(one, Heard | KeyPressed) else one
        for one in events
    )


def corrected() -> tuple[Event, ...]:
    """A job stopped in its first sweep, with a correction and a reading taken back."""
    clock = SimulatedClock()
    profile = profile_for("thou")
    lines = (
        "yes", "yes", "yes", "yes", "locked", "zeroed", "right plus three",
        "correction plus four", "front plus nine", "disregard", "front plus six",
    )  # fmt: skip
    events: list[Event] = [Started(clock.now(), "job-corrected", profile)]
    state = fold(events)
    for line in lines:
        assert state is not None
        clock.pass_time(2.0)
        events.append(event_of(line, clock.now(), state.turn, profile.scale))
        state = fold(events[-1:], state)
    return tuple(events)
