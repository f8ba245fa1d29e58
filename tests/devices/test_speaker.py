"""The speaker without hardware: order, rates, cutting off, and what the microphone is told."""

import time

import numpy as np
import pytest

from assistant.devices.sound.half_duplex import HalfDuplex
from assistant.devices.sound.speaker import Speaker
from tests.devices.sound_stand_in import OUT, Clock, StandInLibrary, StandInStream


class Bench:
    def __init__(self, form: tuple[int, int] = (48_000, 2)) -> None:
        self.clock = Clock()
        self.duplex = HalfDuplex()
        self.library = StandInLibrary(OUT, form=form)
        self.reports: list[str | None] = []
        self.speaker = Speaker(
            self.library, None, self.reports.append, self.duplex, clock=self.clock
        )
        self.speaker.lifeline.tick()

    @property
    def stream(self) -> StandInStream:
        return self.library.streams[-1]

    def run(self, seconds: float) -> "np.typing.NDArray[np.int16]":
        parts = []
        for _ in range(round(seconds / 0.02)):
            parts.append(self.stream.take(round(0.02 * self.stream.rate)))
            self.clock.now += 0.02
        return np.concatenate(parts)


def _constant(value: int, seconds: float, rate: int) -> "np.typing.NDArray[np.int16]":
    return np.full(round(seconds * rate), value, np.int16)


def test_sounds_come_one_after_the_other_then_silence() -> None:
    bench = Bench()
    assert bench.speaker.play(_constant(100, 0.05, 48_000), 48_000)
    assert bench.speaker.play(_constant(200, 0.05, 48_000), 48_000)
    out = bench.run(0.2)
    assert (out[:2_400] == 100).all()
    assert (out[2_400:4_800] == 200).all()
    assert (out[4_800:] == 0).all()


@pytest.mark.parametrize("rate", [8_000, 16_000, 22_050, 44_100])
def test_any_rate_is_played_at_its_length_and_level(rate: int) -> None:
    bench = Bench()
    seconds = np.arange(rate) / rate
    bench.speaker.play(np.asarray(8_000 * np.sin(2 * np.pi * 500 * seconds), np.int16), rate)
    out = bench.run(1.5).astype(float)
    assert np.flatnonzero(np.abs(out) > 400)[-1] == pytest.approx(48_000, abs=300)
    assert np.abs(out).max() == pytest.approx(8_000, rel=0.03)


def test_the_microphone_is_told_from_the_call_to_the_last_sample() -> None:
    bench = Bench()
    begin = bench.clock.now
    bench.speaker.play(_constant(100, 0.1, 48_000), 48_000)
    assert bench.duplex.drops(begin + 0.01, begin + 0.02)
    assert bench.speaker.playing()
    bench.run(0.2)
    assert bench.speaker.wait(0.0)
    assert not bench.speaker.playing()
    assert bench.duplex.drops(begin + 0.2, begin + 0.21)
    assert not bench.duplex.drops(begin + 0.31, begin + 0.34)


def test_what_the_device_still_holds_is_waited_for() -> None:
    bench = Bench()
    bench.stream.latency_s = 0.15
    bench.speaker.play(_constant(100, 0.02, 48_000), 48_000)
    bench.stream.take(960)
    began = time.monotonic()
    assert not bench.speaker.wait(0.05), "taken by the device, but not yet to be heard"
    assert bench.speaker.wait(1.0)
    assert time.monotonic() - began >= 0.05 + 0.15
    bench.clock.now += 0.17
    assert bench.speaker.wait(0.0)


def test_cut_off_at_once_without_a_crack() -> None:
    bench = Bench()
    bench.speaker.play(_constant(10_000, 2.0, 48_000), 48_000)
    bench.speaker.play(_constant(10_000, 2.0, 48_000), 48_000)
    bench.run(0.1)
    bench.speaker.cut_off()
    out = bench.run(0.1).astype(int)
    assert (out[300:] == 0).all(), "silent within 6 ms of the next block"
    assert np.abs(np.diff(out)).max() < 200, "fades: no jump"
    assert bench.speaker.wait(0.0)
    bench.speaker.cut_off()
    bench.speaker.play(_constant(5, 0.02, 48_000), 48_000)
    assert (bench.run(0.02) == 5).all(), "the next sound plays"


def test_a_lost_speaker_drops_what_it_has_and_frees_the_microphone() -> None:
    bench = Bench()
    bench.run(0.02)
    bench.speaker.lifeline.tick()
    bench.speaker.play(_constant(100, 5.0, 48_000), 48_000)
    bench.run(0.1)
    bench.library.present.clear()
    bench.stream.close()
    for _ in range(5):
        bench.clock.now += 0.3
        bench.speaker.lifeline.tick()
    assert bench.reports == ["it is gone"]
    assert bench.speaker.wait(0.0)
    assert not bench.duplex.speaking()
    assert bench.speaker.play(_constant(1, 0.1, 48_000), 48_000) is False
    bench.library.present.append(OUT)
    bench.clock.now += 5
    bench.speaker.lifeline.tick()
    assert (bench.run(0.1) == 0).all(), "nothing old comes out"
    bench.speaker.lifeline.tick()
    assert bench.reports == ["it is gone", None]


def test_nothing_is_not_played() -> None:
    bench = Bench()
    assert bench.speaker.play(np.zeros(0, np.int16), 16_000)
    assert not bench.speaker.playing()
    assert not bench.duplex.speaking()
