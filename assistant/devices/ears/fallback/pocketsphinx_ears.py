"""The recogniser that comes with the program: PocketSphinx's model of American English.

One utterance against one offer: the search is ``acoustics``' business, what is done with
the outcome is ``gates``'; here sentences get their meaning.
"""

from collections import OrderedDict
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from assistant.devices.ears.fallback.acoustics.evidence import Prepared, Searcher, shipped_prior
from assistant.devices.ears.fallback.acoustics.model_files import ModelFileError, read_model
from assistant.devices.ears.fallback.acoustics.person import Lesson, Person
from assistant.devices.ears.fallback.gates import judged
from assistant.devices.ears.fallback.other_words import double_words, talk_words
from assistant.devices.ears.fallback.pocketsphinx_library import Dictionary, model_folder
from assistant.devices.ears.hearing import Decoded
from assistant.devices.ears.model_faults import RecogniserError
from grammar.offer import Offer
from grammar.sentences import sentences, words_of

Samples = npt.NDArray[np.int16]

SHORTEST = 1600
"""Samples below which nothing is searched: a tenth of a second holds no word."""

MOST_OFFERS = 16
"""Offers that are kept ready, about 3 MB each; the one not used for longest goes first."""

__all__ = ["PocketSphinx", "RecogniserError"]


def listening(dictionary: Dictionary) -> Searcher:
    """The search with all that comes with the program. Raises ``ModelFileError``."""
    return Searcher(
        read_model(model_folder()), *shipped_prior(), talk_words(dictionary), double_words()
    )


def prepared(search: Searcher, dictionary: Dictionary, offer: Offer) -> Prepared:
    """An offer, ready to be searched. Raises ``RecogniserError`` for a word without sounds."""
    root = sentences(offer)
    words = words_of(root)
    dictionary.teach(words)
    sounds = {word: [way.split() for way in dictionary.sounds(word)] for word in words}
    return search.prepare(root, sounds)


@dataclass(frozen=True, slots=True)
class _Told:
    """What an utterance tells of its person; ``ours``: its chance as if it were anybody's."""

    lesson: Lesson
    words: str
    ours: float


@dataclass(slots=True)
class _Call:
    """A call of which it may still turn out that it was not meant.

    ``learnt``, ``meant``: how often its voice, and how sure it was heard, are counted.
    """

    told: _Told
    learnt: int = 0
    meant: int = 0

    def added_to(self, person: Person) -> Person:
        """The person as known with this call."""
        for _ in range(self.learnt):
            person = person.after(self.told.lesson)
        for _ in range(self.meant):
            person = person.who_said(self.told.words, self.told.ours)
        return person


LATELY = 8
"""Calls that can still be taken back."""


class PocketSphinx:
    """The embedded recogniser. One thread only.

    ``likely``: who is likely to speak first, if anybody is known. Raises ``RecogniserError``
    when the library's model cannot be read.
    """

    name = "pocketsphinx"

    def __init__(self, likely: Person | None = None) -> None:
        self._dictionary = Dictionary()
        try:
            self._listening = listening(self._dictionary)
        except ModelFileError as error:
            raise RecogniserError(str(error)) from error
        self._ready: OrderedDict[Offer, Prepared] = OrderedDict()
        self._offer: Offer | None = None
        self._likely = self._before = likely or Person()
        self._lately: list[_Call] = []
        self.person = self._likely
        """What is known of whoever speaks; it may be read from any thread."""

    def arm(self, offer: Offer) -> None:
        """See ``Recogniser.arm``. Raises ``RecogniserError`` for a word without sounds."""
        if offer not in self._ready:
            self._ready[offer] = prepared(self._listening, self._dictionary, offer)
            if len(self._ready) > MOST_OFFERS:
                self._ready.popitem(last=False)
        self._ready.move_to_end(offer)
        self._offer = offer

    def decode(self, samples: Samples, lead: int = 0) -> Decoded:
        """See ``Recogniser.decode``; the sound before the voice is wanted whole."""
        del lead
        offer = self._offer
        if offer is None:
            raise RecogniserError("the recogniser was not told what to listen for")
        if len(samples) < SHORTEST:
            return Decoded((), "", 0.0)
        evidence = self._listening.hear(self._ready[offer], samples, self.person)
        if evidence is None:
            return Decoded((), "", 0.0)
        plain = judged(evidence, offer)
        words = plain.hypotheses[0].words if plain.hypotheses else plain.words
        ours = self.person.habits.weighed(words, plain.ours)
        return replace(plain, ours=ours, told=_Told(evidence.lesson, words, plain.ours))

    def learn(self, decoded: Decoded) -> None:
        """See ``Recogniser.learn``."""
        call = self._call(decoded)
        if call is not None:
            call.learnt += 1
            self._weigh()

    def confirm(self, decoded: Decoded) -> None:
        """See ``Recogniser.confirm``."""
        call = self._call(decoded)
        if call is not None:
            call.meant += 1
            self._weigh()

    def unlearn(self, decoded: Decoded) -> None:
        """See ``Recogniser.unlearn``; of the last calls only."""
        self._lately = [call for call in self._lately if call.told is not decoded.told]
        self._weigh()

    def forget(self) -> None:
        """See ``Recogniser.forget``."""
        self.person = self._before = self._likely
        self._lately = []

    def _call(self, decoded: Decoded) -> _Call | None:
        """What is kept of an utterance; None for one that tells nothing of its person."""
        told = decoded.told
        if not isinstance(told, _Told):
            return None
        for call in self._lately:
            if call.told is told:
                return call
        self._lately.append(_Call(told))
        if len(self._lately) > LATELY:
            self._before = self._lately.pop(0).added_to(self._before)
        return self._lately[-1]

    def _weigh(self) -> None:
        person = self._before
        for call in self._lately:
            person = call.added_to(person)
        self.person = person
