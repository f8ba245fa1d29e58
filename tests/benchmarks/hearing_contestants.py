"""Who is heard side by side: the job's ears, and what the libraries give by themselves."""

import time
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import pocketsphinx

from assistant.devices.ears import Ears, Recogniser
from assistant.devices.endpoint import CHUNK_S, Endpointer
from assistant.devices.model_faults import ModelError
from assistant.devices.model_store import find_model
from assistant.devices.pocketsphinx_ears import PocketSphinx
from assistant.devices.pocketsphinx_library import RecogniserError, SafeDecoder
from assistant.devices.sound_file import RATE, Samples
from assistant.devices.verify import judge
from assistant.devices.voice_activity import CHUNK
from grammar.jsgf import jsgf
from grammar.meaning import Meaning, Unclear
from grammar.offer import Offer
from grammar.parse import parse
from grammar.sentences import sentences, words_of


@dataclass(frozen=True, slots=True)
class Taken:
    """Something that was not turned down: accepted, or asked about."""

    words: str
    meaning: Meaning
    asked: bool


@dataclass(frozen=True, slots=True)
class Take:
    """What is made of one recording. Times are of the processor, in seconds.

    ``decode_s``: of each utterance that was found. ``cpu_s``: of everything. ``ready_s``:
    where in the recording each answer would be ready.
    """

    taken: tuple[Taken, ...]
    decode_s: tuple[float, ...]
    cpu_s: float
    ready_s: tuple[float, ...] = ()


class Contestant(Protocol):
    """Hears a recording against an offer."""

    name: str

    def hear(self, samples: Samples, offer: Offer) -> Take:
        """What is made of it."""


class WholeEars:
    """The job's own way: endpointing, an engine, accept or ask or reject.

    Every recording is a stranger's, or with ``learns`` the same person's until ``forget``.
    """

    def __init__(self, recogniser: Recogniser, name: str, *, learns: bool = False) -> None:
        self.name = name
        self._recogniser = recogniser
        self._learns = learns
        self._known: Ears | None = None

    def forget(self) -> None:
        """The next recording is somebody else's."""
        self._known = None

    def hear(self, samples: Samples, offer: Offer) -> Take:
        """See ``Contestant.hear``; the recording is fed chunk by chunk, as from a microphone."""
        # Arming is done once in a job, so it is not counted here.
        self._recogniser.arm(offer)
        began = time.thread_time()
        ears = self._known or Ears(self._recogniser, judge, Endpointer(), time.thread_time)
        if self._known is not None:
            ears.endpointer = ears.endpointer.fresh()
        self._known = ears if self._learns else None
        ears.arm(offer)
        heard, ready = [], []
        padded = np.concatenate([samples, np.zeros(CHUNK * 12, np.int16)])
        for begin in range(0, len(padded), CHUNK):
            for one in ears.feed(padded[begin : begin + CHUNK]):
                heard.append(one)
                suspected = one.end_s + ears.endpointer.rule.trailing_chunks * CHUNK_S
                decoded = suspected + one.decode_s
                ready.append(max(decoded, (begin + CHUNK) / RATE))
        heard += ears.flush()
        return Take(
            tuple(
                Taken(one.words, one.meaning, one.outcome == "ask")
                for one in heard
                if one.outcome != "reject"
            ),
            tuple(one.decode_s for one in heard),
            time.thread_time() - began,
            tuple(ready),
        )


class LibraryGrammar:
    """The library's own decoder on the same sentences, given the whole recording."""

    name = "library"

    def __init__(self) -> None:
        self._decoder = SafeDecoder()
        self._names: dict[Offer, str] = {}

    def hear(self, samples: Samples, offer: Offer) -> Take:
        """See ``Contestant.hear``."""
        if offer not in self._names:
            name = f"offer{len(self._names)}"
            self._decoder.add_grammar(name, jsgf(offer, name), words_of(sentences(offer)))
            self._names[offer] = name
        self._decoder.activate(self._names[offer])
        return _whole(self._decoder, samples, offer)


class Dictation:
    """The library's own decoder on all its words: what plain dictation gives."""

    name = "dictation"

    def __init__(self) -> None:
        self._decoder = SafeDecoder(
            lm=pocketsphinx.get_model_path("en-us/en-us.lm.bin"), lw=6.5, bestpath=True
        )

    def hear(self, samples: Samples, offer: Offer) -> Take:
        """See ``Contestant.hear``."""
        return _whole(self._decoder, samples, offer)


def _whole(decoder: SafeDecoder, samples: Samples, offer: Offer) -> Take:
    began = time.thread_time()
    words = decoder.run(samples).words
    took = time.thread_time() - began
    meaning = parse(words, offer.scale)
    usable = offer.allows(meaning) and not isinstance(meaning, Unclear)
    return Take((Taken(words, meaning, False),) if usable else (), (took,), took)


def contestants() -> tuple[list[Contestant], str]:
    """Everybody who can be heard here, ours first, and why somebody is missing."""
    found: list[Contestant] = [WholeEars(PocketSphinx(), "ours"), LibraryGrammar(), Dictation()]
    try:
        vosk = _vosk()
    except (ModelError, RecogniserError) as error:
        return found, f"vosk is not heard: {error}"
    return [*found, vosk], ""


def _vosk() -> WholeEars:
    from assistant.devices.vosk_ears import Vosk

    return WholeEars(Vosk(find_model()), "vosk")
