"""Sound that is missing is noticed by when blocks come; blocks that are only late are not."""

from collections.abc import Iterator

import numpy as np
import pytest

from assistant.devices.sound.continuity import LEAST_S, SURE_S, Continuity
from assistant.devices.sound.half_duplex import HalfDuplex
from assistant.devices.sound.microphone import Microphone
from tests.devices.sound_stand_in import MIC, Clock, StandInLibrary

BLOCK_S = 0.03


def _missed(times: Iterator[float]) -> list[float]:
    """When something is said to be missing, of blocks that come at these times."""
    continuity = Continuity()
    return [at for at in times if continuity.misses(at, BLOCK_S)]


def _steady(count: int, begin: float = 0.0, block_s: float = BLOCK_S) -> list[float]:
    return [begin + block_s * (number + 1) for number in range(count)]


@pytest.mark.parametrize("gap_s", [0.12, 0.2, 0.6, 2.0])
def test_what_a_link_left_out_is_noticed_once_and_soon(gap_s: float) -> None:
    before = _steady(100)
    after = _steady(100, before[-1] + gap_s)
    found = _missed(iter([*before, *after]))
    assert len(found) == 1
    assert after[0] <= found[0] <= before[-1] + gap_s + SURE_S + 2 * BLOCK_S


@pytest.mark.parametrize("held_s", [0.1, 0.4, 3.0])
def test_blocks_that_were_held_up_and_come_at_once_are_whole(held_s: float) -> None:
    times = _steady(400)
    until = times[100] + held_s
    assert _missed(iter(max(at, until) if at > times[100] else at for at in times)) == []


def test_blocks_in_bursts_and_clocks_that_differ_are_whole() -> None:
    # Three at a time; 200 parts in a million slow, which is much for a sound card.
    bursts = [times[2] for times in zip(*[iter(_steady(3000))] * 3, strict=True) for _ in range(3)]
    assert _missed(iter(bursts)) == []
    assert _missed(iter(_steady(3000, block_s=BLOCK_S * 1.0002))) == []
    chance = np.random.default_rng(1)
    assert _missed(at + float(chance.exponential(0.01)) for at in _steady(3000)) == []


def test_less_than_a_word_is_let_pass() -> None:
    before = _steady(100)
    assert _missed(iter([*before, *_steady(100, before[-1] + 0.9 * LEAST_S)])) == []


def test_a_microphone_tells_of_it_with_the_next_block() -> None:
    clock, library = Clock(), StandInLibrary(MIC)
    microphone = Microphone(library, None, lambda _: None, HalfDuplex(), clock=clock)
    microphone.lifeline.tick()
    gaps = []
    for number in range(60):
        clock.now += BLOCK_S + 0.3 * (number == 30)
        library.streams[0].deliver(np.full(480, 100, np.int16))
        block = microphone.read(0.0)
        assert block is not None
        assert block.gap == block.lost
        gaps.append(block.gap)
    # The first block of a stream has one before it, as ever.
    assert [number for number, gap in enumerate(gaps) if gap] == [0, 39]
