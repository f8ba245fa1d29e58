"""Whole jobs with the numeric keypad alone, on the real screen in a real terminal."""

import time
from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path

import pytest

from assistant.dialogue.messages import Effect, Event, KeyPressed
from assistant.dialogue.phases import Phase
from assistant.dialogue.state import State
from assistant.dialogue.step import step
from assistant.records.journal import Journal
from assistant.simulation.bench import Bench, draw_machine, profile_for
from assistant.simulation.caller import Operator
from grammar.meaning import Command, Reading, Shim, Sign, Size, Unclear
from grammar.parse import parse
from grammar.vocabulary import BY_NAME
from tests.devices.tmux_window import MISSING, TmuxWindow

pytestmark = pytest.mark.skipif(bool(MISSING), reason=MISSING or "-")

PATIENCE_S = 20.0


def keys_for(words: str, state: State) -> list[str]:
    """What a person presses instead of saying this."""
    match parse(words, state.profile.scale):
        case Command(name=name):
            key = BY_NAME[name].key
            return ["enter"] if key == "enter" else [*key]
        case Sign(name=name):
            return ["+" if name == "plus" else "-"]
        case Reading(value=value, signed=signed):
            return [*_digits(value, signed), "enter"]
        case Shim(total=total, place=place):
            return [*_digits(-total if place == "below" else total, place is not None), "enter"]
        case Size(value=value):
            return [*_digits(value, False), "enter"]
        case Unclear():
            raise AssertionError(f"no keys for {words!r}")


def _digits(value: Decimal, signed: bool) -> str:
    sign = ("-" if value < 0 else "+") if signed and value else ""
    return f"{sign}{abs(value):f}"


class KeypadJob:
    """The program in its window, and what its record says."""

    def __init__(self, window: TmuxWindow, record: Path) -> None:
        self.window = window
        self.pressed = 0
        self._record = record
        self.events: tuple[Event, ...] = ()
        self.state: State | None = None

    def news(self, count: int) -> tuple[Effect, ...]:
        """Wait for so many more events in the record; the effects of the last one."""
        deadline = time.monotonic() + PATIENCE_S
        known = len(self.events)
        while len(self.events) < known + count:
            assert time.monotonic() < deadline, self.window.picture()
            with Journal.open(self._record, write=False) as journal:
                self.events = journal.events(journal.jobs()[0].id)
        effects: tuple[Effect, ...] = ()
        for event in self.events[known:]:
            self.state, effects = step(self.state, event)
        return effects

    def press(self, keys: Sequence[str]) -> tuple[Effect, ...]:
        """Press keys one after the other; the effects of the last one."""
        self.window.press(*("KPEnter" if key == "enter" else f"KP{key}" for key in keys))
        self.pressed += len(keys)
        return self.news(len(keys))


@pytest.mark.parametrize("seed", [3, 8])
def test_a_whole_job_by_keypad(seed: int, tmp_path: Path) -> None:
    record = tmp_path / "jobs.db"
    operator = Operator(Bench(draw_machine(seed)), profile_for())
    command = ["assistant", "run", "--ears", "off", "--voice", "off", "--db", str(record)]
    with TmuxWindow(command) as window:
        job = KeypadJob(window, record)
        window.wait_for("unplugged")
        effects = job.news(1)
        seen: dict[Phase, str] = {}
        while job.state is not None and job.state.phase is not Phase.CLOSED:
            if job.state.phase not in seen:
                seen[job.state.phase] = window.wait_for("The machine's manual rules.")
            words = operator.react(effects)
            assert words is not None
            effects = job.press(keys_for(words, job.state))
            assert job.pressed < 1_000
        window.wait_for("ended 0")
    assert job.state is not None
    assert all(isinstance(event, KeyPressed) for event in job.events[1:])
    assert job.state.as_left is not None
    tolerance = float(job.state.profile.tolerance.to("thou"))
    assert job.state.as_left.tilt <= tolerance
    assert {Phase.UNPLUGGED, Phase.LOCK, Phase.ZERO, Phase.SWEEP, Phase.CLOSE} <= set(seen)
    assert {Phase.SHIM, Phase.TAP} & set(seen)
