"""A record is played again by a version that advises otherwise (invented readings)."""

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

import pytest

from assistant.dialogue import planner, weighing
from assistant.dialogue.following import followed, placed
from assistant.dialogue.messages import Event, Heard, KeyPressed, Step
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.repeat import Repeat
from assistant.dialogue.procedures.shim import Bolt
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.state import State
from assistant.dialogue.step import fold, step
from grammar.meaning import Command
from tests.dialogue.typed import FRONT_HIGH_SIX, LEVEL, NEARER, READY, RIGHT_HIGH_SIX, TypedJob

JOBS = {
    "shim": (*FRONT_HIGH_SIX, "done", "done", "locked", "zeroed", *NEARER),
    "tap": (*RIGHT_HIGH_SIX, "plus three", "done", "zero", "zero", "zeroed", *LEVEL),
}


def _recorded(lines: Sequence[str]) -> list[Event]:
    """The events of a job as the loop puts them down."""
    job = TypedJob.begin()
    kept: list[Event] = [job.events[0]]
    told: Step | None = None
    for line in (*READY, "zeroed", *lines):
        before = job.state
        job.say(line)
        heard = job.events[-1]
        assert isinstance(heard, Heard | KeyPressed)
        kept.append(placed(before, heard, told))
        told = before.plan.step if before.plan else None
    return kept


def _played(events: Sequence[Event]) -> State:
    state = fold(events)
    assert state is not None
    return state


def _read(state: State) -> list[list[Decimal]]:
    return [[one.value for one in sweep.readings] for sweep in state.sweeps]


@pytest.mark.parametrize("lines", JOBS.values(), ids=JOBS)
def test_where_the_advice_is_the_same_nothing_is_held(lines: tuple[str, ...]) -> None:
    events = _recorded(lines)
    state = fold(events[:1])
    for event in events[1:]:
        assert isinstance(event, Heard)
        assert state is not None
        assert event.phase == state.phase
        assert followed(state, event) is state
        state, _ = step(state, event)
    plain = [replace(one, phase="", told=None) for one in events[1:] if isinstance(one, Heard)]
    assert state == _played([*events[:1], *plain])


@pytest.mark.parametrize("lines", JOBS.values(), ids=JOBS)
def test_readings_stay_what_they_were_called_for_whatever_would_be_advised_now(
    lines: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    events = _recorded(lines)
    then = _played(events)
    assert len(then.sweeps) == 2
    # This version leaves everything as it is.
    chosen = weighing.choice_of
    monkeypatch.setattr(
        planner,
        "choice_of",
        lambda *known: replace(chosen(*known), option=None, reason="cannot_help"),
    )
    now = _played(events)
    assert _read(now) == _read(then)
    assert now.shims.total == then.shims.total
    plain = [replace(one, phase="", told=None) for one in events[1:] if isinstance(one, Heard)]
    assert _read(_played([*events[:1], *plain])) != _read(then)


def test_the_shim_that_was_told_is_the_one_that_is_in() -> None:
    """Another version reckons another one from the same readings; "done" meant that one."""
    events = _recorded((*FRONT_HIGH_SIX, "done", "done"))
    told = _played(events).shims.total
    assert told == Decimal("1.5")
    thicker = Decimal(4)
    put_in = [
        replace(one, told=replace(one.told, total=thicker))
        if isinstance(one, Heard) and one.told is not None
        else one
        for one in events
    ]
    assert _played(put_in).shims.total == thicker


def test_a_repeat_that_is_no_longer_asked_for_is_still_the_repeat() -> None:
    """Recorded at the question for one more sweep, played where a correction is told instead."""
    job = TypedJob.begin()
    job.say(*READY, "zeroed", *FRONT_HIGH_SIX)
    assert job.state.phase is Bolt.LOOSEN
    answered = Heard(
        "2026-01-05T09:00:00.000Z", job.state.turn, "text", "accept", "yes",
        Command("yes"), phase=str(Repeat.AGAIN),
    )  # fmt: skip
    there = followed(job.state, answered)
    assert (there.phase, there.plan) == (Repeat.AGAIN, None)
    state, _ = step(job.state, answered)
    assert state.phase is Sweeping.ZERO


def test_a_phase_of_which_nothing_is_known_and_a_closed_job_are_left_as_they_are() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    heard = job.events[-1]
    assert isinstance(heard, Heard)
    assert followed(job.state, replace(heard, phase="of a later version")) is job.state
    closed = TypedJob.at(Close.CLOSED).state
    assert followed(closed, replace(heard, phase=str(Sweeping.SWEEP))) is closed


def test_what_is_heard_too_late_is_not_placed() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    late = job.events[-1]
    assert isinstance(late, Heard)
    assert placed(job.state, late, None) == late
    assert placed(job.state, replace(late, turn=job.state.turn), None).phase == "sweep"
