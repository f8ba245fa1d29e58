"""Losing a device and getting it back, on a clock that stands still."""

import pytest

from assistant.devices.faults import DeviceFault
from assistant.devices.sound.lifeline import Lifeline, Patience, Reconnection
from tests.devices.sound_stand_in import Clock

PATIENCE = Patience(start=5.0, silence=1.0, retries=(0.25, 0.5, 1.0))


class Device:
    """Counts what the lifeline does to it."""

    def __init__(self) -> None:
        self.there = True
        self.runs = False
        self.log: list[str] = []
        self.reports: list[str | None] = []

    def open(self, look_again: bool) -> None:
        self.log.append("look, open" if look_again else "open")
        if not self.there:
            raise DeviceFault("microphone", "gone", "plug it in")
        self.runs = True

    def close(self) -> None:
        self.log.append("close")
        self.runs = False

    def active(self) -> bool:
        return self.runs


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def device() -> Device:
    return Device()


@pytest.fixture
def line(device: Device, clock: Clock) -> Lifeline:
    return Lifeline(
        "test",
        device.open,
        device.close,
        device.active,
        device.reports.append,
        patience=PATIENCE,
        clock=clock,
    )


def _run(line: Lifeline, clock: Clock, seconds: float, *, beats: bool) -> None:
    for _ in range(round(seconds * 10)):
        clock.now += 0.1
        if beats:
            line.beat()
        line.tick()


def test_a_device_that_works_is_left_alone(line: Lifeline, device: Device, clock: Clock) -> None:
    line.tick()
    _run(line, clock, 60, beats=True)
    assert device.log == ["open"]
    assert device.reports == []


def test_pulled_out_and_put_back(line: Lifeline, device: Device, clock: Clock) -> None:
    line.tick()
    _run(line, clock, 2, beats=True)
    device.there = device.runs = False
    _run(line, clock, 10, beats=False)
    assert device.reports == ["gone"], "said once, however long it is away"
    assert device.log[:3] == ["open", "close", "open"], "tried at once before it is called lost"
    tries = device.log.count("look, open")
    assert 9 <= tries <= 12, "about once a second at the end of the back-off"
    device.there = True
    _run(line, clock, 1.2, beats=False)
    assert device.reports == ["gone"], "open is not yet working"
    _run(line, clock, 0.2, beats=True)
    assert device.reports == ["gone", None]


def test_silence_without_any_error_is_noticed(line: Lifeline, device: Device, clock: Clock) -> None:
    """An exception inside a PortAudio callback never reaches anybody: only silence tells."""
    line.tick()
    _run(line, clock, 1, beats=True)
    _run(line, clock, 0.9, beats=False)
    assert device.log == ["open"]
    _run(line, clock, 0.4, beats=False)
    assert device.log == ["open", "close", "open"]
    _run(line, clock, 0.1, beats=True)
    assert device.reports == [], "it came back within moments: nothing to say"


def test_a_sleeping_device_is_given_time_to_start(
    line: Lifeline, device: Device, clock: Clock
) -> None:
    line.tick()
    _run(line, clock, 4.8, beats=False)
    assert device.log == ["open"]
    _run(line, clock, 0.5, beats=False)
    assert device.reports == ["it delivers nothing"]


def test_missing_from_the_start(line: Lifeline, device: Device, clock: Clock) -> None:
    device.there = False
    line.tick()
    assert device.reports == ["gone"]
    device.there = True
    _run(line, clock, 1, beats=True)
    assert device.reports == ["gone", None]


def test_the_thread_opens_reports_and_closes(device: Device) -> None:
    device.there = False
    line = Lifeline(
        "test", device.open, device.close, device.active, device.reports.append, patience=PATIENCE
    )
    line.start()
    assert line.wait_for_first_attempt(30) == "gone"
    line.stop()
    assert device.log[-1] == "close"


def test_a_block_of_a_closed_stream_changes_nothing() -> None:
    rule = Reconnection(PATIENCE)
    assert rule.block(1.0) is False
    assert rule.due(1.0) == "open"
