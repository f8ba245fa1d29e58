"""Blocks in, utterances out: what is made of sound that is missing in between."""

import queue
import threading
from dataclasses import replace
from typing import Literal

import numpy as np
import pytest

from assistant.devices.ears.endpoint import Cut, Endpointer
from assistant.devices.ears.hearing import Decoded, Ears, Utterance, Verifier, heard_event
from assistant.devices.ears.listener import Listener
from assistant.devices.sound.microphone import Block
from assistant.dialogue import wording
from assistant.dialogue.messages import Decision, Tone
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.questions import question
from grammar.meaning import Hypothesis, Unclear
from grammar.offer import everything
from grammar.parse import parse
from grammar.scale import Scale
from tests.dialogue.typed import TypedJob
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


def _talk(decoded: Decoded, cut: Cut) -> Decision:
    del decoded, cut
    return "talk"


def _block(pattern: str, before: Literal["", "voice", "lost"] = "") -> Block:
    """Sound after what is missing: because our own voice was in it, or because it was lost."""
    return Block(stream(pattern), 0.0, bool(before), -40.0, lost=before == "lost")


def _heard(*blocks: Block, judge: Verifier = _taken) -> list[Utterance]:
    """What a listener makes of these sounds."""
    found: list[Utterance] = []
    faults: list[str | None] = []
    source = _Blocks(*blocks)

    def ears() -> Ears:
        return Ears(_Counting(), judge, Endpointer(Loud()))

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
    (heard,) = _heard(_block("." * 20 + "#" * 20), _block("#" * 20 + "." * 40))
    assert np.count_nonzero(heard.samples) == np.count_nonzero(stream("#" * 40))


def test_a_call_that_our_own_voice_cut_off_is_dropped_and_its_rest_taken_for_itself() -> None:
    (heard,) = _heard(_block("." * 20 + "#" * 20), _block("#" * 20 + "." * 40, "voice"))
    assert np.count_nonzero(heard.samples) == np.count_nonzero(stream("#" * 20))
    assert heard.outcome == "accept"


WAITS = "." * 40
"""Longer than the rest of a call is waited for."""


@pytest.mark.parametrize(
    "after",
    ["#" * 20, "#" * 60, "." * 20 + "#" * 20, "#", ""],
    ids=["goes on at once", "goes on for long", "goes on soon", "a knock", "was its end"],
)
def test_a_call_with_sound_missing_in_it_is_one_that_was_not_understood(after: str) -> None:
    """Before the gap may have been "correction" or a sign: what follows is no call by itself."""
    (heard,) = _heard(_block("." * 20 + "#" * 20), _block(after, "lost"), *map(_block, WAITS))
    assert (heard.outcome, heard.meaning, heard.alternatives) == ("reject", Unclear(""), ())


def test_whoever_is_cut_off_by_a_link_is_asked_to_say_it_again_and_then_shown_another_way() -> None:
    """One that drops out again and again does not make it repeat the same words."""
    job = TypedJob.at(Sweeping.SWEEP)
    said = []
    for _ in range(5):
        (heard,) = _heard(_block("#" * 20), _block(WAITS, "lost"))
        job.post(heard_event(heard, "2031-03-04T12:00:00.000Z", job.state.turn))
        said.append(job.said.removesuffix(question(job.state)).strip())
        assert Tone("missed") in job.effects
    assert said == [wording.MISSED, wording.MISSED_TWICE, "", "", ""]


def test_sound_that_goes_missing_again_and_again_makes_one_answer() -> None:
    voice = "#" * 10
    (heard,) = _heard(
        _block(voice), _block(voice, "lost"), _block(WAITS[:9] + voice, "lost"), _block(WAITS)
    )
    assert heard.outcome == "reject"


def test_what_is_said_after_a_broken_call_is_heard() -> None:
    broken, next_one = _heard(_block("#" * 20), _block(WAITS, "lost"), _block("#" * 20 + "." * 20))
    assert (broken.outcome, next_one.outcome) == ("reject", "accept")


def test_talk_with_sound_missing_in_it_is_talk() -> None:
    pieces = (_block("#" * 20), _block("#" * 20 + WAITS, "lost"))
    (heard,) = _heard(*pieces, judge=_talk)
    assert heard.outcome == "talk"
    minutes = (_block("#" * 20), _block("#" * 250 + WAITS, "lost"))
    (heard,) = _heard(*minutes)
    assert heard.outcome == "talk"


@pytest.mark.parametrize("before", ["." * 20, "." * 20 + "##"], ids=["silence", "a knock"])
def test_a_gap_without_a_voice_costs_nothing(before: str) -> None:
    assert _heard(_block(before), _block(WAITS, "lost")) == []
    (heard,) = _heard(_block(before), _block("." * 20 + "#" * 20 + WAITS, "lost"))
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


NEWS = Block(stream("."), 30.0, True, -25.0, tuple((20 + 0.1 * n, -25.0) for n in range(100)))
"""Noise while our own voice was to be heard: the listener notices with this block."""


def _told(*blocks: Block) -> list[str]:
    """What a listener tells of a room that was quiet and of these sounds, in order."""
    quiet = [Block(stream("."), 0.1 * n, False, -60.0) for n in range(200)]
    source = _Blocks(*quiet, *blocks)
    told: list[str] = []
    listener = Listener(
        source,
        lambda: Ears(_Counting(), _taken, Endpointer(Loud())),
        lambda _turn, utterance: told.append(utterance.outcome),
        lambda _: None,
        lambda loud: told.append("too loud" if loud else "quiet"),
    )
    listener.arm(1, everything(Scale()))
    with listener:
        assert source.over.wait(LONGEST_S)
    return told


def _later(pattern: str, at_s: float) -> Block:
    return Block(stream(pattern), at_s, False, -25.0)


def test_a_call_is_heard_to_its_end_before_the_noise_is_told() -> None:
    speaks = replace(NEWS, samples=stream("#" * 20), gap=False)
    assert _told(speaks, _later("#" * 20, 31.0), _later(WAITS, 32.0)) == ["accept", "too loud"]


def test_talk_without_an_end_does_not_keep_the_noise_from_being_told() -> None:
    speaks = replace(NEWS, samples=stream("#" * 20), gap=False)
    assert _told(speaks, *(_later("#" * 40, 31.0 + n) for n in range(9))) == ["too loud"]


def test_a_call_goes_on_while_the_same_is_listened_for_once_more() -> None:
    """News of a device or the noise asks nothing new: the turn stays, and the call with it."""
    found: queue.SimpleQueue[Utterance] = queue.SimpleQueue()
    source = _Blocks(_block("#" * 20))
    listener = Listener(
        source,
        lambda: Ears(_Counting(), _taken, Endpointer(Loud())),
        lambda _turn, utterance: found.put(utterance),
        lambda _: None,
    )
    listener.arm(1, everything(Scale()))
    with listener:
        assert source.over.wait(LONGEST_S)
        listener.arm(1, everything(Scale()))
        for block in (_block("#" * 20), _block(WAITS)):
            source.over.clear()
            assert source.over.wait(LONGEST_S)
            source.put(block)
        heard = found.get(timeout=LONGEST_S)
    assert np.count_nonzero(heard.samples) == np.count_nonzero(stream("#" * 40))


@pytest.mark.parametrize("broken", [False, True])
def test_sound_that_is_missing_between_two_presses_of_the_talk_key(broken: bool) -> None:
    found: queue.SimpleQueue[Utterance] = queue.SimpleQueue()
    source = _Blocks()
    listener = Listener(
        source,
        lambda: Ears(_Counting(), _taken, Endpointer(Loud())),
        lambda _turn, utterance: found.put(utterance),
        lambda _: None,
    )

    def through() -> None:
        for _ in range(2):
            source.over.clear()
            assert source.over.wait(LONGEST_S)

    listener.arm(1, everything(Scale()))
    with listener:
        through()
        listener.push_to_talk()
        through()
        # What is missing before the first sound is our own voice, which the key cut off.
        for before in ("voice", "lost" if broken else ""):
            source.put(_block("#" * 20, before))
        through()
        listener.push_to_talk()
        heard = found.get(timeout=LONGEST_S)
    assert heard.outcome == ("reject" if broken else "accept")
