"""Listening in the background: microphone blocks through the ears, utterances out.

The ears and the recogniser live in this one thread; what to listen for is handed in.
"""

import threading
from collections.abc import Callable
from types import TracebackType
from typing import Protocol

import numpy as np
import numpy.typing as npt

from assistant.devices.ears import Ears, Utterance
from assistant.devices.faults import DeviceFault
from assistant.devices.microphone import RATE, Block
from assistant.devices.noise_watch import NoiseWatch
from grammar.offer import Offer

LONGEST_TALK_S = 6.0
"""A talk key that is never pressed again is let go after this."""

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
    recogniser that fails is made anew, and ``fault`` is told the reason, then None when it
    works again. ``too_loud`` is told when the room becomes so, and when it no longer is.
    All are called from the thread.
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
        self._end = threading.Event()
        self._lock = threading.Lock()
        self._wanted: tuple[int, Offer] | None = None
        self._armed: tuple[int, Offer] | None = None
        self._presses = 0
        self._talk: list[Samples] | None = None
        self._thread = threading.Thread(target=self._run, name="listener", daemon=True)

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
        """From the next block on, listen for this; an utterance that is open is dropped."""
        with self._lock:
            self._wanted = (turn, offer)

    def push_to_talk(self) -> None:
        """The talk key: from now to its next press is one utterance, whatever the noise.

        A press that is not followed by another ends by itself after ``LONGEST_TALK_S``.
        """
        with self._lock:
            self._presses += 1

    def _run(self) -> None:
        failed = False
        while not self._end.is_set():
            try:
                ears = self._make_ears()
                self._armed = None
                if failed:
                    self._fault(None)
                    failed = False
                self._listen(ears)
            except (DeviceFault, ValueError, RuntimeError) as error:
                # One recogniser is lost, not the job: say so once and make another.
                if not failed:
                    self._fault(str(error))
                failed = True
                self._end.wait(1.0)

    def _listen(self, ears: Ears) -> None:
        while not self._end.is_set():
            with self._lock:
                wanted, presses, self._presses = self._wanted, self._presses, 0
            if wanted is not None and wanted is not self._armed:
                ears.arm(wanted[1])
                ears.discard()
                self._armed = wanted
            block = self._source.read(WAIT_S)
            if presses % 2:
                self._talk_key(ears)
            if block is None or self._armed is None:
                continue
            if self._talk is not None:
                self._talk.append(block.samples)
                if sum(map(len, self._talk)) > LONGEST_TALK_S * RATE:
                    self._talk_key(ears)
                continue
            if block.gap:
                ears.discard()
            self._watch_noise(block)
            for utterance in ears.feed(block.samples):
                if utterance.outcome == "accept":
                    self._noise.spoke(utterance.snr_db)
                self._heard(self._armed[0], utterance)

    def _watch_noise(self, block: Block) -> None:
        news = self._noise.feed(block.level_db, block.at_s)
        if news is not None and self._too_loud is not None:
            self._too_loud(news)

    def _talk_key(self, ears: Ears) -> None:
        ears.discard()
        if self._talk is None:
            self._talk = []
            return
        said, self._talk = self._talk, None
        if said and self._armed is not None:
            self._heard(self._armed[0], ears.whole(np.concatenate(said)))
