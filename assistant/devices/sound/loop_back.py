"""Hearing oneself: a sweep is played and looked for in what the microphone takes in."""

from collections.abc import Sequence

import numpy as np

from assistant.devices.sound.delay import EARLIEST_S, LATEST_S, SWEEP_S, Arrival, arrival, sweep
from assistant.devices.sound.microphone import RATE, Block, Microphone
from assistant.devices.sound.speaker import Speaker

PLAY_RATE = 48_000
BEFORE_S = 0.2
"""How long is listened before the sweep is played: what is heard then is not the sweep."""

MORE_S = 2.0
"""How much longer than needed is waited for a microphone that stops delivering."""


def hear_itself(speaker: Speaker, microphone: Microphone, volume: float = 1.0) -> Arrival | None:
    """Play a sweep and find it again; None when the microphone does not hear it.

    Takes two seconds. Nothing may be dropped meanwhile as the program's own voice, and nothing
    else be playing. The delay is from when the device was to play it to when the microphone's
    blocks hold it, the devices' own delays as they tell them left out.
    """
    blocks: list[Block] = []
    _take(microphone, blocks, BEFORE_S)
    if not speaker.play(sweep(PLAY_RATE, volume), PLAY_RATE):
        return None
    _take(microphone, blocks, max(0.0, EARLIEST_S) + SWEEP_S + LATEST_S)
    began = speaker.began_at
    if not blocks or began is None:
        return None
    heard = np.concatenate([block.samples for block in blocks])
    return arrival(heard, sweep(RATE), round((began - _first_sample_at(blocks)) * RATE))


def _take(microphone: Microphone, blocks: list[Block], seconds: float) -> None:
    """So many seconds of sound, or less when no more comes."""
    wanted = round(seconds * RATE)
    while wanted > 0:
        block = microphone.read(MORE_S)
        if block is None:
            return
        blocks.append(block)
        wanted -= len(block.samples)


def _first_sample_at(blocks: Sequence[Block]) -> float:
    """When the first sample was taken: the median over the blocks, since callbacks are uneven."""
    ends = np.cumsum([len(block.samples) for block in blocks]) / RATE
    return float(np.median([block.at_s for block in blocks] - ends))
