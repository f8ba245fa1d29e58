"""A key held down in a terminal answers one question, however fast it repeats."""

import queue
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from assistant.devices.keys.held_key import LET_GO_S, REPEAT_S, TALK, HeldKey
from assistant.devices.keys.keypad import Key, Line, Talk
from assistant.dialogue.messages import Heard, KeyPressed
from tests.devices.sound_stand_in import Clock
from tests.devices.stand_in_bench import StandInBench


class Terminal:
    """Sends keys at stated seconds; ``told`` is what counts, and when."""

    def __init__(self) -> None:
        self.clock = Clock()
        self.began = self.clock.now
        self.told: list[tuple[str, float]] = []
        self._due: list[tuple[float, Callable[[], None]]] = []
        self.held_key = HeldKey(self._told, self.clock, self._later)

    def _told(self, key: str) -> None:
        self.told.append((key, round(self.clock.now - self.began, 3)))

    def _later(self, seconds: float, do: Callable[[], None]) -> None:
        self._due.append((self.clock.now + seconds, do))

    def until(self, at: float) -> None:
        """Let the time pass."""
        for due, do in list(self._due):
            if due <= self.began + at:
                self._due.remove((due, do))
                self.clock.now = due
                do()
        self.clock.now = self.began + at

    def send(self, key: str, *at: float) -> None:
        for each in at:
            self.until(each)
            self.held_key.pressed(key)

    def keys(self) -> str:
        """Every key that counted, after a while."""
        self.until(self.clock.now - self.began + 5.0)
        return " ".join(key for key, _ in self.told)


def held(delay_s: float, a_second: float, length_s: float) -> list[float]:
    """When a key that is held down is sent."""
    return [0.0, *(delay_s + n / a_second for n in range(round((length_s - delay_s) * a_second)))]


@pytest.mark.parametrize("key", ["enter", "+", "-", "/"])
@pytest.mark.parametrize(
    ("delay_s", "a_second"),
    [
        pytest.param(0.25, 10.9, id="Linux console, kbdrate(8)"),
        pytest.param(0.25, 30.0, id="as fast as kbdrate(8) sets it"),
        pytest.param(1.0, 30.0, id="as late as kbdrate(8) sets it"),
        pytest.param(0.66, 25.0, id="X.Org, xset(1)"),
    ],
)
@pytest.mark.parametrize("length_s", [2.0, 9.0])
def test_a_key_held_down_counts_once(
    key: str, delay_s: float, a_second: float, length_s: float
) -> None:
    terminal = Terminal()
    terminal.send(key, *held(delay_s, a_second, length_s))
    assert terminal.keys() == key
    assert terminal.told == [(key, 0.0)], "at once"


def test_pressed_again_after_it_was_held_it_counts_again() -> None:
    terminal = Terminal()
    terminal.send("enter", *held(0.5, 30.0, 2.0))
    terminal.send("enter", 2.5, 4.0)
    assert terminal.keys() == "enter enter enter"


def test_pressed_twice_by_a_finger_it_counts_twice_and_late_at_the_most_by_a_moment() -> None:
    terminal = Terminal()
    terminal.send("enter", 0.0, 0.4, 2.0)
    assert terminal.keys() == "enter enter enter"
    assert [at for _, at in terminal.told] == [0.0, 0.4 + REPEAT_S, 2.0]


def test_what_is_typed_next_does_not_overtake_a_press_that_waits() -> None:
    terminal = Terminal()
    terminal.send("enter", 0.0, 0.4)
    terminal.send("6", 0.41)
    assert terminal.keys() == "enter enter 6"
    terminal.send("-", 20.0, 20.5)
    terminal.held_key.settle()
    assert terminal.told[-1] == ("-", 20.5)
    assert terminal.keys() == "enter enter 6 - -"


def test_digits_and_chords_are_as_fast_as_fingers_are() -> None:
    terminal = Terminal()
    terminal.send("1", 0.0, 0.05, 0.4)
    terminal.send("/", 1.0, 1.0)
    assert terminal.told == [("1", 0.0), ("1", 0.05), ("1", 0.4), ("/", 1.0), ("/", 1.0)]


@pytest.mark.parametrize(("delay_s", "a_second"), [(0.25, 10.9), (1.0, 30.0), (0.66, 25.0)])
@pytest.mark.parametrize("length_s", [2.0, 5.0])
def test_the_talk_key_held_down_lasts_from_its_press_until_it_is_let_go(
    delay_s: float, a_second: float, length_s: float
) -> None:
    terminal = Terminal()
    sent = held(delay_s, a_second, length_s)
    terminal.send(TALK, *sent)
    assert terminal.keys() == f"{TALK} {TALK}"
    assert [at for _, at in terminal.told] == [0.0, round(sent[-1] + LET_GO_S, 3)]


def test_the_talk_key_held_for_longer_than_a_call_lasts_is_over_by_then() -> None:
    terminal = Terminal()
    terminal.held_key = HeldKey(terminal._told, terminal.clock, terminal._later, longest_s=6.0)
    terminal.send(TALK, *held(0.25, 30.0, 8.0))
    assert terminal.keys() == TALK


def test_the_talk_key_pressed_before_and_after_a_call_counts_twice() -> None:
    terminal = Terminal()
    terminal.send(TALK, 0.0, 0.9, 10.0, 13.0)
    assert terminal.keys() == " ".join([TALK] * 4)
    assert [at for _, at in terminal.told] == [0.0, 0.9 + REPEAT_S, 10.0, 13.0]


def test_the_space_bar_held_down_at_the_bench_is_one_call(tmp_path: Path) -> None:
    stand_in = StandInBench(tmp_path)
    presses = 0
    with stand_in.running():
        bench = stand_in.bench
        push = bench._push_to_talk

        def counted() -> None:
            nonlocal presses
            presses += 1
            push()

        bench._push_to_talk = counted  # type: ignore[method-assign]
        bench.stroke(Talk())
        time.sleep(0.3)
        for _ in range(10):
            bench.stroke(Talk())
            time.sleep(0.03)
        time.sleep(3 * LET_GO_S)
    assert presses == 2


def _keys(stand_in: StandInBench) -> int:
    """How many keys reached the loop since the last look."""
    found = 0
    while True:
        try:
            mail = stand_in.bench.mailbox.get(timeout=2 * REPEAT_S)
        except queue.Empty:
            return found
        found += isinstance(mail, KeyPressed)


def test_enter_held_down_at_the_bench_agrees_once(tmp_path: Path) -> None:
    stand_in = StandInBench(tmp_path)
    with stand_in.running():
        bench = stand_in.bench
        bench.stroke(Key("enter"))
        time.sleep(0.3)
        for _ in range(10):
            bench.stroke(Key("enter"))
            time.sleep(0.03)
        assert _keys(stand_in) == 1
        bench.stroke(Key("enter"))
        assert _keys(stand_in) == 1, "pressed again"
        bench.stroke(Key("enter"))
        bench.stroke(Line("stop"))
        assert isinstance(stand_in.bench.mailbox.get(timeout=1.0), KeyPressed)
        assert isinstance(stand_in.bench.mailbox.get(timeout=1.0), Heard)
