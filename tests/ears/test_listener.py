"""Blocks in, utterances out: what is made of sound that is missing in between."""

import queue
import threading
from dataclasses import replace

import numpy as np

from assistant.devices.ears.endpoint import Cut, Endpointer
from assistant.devices.ears.hearing import Decoded, Ears, Utterance
from assistant.devices.ears.listener import Listener
from assistant.devices.sound.microphone import Block
from assistant.dialogue.messages import Decision
from grammar.meaning import Hypothesis
from grammar.offer import everything
from grammar.parse import parse
from grammar.scale import Scale
from tests.ears.sounds import Samples
from tests.ears.test_endpoint import Loud, stream
from tests.ears.untaught import Untaught

LONGEST_S = 20.0
"""Nothing here takes a hundredth of it; a listener that hangs ends the test all the same."""


class _Blocks:
    """A microphone whose blocks were recorded; ``over`` is set when the last one was taken."""

    def __init__(self, *blocks: Block) -> None:
        self._blocks: queue.SimpleQueue[Block] = queue.SimpleQueue()
        for block in blocks:
            self._blocks.put(block)
        self.over = threading.Event()

    def put(self, block: Block) -> None:
        self._blocks.put(block)

    def read(self, timeout_s: float) -> Block | None:
        try:
            return self._blocks.get(timeout=min(timeout_s, 0.01))
        except queue.Empty:
            # Asked for more: what came of the last block is through.
            self.over.set()
            return None


class _Counting(Untaught):
    """Hears a yes in everything."""

    name = "counting"

    def decode(self, samples: Samples, lead: int = 0) -> Decoded:
        del samples, lead
        return Decoded((Hypothesis("yes", parse("yes", Scale()), 1.0),), "yes", 1.0)


def _taken(decoded: Decoded, cut: Cut) -> Decision:
    del decoded, cut
    return "accept"


def _heard(*parts: tuple[str, bool]) -> list[Utterance]:
    """What a listener makes of these sounds, each after a gap or not."""
    found: list[Utterance] = []
    faults: list[str | None] = []
    source = _Blocks(*(Block(stream(pattern), 0.0, gap, -40.0) for pattern, gap in parts))

    def ears() -> Ears:
        return Ears(_Counting(), _taken, Endpointer(Loud()))

    def heard(turn: int, utterance: Utterance) -> None:
        assert turn == 1
        found.append(utterance)

    listener = Listener(source, ears, heard, faults.append)
    listener.arm(1, everything(Scale()))
    with listener:
        assert source.over.wait(LONGEST_S)
    assert faults == []
    return found


def test_one_call_in_several_blocks_is_one_utterance() -> None:
    (heard,) = _heard(("." * 20 + "#" * 20, False), ("#" * 20 + "." * 40, False))
    assert np.count_nonzero(heard.samples) == np.count_nonzero(stream("#" * 40))


def test_a_call_with_sound_missing_in_it_is_dropped_and_its_rest_taken_for_itself() -> None:
    """What was said before the gap may have begun with "correction" or another's sign."""
    (heard,) = _heard(("." * 20 + "#" * 20, False), ("#" * 20 + "." * 40, True))
    assert np.count_nonzero(heard.samples) == np.count_nonzero(stream("#" * 20))


def test_a_gap_in_silence_costs_nothing() -> None:
    (heard,) = _heard(("." * 20, False), ("." * 20 + "#" * 20 + "." * 40, True))
    assert np.count_nonzero(heard.samples) == np.count_nonzero(stream("#" * 20))


class _Learner(_Counting):
    """Notes what it is told of what it heard, each call by its length."""

    def __init__(self) -> None:
        self.told: list[str] = []

    def decode(self, samples: Samples, lead: int = 0) -> Decoded:
        plain = super().decode(samples, lead)
        return replace(plain, words=str(np.count_nonzero(samples)))

    @staticmethod
    def length(chunks: int) -> str:
        """The words that it makes of a call of so many chunks."""
        return str(np.count_nonzero(stream("#" * chunks)))

    def confirm(self, decoded: Decoded) -> None:
        self.told.append(f"+{decoded.words}")

    def unlearn(self, decoded: Decoded) -> None:
        self.told.append(f"-{decoded.words}")


def test_what_turned_out_to_be_meant_or_not_is_told_to_the_recogniser() -> None:
    """By the turn in which it was heard; of a turn without a call there is nothing to tell."""
    learner, heard = _Learner(), threading.Semaphore(0)
    source = _Blocks()

    def ears() -> Ears:
        return Ears(learner, _taken, Endpointer(Loud()))

    faults: list[str | None] = []
    listener = Listener(source, ears, lambda *_: heard.release(), faults.append)
    calls = {3: 20, 4: 30, 5: 40}
    with listener:
        for turn, length in calls.items():
            listener.arm(turn, everything(Scale()))
            source.over.clear()
            assert source.over.wait(LONGEST_S)
            source.put(Block(stream("." * 20 + "#" * length + "." * 40), 0.0, False, -40.0))
            assert heard.acquire(timeout=LONGEST_S)
        listener.told((4, 9), meant=True)
        listener.told((3, 5), meant=False)
        source.over.clear()
        assert source.over.wait(LONGEST_S)
        source.over.clear()
        assert source.over.wait(LONGEST_S)
    lengths = {turn: np.count_nonzero(stream("#" * length)) for turn, length in calls.items()}
    assert learner.told == [f"+{lengths[4]}", f"-{lengths[3]}", f"-{lengths[5]}"]


def test_a_turn_stands_for_the_first_call_in_it() -> None:
    """Talk before it is no call, what comes after it comes too late; a new job counts redrawn."""
    learner, heard = _Learner(), threading.Semaphore(0)
    source = _Blocks()

    def judged(decoded: Decoded, cut: Cut) -> Decision:
        del cut
        return "talk" if decoded.words == learner.length(15) else "accept"

    faults: list[str | None] = []
    listener = Listener(
        source,
        lambda: Ears(learner, judged, Endpointer(Loud())),
        lambda *_: heard.release(),
        faults.append,
    )

    def through() -> None:
        for _ in range(2):
            source.over.clear()
            assert source.over.wait(LONGEST_S)

    with listener:
        for lengths, wanted in (((15, 20, 30), 20), ((40,), 40)):
            listener.arm(3, everything(Scale()))
            through()
            for length in lengths:
                source.put(Block(stream("." * 20 + "#" * length + "." * 60), 0.0, False, -40.0))
                assert heard.acquire(timeout=LONGEST_S)
            listener.told((3,), meant=True)
            through()
            assert learner.told.pop() == f"+{learner.length(wanted)}"
    assert learner.told == faults == []


def test_a_motor_under_our_own_voice_is_told_after_it() -> None:
    quiet = [Block(stream("."), 0.1 * n, False, -60.0) for n in range(200)]
    unheard = tuple((20 + 0.1 * n, -25.0) for n in range(100))
    source = _Blocks(*quiet, Block(stream("."), 30.0, True, -25.0, unheard))
    told: list[bool] = []

    def ears() -> Ears:
        return Ears(_Counting(), _taken, Endpointer(Loud()))

    listener = Listener(source, ears, lambda *_: None, lambda _: None, told.append)
    listener.arm(1, everything(Scale()))
    with listener:
        assert source.over.wait(LONGEST_S)
    assert told == [True]
