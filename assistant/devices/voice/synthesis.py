"""Text to speech: words in, samples out, nothing played.

What is said, and when, is the dialogue's business; how the speech library is held is in
``speech_engine``. Here are the cache, the time limit and the queue before the one engine
that a process may have.
"""

import queue
import re
import threading
from collections import OrderedDict
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future
from dataclasses import dataclass
from itertools import count

import numpy as np
import numpy.typing as npt

from assistant.devices.faults import DeviceFault
from assistant.devices.voice.speech_engine import Speech, SpeechEngine, VoiceSettings, open_engine

Samples = npt.NDArray[np.int16]

START_LIMIT_S = 15.0
"""Longest wait for the engine to start: a cold disk needs a second or two."""

SYNTHESIS_LIMIT_S = 10.0
"""Longest wait for one sentence. The longest take the neural voice 0.6 s of processor, five times
that on a slow computer, and there may be others at work: more means that it hangs."""

CACHE_S = 240.0
"""Speech kept for another time, in seconds: about 10 MB at 22,050 samples per second."""

PAUSE_S = 0.2
"""Silence between two sentences, beside what each has around it."""

BREATH = 40
"""Characters that are spoken in one breath; what is longer is parted at its commas.

That many take 50 MB for a moment, and are heard after a tenth of a second.
"""

_NOW, _LATER = 0, 1


@dataclass(slots=True)
class _Order:
    """One text to be spoken into samples."""

    text: str
    settings: VoiceSettings
    kept: Callable[[], Speech | None]
    answer: "Future[Speech]"


class _Worker:
    """The one thread that owns the one engine of this process.

    It is a daemon, so that a library that hangs cannot keep the program from ending.
    """

    def __init__(self, open_: Callable[[], SpeechEngine]) -> None:
        self._open = open_
        self._orders: queue.PriorityQueue[tuple[int, int, _Order]] = queue.PriorityQueue()
        self._number = count()
        self._ready: Future[None] = Future()
        threading.Thread(target=self._run, name="voice", daemon=True).start()

    def wait_until_ready(self, limit_s: float) -> None:
        try:
            self._ready.result(limit_s)
        except TimeoutError as error:
            raise DeviceFault(
                "voice", "the speech library does not start", "prompts are printed only"
            ) from error

    def put(self, urgency: int, order: _Order) -> None:
        self._orders.put((urgency, next(self._number), order))

    def _run(self) -> None:
        try:
            engine = self._open()
        except Exception as error:  # noqa: BLE001 - handed over to whoever waits for it
            self._ready.set_exception(error)
            return
        self._ready.set_result(None)
        while True:
            _, _, order = self._orders.get()
            try:
                # An urgent order may have overtaken one for the same text.
                speech = order.kept() or engine.synthesise(order.text, order.settings)
            except Exception as error:  # noqa: BLE001 - handed over to whoever asked
                order.answer.set_exception(error)
            else:
                order.answer.set_result(speech)


_worker: _Worker | None = None
_worker_lock = threading.Lock()


def start_engine() -> None:
    """Begin to load this process's engine, in the background; returns at once.

    Nothing need follow: a ``Voice`` made later waits for it, and is told what is wrong with it.
    """
    _begun_worker()


def _begun_worker() -> _Worker:
    global _worker
    with _worker_lock:
        if _worker is None:
            _worker = _Worker(open_engine)
        return _worker


def _shared_worker() -> _Worker:
    """The worker of this process; a start that failed is tried again."""
    global _worker
    worker = _begun_worker()
    try:
        worker.wait_until_ready(START_LIMIT_S)
    except DeviceFault:
        with _worker_lock:
            if _worker is worker:
                _worker = None
        raise
    return worker


class Voice:
    """Speaks texts into samples, at once for those that were spoken before.

    May be used from any thread. ``settings`` may be replaced at any time: what is asked for
    after that is spoken by them. ``engine`` replaces the speech library, for tests; without
    it every ``Voice`` of the process shares one. Raises ``DeviceFault`` when there is no
    speech library or no such voice.
    """

    def __init__(
        self,
        settings: VoiceSettings | None = None,
        *,
        engine: SpeechEngine | None = None,
        limit_s: float = SYNTHESIS_LIMIT_S,
    ) -> None:
        self.settings = settings or VoiceSettings()
        self._limit_s = limit_s
        self._late: Future[Speech] | None = None
        self._kept: OrderedDict[tuple[VoiceSettings, str], Speech] = OrderedDict()
        self._kept_s = 0.0
        self._lock = threading.Lock()
        if engine is None:
            self._worker = _shared_worker()
        else:
            given = engine
            self._worker = _Worker(lambda: given)
        # A wrong voice or a damaged library shows now, not in the middle of a job.
        self.synthesise("zero")

    def synthesise(self, text: str) -> tuple[Samples, int]:
        """Speak a text: int16 mono samples (read-only) and their rate in Hz.

        Silence before and after is cut short. A text without anything to say gives no
        samples. Raises ``DeviceFault`` when the library fails or does not answer in time, and
        at once as long as it still owes that answer; after that the next call tries again.
        """
        parts = list(self.sentence_by_sentence(text))
        if not parts:
            return np.zeros(0, np.int16), 16_000
        samples = parts[0][0] if len(parts) == 1 else np.concatenate([part for part, _ in parts])
        samples.setflags(write=False)
        return samples, parts[0][1]

    def sentence_by_sentence(self, text: str) -> Iterator[tuple[Samples, int]]:
        """The same in parts, each ready when it is asked for: the first can be heard meanwhile.

        Most of a prompt has been spoken before, so its sentences are kept singly.
        """
        for number, sentence in enumerate(sentences(text)):
            speech = self._sentence(sentence)
            pause = np.zeros(round(PAUSE_S * speech.rate) if number else 0, np.int16)
            yield np.concatenate([pause, speech.samples]) if number else speech.samples, speech.rate

    @property
    def owes(self) -> bool:
        """Whether an answer that was waited for in vain has not come yet."""
        return self._late is not None and not self._late.done()

    def when_answered(self, do: Callable[[], None]) -> None:
        """Do this, on any thread, when what is owed has come; nothing where that fails too."""
        if self._late is not None:
            self._late.add_done_callback(lambda late: None if late.exception() else do())

    def prepare(self, texts: Iterable[str]) -> None:
        """Speak texts ahead of time, behind whatever is urgent; returns at once."""
        for sentence in dict.fromkeys(each for text in texts for each in sentences(text)):
            with self._lock:
                known = (self.settings, sentence) in self._kept
            if not known:
                self._order(sentence, _LATER)

    def is_prepared(self, text: str) -> bool:
        """Tell whether a text would be spoken without synthesis."""
        with self._lock:
            return all((self.settings, each) in self._kept for each in sentences(text))

    def _sentence(self, sentence: str) -> Speech:
        known = self._known((self.settings, sentence))
        if known is not None:
            return known
        if self.owes:
            # It hangs: waited for once, not again at every prompt.
            raise self._silent()
        return self._wait_for(self._order(sentence, _NOW))

    def _known(self, key: tuple[VoiceSettings, str]) -> Speech | None:
        with self._lock:
            kept = self._kept.get(key)
            if kept is not None:
                self._kept.move_to_end(key)
            return kept

    def _order(self, text: str, urgency: int) -> "Future[Speech]":
        answer: Future[Speech] = Future()
        key = (self.settings, text)
        # Kept even when it comes too late for whoever waited.
        answer.add_done_callback(lambda done: self._keep(key, done))
        self._worker.put(urgency, _Order(text, key[0], lambda: self._known(key), answer))
        return answer

    def _wait_for(self, answer: "Future[Speech]") -> Speech:
        try:
            return answer.result(self._limit_s)
        except TimeoutError as error:
            self._late = answer
            raise self._silent() from error
        except DeviceFault:
            raise
        except Exception as error:  # whatever the library raises, prompts are printed yet
            raise DeviceFault(
                "voice", str(error) or type(error).__name__, "prompts are printed only"
            ) from error

    def _silent(self) -> DeviceFault:
        return DeviceFault(
            "voice",
            f"the speech library gave nothing for {self._limit_s:g} s",
            "prompts are printed only; start the program again if it stays silent",
        )

    def _keep(self, key: tuple[VoiceSettings, str], done: "Future[Speech]") -> None:
        if done.exception() is not None:
            return
        speech = done.result()
        with self._lock:
            if key in self._kept:
                return
            self._kept[key] = speech
            self._kept_s += speech.duration_s
            while self._kept_s > CACHE_S and len(self._kept) > 1:
                _, oldest = self._kept.popitem(last=False)
                self._kept_s -= oldest.duration_s


def sentences(text: str) -> list[str]:
    """The sentences of a text, clean; numbers are spoken as words, so a point ends one.

    A long list is spoken in breaths, ended at its commas: what a sentence takes of memory and
    time before it is heard grows with its length.

    >>> sentences("Right plus two.  Front?")
    ['Right plus two.', 'Front?']
    """
    whole = clean(text)
    found = re.split(r"(?<=[.?!]) ", whole) if whole else []
    return [breath for sentence in found for breath in _breaths(sentence)]


def _breaths(sentence: str) -> Iterator[str]:
    """The sentence, or parts of it that end with a comma and are not much longer than a breath."""
    breath = ""
    for part in re.split(r"(?<=,) ", sentence):
        if breath and len(breath) + len(part) > BREATH:
            yield breath
            breath = part
        else:
            breath = f"{breath} {part}".strip()
    yield breath


def clean(text: str) -> str:
    """A text on one line, without control characters.

    A zero character would end the text for a C library, and a blank one makes pyttsx3
    repeat the text before.
    """
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())
