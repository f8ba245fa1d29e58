"""A clock that is set is told; the order of events and the answers do not depend on it."""

import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from assistant.bench.loop import Loop
from assistant.bench.timekeeping import ClockWatch, now, seconds_between
from assistant.devices.text.lines import event_of
from assistant.dialogue import pending, wording
from assistant.dialogue.messages import (
    ClockSet,
    Effect,
    Heard,
    Listen,
    LongSilence,
    Resumed,
    Say,
)
from assistant.dialogue.step import fold
from assistant.records.journal.journal import Journal
from grammar.meaning import Unclear
from tests.records.jobs import record, rehearsed

EVENTS = rehearsed(1).events


class _Clocks:
    def __init__(self) -> None:
        self.wall_s = 1_000_000.0
        self.steady_s = 50.0

    def wall(self) -> float:
        return self.wall_s

    def steady(self) -> float:
        return self.steady_s


@pytest.mark.parametrize("by_s", [-3600.0, -2.5, 2.5, 31_536_000.0])
def test_a_clock_that_is_set_is_noticed_once(by_s: float) -> None:
    clocks = _Clocks()
    watch = ClockWatch(clocks.wall, clocks.steady)
    for _ in range(3):
        clocks.wall_s += 60.0
        clocks.steady_s += 60.0
        assert watch.set_by_s() == 0.0
    clocks.wall_s += by_s
    assert watch.set_by_s() == by_s
    assert watch.set_by_s() == 0.0


def test_a_clock_that_is_kept_right_little_by_little_is_not_told() -> None:
    clocks = _Clocks()
    watch = ClockWatch(clocks.wall, clocks.steady)
    for _ in range(1_000):
        # A quartz that is wrong by 100 parts in a million, from memory.
        clocks.wall_s += 60.006
        clocks.steady_s += 60.0
        assert watch.set_by_s() == 0.0


@pytest.fixture
def zone(monkeypatch: pytest.MonkeyPatch) -> Iterator[pytest.MonkeyPatch]:
    yield monkeypatch
    monkeypatch.undo()
    time.tzset()


def test_the_time_zone_does_not_matter(zone: pytest.MonkeyPatch) -> None:
    watch = ClockWatch()
    stamps = []
    for name in ("UTC", "Pacific/Kiritimati", "America/St_Johns"):
        zone.setenv("TZ", name)
        time.tzset()
        stamps.append(now())
        assert watch.set_by_s() == 0.0
    assert all(0 <= seconds_between(stamps[0], stamp) < 60 for stamp in stamps)


@pytest.mark.parametrize("text", ["", "soon", "2031", "2031-05-04", "2031-13-45T99:00:00Z"])
def test_a_time_that_is_none_sets_no_clock(text: str) -> None:
    assert seconds_between(text, "2031-05-04T08:00:00Z") == 0.0


def _loop(journal: Journal, effects: list[Effect], at: str, set_s: list[float]) -> Loop:
    return Loop(
        journal, rehearsed(1).state.profile, effects.append, clock=lambda: at,
        clock_set=lambda: set_s.pop() if set_s else 0.0,
    )  # fmt: skip


def test_a_clock_set_in_the_middle_is_an_event_that_changes_no_reading(tmp_path: Path) -> None:
    path, effects, set_s = tmp_path / "jobs.db", list[Effect](), list[float]()
    record(path, EVENTS[:12], close=False)
    with Journal.open(path) as journal:
        loop = _loop(journal, effects, EVENTS[11].at, set_s)
        loop.open_job()
        before = loop.state
        effects.clear()
        set_s.append(-7200.0)
        loop.post(Resumed("2031"))
        assert before is not None
        assert loop.state is not None
        assert loop.state.readings == before.readings
        assert journal.events(before.job)[-2:] == (
            ClockSet(EVENTS[11].at, -7200.0),
            Resumed("2031"),
        )
        assert fold(journal.events(before.job)) == loop.state
    assert effects[0] == Say(wording.CLOCK_SET)
    assert isinstance(effects[-1], Listen)


def test_a_clock_set_back_while_the_program_was_off_is_told_at_the_start(tmp_path: Path) -> None:
    path, effects = tmp_path / "jobs.db", list[Effect]()
    record(path, EVENTS[:12], close=False)
    with Journal.open(path) as journal:
        _loop(journal, effects, "1999-12-31T23:59:59Z", []).open_job()
        (clock, resumed) = journal.events("job-1")[12:]
    assert isinstance(clock, ClockSet)
    assert clock.by_s < -700_000_000
    assert isinstance(resumed, Resumed)
    said = [effect.text for effect in effects if isinstance(effect, Say)]
    assert said[0] == wording.CLOCK_SET
    assert said[1].endswith(pending.GO_ON)


def _with(journal: Journal, clocks: _Clocks, effects: list[Effect]) -> Loop:
    return Loop(
        journal, EVENTS[0].profile, effects.append,  # type: ignore[union-attr]
        clock=lambda: "2031-05-05T08:00:00Z", steady=clocks.steady,
    )  # fmt: skip


def test_hours_without_an_answer_in_the_middle_of_a_sweep_are_asked_about(tmp_path: Path) -> None:
    path, effects, clocks = tmp_path / "jobs.db", list[Effect](), _Clocks()
    states = [fold(EVENTS[:count]) for count in range(1, len(EVENTS))]
    mid = next(n for n, state in enumerate(states, 1) if state and len(state.readings) > 2)
    record(path, EVENTS[:mid], close=False)
    with Journal.open(path) as journal:
        loop = _with(journal, clocks, effects)
        loop.open_job()

        def turn() -> int:
            assert loop.state is not None
            return loop.state.turn

        for line in ("yes", "yes", "yes"):
            loop.post(event_of(line, now(), turn(), loop.profile.scale))
        clocks.steady_s += 7.9 * 3600
        loop.look_at_the_time()
        talk = Heard(now(), turn(), "voice", "talk", "", Unclear(""))
        loop.post(talk)
        assert not any(isinstance(event, LongSilence) for event in journal.events("job-1"))
        # Other people's talk is no answer; what is called then is asked about first.
        clocks.steady_s += 0.2 * 3600
        loop.post(event_of("plus one", now(), turn(), loop.profile.scale))
        *_, silence, called = journal.events("job-1")
        assert silence == LongSilence("2031-05-05T08:00:00Z", 8.1)
        assert isinstance(called, Heard)
        assert [effect for effect in effects if isinstance(effect, Say)][-1].text == (
            pending.UNTOUCHED
        )
        before = fold(EVENTS[:mid])
        assert before is not None
        assert loop.state is not None
        assert loop.state.readings == before.readings
        for _ in range(3):
            loop.look_at_the_time()
        assert journal.job("job-1").events == loop.number
