"""Listening in the background: microphone blocks through the ears, utterances out.

The ears and the recogniser live in this one thread; what to listen for is handed in.
"""

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from types import TracebackType
from typing import Protocol

import numpy as np
import numpy.typing as npt

from assistant.devices.ears.hearing import Decoded, Ears, Utterance
from assistant.devices.ears.noise_watch import NoiseWatch
from assistant.devices.sound.microphone import LONGEST_QUEUE, RATE, Block
from assistant.devices.watch import Stint
from assistant.dialogue.messages import TURNED_DOWN
from grammar.offer import Offer

LONGEST_TALK_S = 6.0
"""A talk key that is never pressed again is let go after this."""

START_S = 90.0
"""How long a recogniser may take to start: a large model comes from a slow disk."""

ANSWER_S = 30.0
"""How long it may take for one block, or to get ready for what it is armed with: that is a
second for what was not listened for before, but a busy computer needs ten times that."""

MOST_HANGING = 3
"""Recognisers that hang are left behind with their threads; as long as so many do, none is made."""

AGAIN_S = 1.0
"""After a recogniser has failed, another one is made no sooner than this."""

REMEMBERED = 16
"""Utterances of which it may still be told whether they were meant."""

WAIT_S = 0.1
"""How long a block is waited for; a new offer takes effect within this time."""

Samples = npt.NDArray[np.int16]

HeardIn = Callable[[int, Utterance], None]
"""Told an utterance and the turn that was listening when it began."""


class BlockSource(Protocol):
    """Where blocks come from: a microphone, or a recording in its place."""

    def read(self, timeout_s: float) -> Block | None:
        """The next block, or None when none came in time."""


class Listener:
    """Feeds blocks to the ears on a thread of its own.

    ``make_ears`` is called in that thread, because a recogniser belongs to one thread; a
    recogniser that fails or hangs is replaced, and ``fault`` is told the reason, then None
    when it works again. ``too_loud`` is told when the room becomes so, and when it no longer is.
    All are called from the thread. ``check`` is for another thread, now and then: it gives a
    recogniser up that does not return.
    """

    def __init__(
        self,
        source: BlockSource,
        make_ears: Callable[[], Ears],
        heard: HeardIn,
        fault: Callable[[str | None], None],
        too_loud: Callable[[bool], None] | None = None,
    ) -> None:
        self._source = source
        self._make_ears = make_ears
        self._heard = heard
        self._fault = fault
        self._too_loud = too_loud
        self._noise = NoiseWatch()
        self._news: tuple[bool, float] | None = None
        """Whether the room became too loud, and when; to be told."""
        self._end = threading.Event()
        self._lock = threading.Lock()
        self._wanted: tuple[int, Offer] | None = None
        self._proofs: list[tuple[int, bool]] = []
        self._presses = 0
        self._number = 0
        self._hanging = 0
        self._listens = True
        self._failed = False
        self._stint = Stint()
        self._thread = self._new_thread()

    def _new_thread(self) -> threading.Thread:
        work = _Work(self._number)
        return threading.Thread(target=self._run, args=(work,), name="listener", daemon=True)

    def __enter__(self) -> "Listener":
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._end.set()
        self._thread.join(3.0)

    def arm(self, turn: int, offer: Offer) -> None:
        """From the next block on, listen for this; an utterance that is open is dropped.

        Not where the same is listened for already: news in between changes nothing of a call.
        """
        with self._lock:
            self._wanted = (turn, offer)

    def told(self, turns: Sequence[int], *, meant: bool) -> None:
        """What was heard in these turns was meant, or was not: it is learnt from or forgotten."""
        with self._lock:
            self._proofs += [(turn, meant) for turn in turns]

    @property
    def noise_db(self) -> float:
        """The room's level over the last seconds, in dB of full scale."""
        return self._noise.noise_db

    def push_to_talk(self) -> None:
        """The talk key: from now to its next press is one utterance, whatever the noise.

        A press that is not followed by another ends by itself after ``LONGEST_TALK_S``.
        """
        with self._lock:
            self._presses += 1

    def check(self) -> None:
        """Give a recogniser up that does not return, and begin with another."""
        if self._end.is_set():
            return
        if self._stint.overdue():
            with self._lock:
                self._number += 1
                self._hanging += 1
                self._stint = Stint()
            self._listens = False
            if not self._failed:
                self._failed = True
                self._fault("it does not answer")
        if not self._listens and self._hanging <= MOST_HANGING:
            self._listens = True
            self._thread = self._new_thread()
            self._thread.start()

    def _mine(self, work: "_Work") -> bool:
        """Whether this thread is still the one that listens."""
        return work.number == self._number and not self._end.is_set()

    def _run(self, work: "_Work") -> None:
        self._work(work)
        with self._lock:
            # One that was given up has returned at last.
            self._hanging -= work.number != self._number

    def _work(self, work: "_Work") -> None:
        while self._mine(work):
            stint = self._stint
            try:
                with stint.within(START_S):
                    ears = self._make_ears()
                if not self._mine(work):
                    return
                work.armed = None
                if self._failed:
                    self._drain()
                    self._failed = False
                    self._fault(None)
                self._listen(work, ears, stint)
            except Exception as error:  # noqa: BLE001 - hearing must never end without a word
                # One recogniser is lost, not the job: say so once and make another.
                if self._mine(work) and not self._failed:
                    self._failed = True
                    self._fault(str(error) or type(error).__name__)
                self._end.wait(AGAIN_S)

    def _drain(self) -> None:
        """What was said while nobody listened belongs to questions that may be over."""
        for _ in range(LONGEST_QUEUE):
            if self._source.read(0.0) is None:
                return

    def _listen(self, work: "_Work", ears: Ears, stint: Stint) -> None:
        while self._mine(work):
            with self._lock:
                wanted, presses, self._presses = self._wanted, self._presses, 0
                proofs, self._proofs = self._proofs, []
            work.learn(ears, proofs)
            if wanted is not None and wanted is not work.armed:
                if wanted != work.armed:
                    with stint.within(ANSWER_S):
                        ears.arm(wanted[1])
                        ears.discard()
                work.armed = wanted
                work.heard.pop(wanted[0], None)
            block = self._source.read(WAIT_S)
            with stint.within(ANSWER_S):
                heard = self._hear(work, ears, block, presses)
            if self._mine(work) and work.armed is not None:
                for utterance in heard:
                    work.remember(work.armed[0], utterance)
                    self._heard(work.armed[0], utterance)
            self._tell_noise(work, ears, block)

    def _hear(
        self, work: "_Work", ears: Ears, block: Block | None, presses: int
    ) -> list[Utterance]:
        """What ended in this block or by the talk key."""
        said = self._talk_key(work, ears) if presses % 2 else []
        if block is None or work.armed is None:
            return said
        if work.talk is not None:
            if block.gap and work.talk:
                work.broken = True
            work.talk.append(block.samples)
            long = sum(map(len, work.talk)) > LONGEST_TALK_S * RATE
            return self._talk_key(work, ears) if long else said
        if block.lost:
            ears.break_off()
        elif block.gap:
            ears.discard()
        self._watch_noise(block)
        found = ears.feed(block.samples)
        for utterance in found:
            if utterance.outcome == "accept":
                self._noise.spoke(utterance.snr_db)
        return [*said, *found]

    def _watch_noise(self, block: Block) -> None:
        meanwhile = self._noise.under_voice(block.unheard)
        now = self._noise.feed(block.level_db, block.at_s)
        news = meanwhile if now is None else now
        if news is not None:
            self._news = (news, block.at_s)

    def _tell_noise(self, work: "_Work", ears: Ears, block: Block | None) -> None:
        """Once nobody speaks: to be told of the noise would cut a call off."""
        if self._news is None or self._too_loud is None or block is None:
            return
        too_loud, since_s = self._news
        waited = block.at_s - since_s > ears.endpointer.rule.longest_s
        if waited or not (ears.speaking or work.talk is not None):
            self._news = None
            self._too_loud(too_loud)

    @staticmethod
    def _talk_key(work: "_Work", ears: Ears) -> list[Utterance]:
        ears.discard()
        if work.talk is None:
            work.talk, work.broken = [], False
            return []
        said, work.talk = work.talk, None
        if not said or work.armed is None:
            return []
        return [ears.whole(np.concatenate(said), broken=work.broken)]


@dataclass(slots=True)
class _Work:
    """One thread's listening: what it is armed with, and the sound since the talk key.

    ``number``: how many threads were given up before it. ``heard``: the last utterances by the
    turns in which they were heard. ``broken``: sound is missing since the talk key.
    """

    number: int
    armed: tuple[int, Offer] | None = None
    talk: list[Samples] | None = None
    broken: bool = False
    heard: dict[int, Decoded] = field(default_factory=dict)

    def remember(self, turn: int, utterance: Utterance) -> None:
        """Keep what an utterance told, without its sound."""
        if utterance.outcome not in TURNED_DOWN:
            # Of several calls in a turn the first is taken; the others come too late.
            self.heard.setdefault(turn, utterance.decoded)
        if len(self.heard) > REMEMBERED:
            del self.heard[next(iter(self.heard))]

    def learn(self, ears: Ears, proofs: Sequence[tuple[int, bool]]) -> None:
        """Tell the recogniser what turned out to be meant, and what did not."""
        for turn, meant in proofs:
            decoded = self.heard.get(turn)
            if decoded is not None:
                (ears.recogniser.confirm if meant else ears.recogniser.unlearn)(decoded)
