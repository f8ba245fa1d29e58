"""Whole jobs with the numeric keypad alone, on the real screen in a real terminal."""

import time
from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path

import pytest

from assistant.devices.keys.bounce import BOUNCE_S
from assistant.dialogue.messages import Effect, Event, KeyPressed
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.introduction import Introducing
from assistant.dialogue.procedures.lock import Lock
from assistant.dialogue.procedures.safety import Safety
from assistant.dialogue.procedures.shim import Bolt
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.procedures.tap import Tap
from assistant.dialogue.state import State
from assistant.dialogue.step import step
from assistant.records.journal.journal import Journal
from assistant.simulation.bench import Bench, draw_machine, profile_for
from assistant.simulation.caller import Operator
from grammar.meaning import Command, OffScale, Reading, Shim, Side, Sign, Size, Unclear, Wish
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
            key = "+" if name == "plus" else "-"
            return [key, "enter"] if state.pending is not None else [key]
        case Reading(value=value, signed=signed):
            return [*_digits(value, signed), "enter"]
        case Shim(total=total, place=place):
            return [*_digits(-total if place == "below" else total, place is not None), "enter"]
        case Size(value=value):
            return [*_digits(value, False), "enter"]
        case Side() | OffScale() | Wish() | Unclear():
            raise AssertionError(f"no keys for {words!r}")


def _digits(value: Decimal, signed: bool) -> str:
    sign = ("-" if value < 0 else "+") if signed and value else ""
    return f"{sign}{abs(value):f}"


class KeypadJob:
    """The program in its window, and what its record says."""

    def __init__(self, window: TmuxWindow, record: Path) -> None:
        self.window = window
        self.num_lock = True
        self._entered = float("-inf")
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
            time.sleep(0.005)
            with Journal.open(self._record, write=False) as journal:
                self.events = journal.events(journal.jobs()[0].id)
        effects: tuple[Effect, ...] = ()
        for event in self.events[known:]:
            self.state, effects = step(self.state, event)
        return effects

    def press(self, keys: Sequence[str]) -> tuple[Effect, ...]:
        """Press keys one after the other; the effects of the last one."""
        self.push(keys)
        self.pressed += len(keys)
        return self.news(len(keys))

    def push(self, keys: Sequence[str]) -> None:
        """Press keys, of which the record may know nothing."""
        while keys[0] == "enter" and time.monotonic() < self._entered + 1.5 * BOUNCE_S:
            # A person looks before they agree to the next question.
            time.sleep(0.01)
        for key in keys:
            self.window.press(_name_of(key, self.num_lock))
        if keys[-1] == "enter":
            self._entered = time.monotonic()


def _name_of(key: str, num_lock: bool) -> str:
    """A key by tmux's names."""
    if num_lock or key not in CURSOR_KEYS:
        return "KPEnter" if key == "enter" else f"KP{key}"
    return CURSOR_KEYS[key]


CURSOR_KEYS = {
    "0": "IC", "1": "End", "2": "Down", "3": "NPage", "4": "Left", "6": "Right", "7": "Home",
    "8": "Up", "9": "PPage", ".": "DC",
}  # fmt: skip
"""What the keypad sends without Num Lock. Its 5 has no name in tmux: it keeps its digit."""

INTRODUCTION = (
    (("enter",), "dial indicator?"),
    (("enter",), "thousandths"),
    (("enter",), "both ways"),
    (("enter",), "reads to"),
    (("enter",), "Sweep eight inches across?"),
    (("1", "0", "enter"), "Square within"),
    (("enter",), "unplugged"),
)
"""A new bench drill press, and a sweep of ten inches."""


@pytest.mark.parametrize(("seed", "size", "num_lock"), [(22, (80, 24), True), (4, (40, 12), False)])
def test_a_whole_first_job_by_keypad(
    seed: int, size: tuple[int, int], num_lock: bool, tmp_path: Path
) -> None:
    record = tmp_path / "jobs.db"
    operator = Operator(Bench(draw_machine(seed)), profile_for())
    command = ["assistant", "run", "--ears", "off", "--voice", "off", "--db", str(record)]
    with TmuxWindow(command, *size, home=tmp_path) as window:
        job = KeypadJob(window, record)
        job.num_lock = num_lock
        window.wait_for("Bench drill press?")
        for keys, then in INTRODUCTION:
            job.push(keys)
            window.wait_for(then)
        effects = job.news(1)
        seen: dict[Phase, str] = {}
        while job.state is not None and job.state.phase is not Close.CLOSED:
            if job.state.phase not in seen:
                asks = isinstance(job.state.phase, Introducing | Safety)
                caution = "Unplug. Hold the table." if asks else "Unplugged. Spindle by hand."
                seen[job.state.phase] = window.wait_for(caution)
            words = operator.react(effects)
            assert words is not None
            effects = job.press(keys_for(words, job.state))
            assert job.pressed < 1_000
        result = window.wait_for("Enter leaves.")
        assert "Was " in result
        window.press("KPEnter")
        # What was on the screen is printed when it is gone.
        left = window.wait_for("ended 0")
    assert "Was " in left
    assert "As left: " in left
    assert "report: " in left
    assert job.state is not None
    assert all(isinstance(event, KeyPressed) for event in job.events[1:])
    assert job.state.as_left is not None
    tolerance = float(job.state.profile.tolerance.to("thou"))
    assert job.state.as_left.tilt <= tolerance
    assert {Safety.UNPLUGGED, Lock.LOCK, Sweeping.ZERO, Sweeping.SWEEP, Close.CLOSE} <= set(seen)
    assert {Bolt.SHIM, Tap.TAP} <= set(seen)


def test_a_double_enter_agrees_once_and_a_wrong_key_to_nothing(tmp_path: Path) -> None:
    record = tmp_path / "jobs.db"
    command = ["assistant", "run", "--no-ask", "--ears", "off", "--voice", "off", "--db",
               str(record)]  # fmt: skip
    with TmuxWindow(command, home=tmp_path) as window:
        job = KeypadJob(window, record)
        window.wait_for("unplugged")
        job.news(1)
        # Three presses that tmux hands on together, and a key that means nothing here.
        window.press("KPEnter", "KPEnter", "KPEnter", "KP7")
        job.news(2)
        window.wait_for("Chuck key out")
        assert job.state is not None
        assert str(job.state.phase) == "key out"
        # Enter after it is the number's, and no answer.
        job.press(["enter"])
        window.wait_for("Not now: 7.")
        assert str(job.state.phase) == "key out"
        # Two signs: the last one is meant; the point twice is one point.
        for _ in range(4):
            job.press(["enter"])
        job.press(["enter"])
        assert job.state.phase is Sweeping.SWEEP
        job.press(["+", "-", "3", ".", ".", "5"])
        window.wait_for("typed, then Enter:")
        job.press(["enter"])
        window.wait_for("Front?")
    assert [taken.value for taken in job.state.readings] == [0, Decimal("-3.5")]
