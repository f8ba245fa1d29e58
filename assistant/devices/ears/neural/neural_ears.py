"""The recogniser that leads: sound and an offer in, meanings and how sure they are out."""

from collections import OrderedDict
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
import soxr  # type: ignore[import-untyped]  # the library ships no type information

from assistant.devices.ears.hearing import Decoded
from assistant.devices.ears.model_faults import RecogniserError
from assistant.devices.ears.neural.adapter import Adapter
from assistant.devices.ears.neural.beam import Text, search, sentences_only
from assistant.devices.ears.neural.evidence import (
    Evidence,
    at_other_paces,
    loudness_of,
    weighed,
)
from assistant.devices.ears.neural.gates import judged, usual_s
from assistant.devices.ears.neural.habit import Habit
from assistant.devices.ears.neural.model_files import AGAIN, read_model_files
from assistant.devices.ears.neural.network import Network
from assistant.devices.ears.neural.tokens import BEGIN, END, Tokens
from assistant.devices.ears.neural.transducer import Encoded, Transducer
from assistant.devices.ears.neural.word_sounds import WordSounds, profile
from assistant.devices.onnx_session import give_memory_back
from grammar.offer import Offer
from grammar.written import as_spoken, beginnings, wide_sentences

RATE = 16_000
BEFORE = RATE // 4
"""Samples kept before the voice: more of the room's noise makes the model less sure."""

AFTER = 3 * RATE // 10
"""Samples of digital silence put after it: the model was taught on sounds that end."""

PACES = (0.93, 1.07)
"""The sound is heard once more this much faster and slower, unless it is clear already.

Of 210 calls of people, in quiet and in noise, the mean of the three took 12 for another one, the
sound at its own pace alone 18. It costs 0.03 s of processor.
"""

CLEAR = 9.0
"""Nats before the next meaning that are clear, where the free text means the same."""

HOPELESS = 0.03
"""What is less likely ours than this is talk at any pace."""

AGAIN_MOST = 4
"""Meanings that are compared at other paces."""

SHORTEST = 1600
"""Samples below which nothing is searched: a tenth of a second holds no word."""

LONG = 3 * RATE
"""Samples from which a sound's memory is given back afterwards: 6 s take 40 MB."""

MOST_OFFERS = 16
"""Offers that are kept ready; the one not used for longest goes first."""

CLEARLY_BEGUN, PERHAPS_BEGUN = 1.0, 1.0
"""Nats by which a station said alone must be likelier than any sentence to be taken for nothing
else; nats by which it may be less likely, and more is waited for all the same."""

BEGUN_S = 0.45
"""Seconds by which a voice is longer than a station usually is, from which there is more in it.

The model may hear "right", a breath, and nothing more. Of 25 calls of people, in quiet and in
noise, that were taken for a station alone so, this asks 13 right and four wrong; of twelve pieces
of talk none.
"""

BEGUN_RATIO = -8.0
"""Nats to the free text at least.

Of 146 first pieces of calls with a pause (96 of synthetic voices, 50 of people) 140 are known as
such by these; of 170 whole calls 4 are taken for one, two of them misheard anyway.
"""

Samples = npt.NDArray[np.int16]
Floats = npt.NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class _Ready:
    """What an offer needs: its sentences, and how they may begin before a pause."""

    sentences: Network
    beginnings: Network | None


class Neural:
    """The neural recogniser. One thread only.

    ``folder``: where the model's files are, if not in the installed package. ``adapter``: another
    than the one that comes with the program. Raises ``RecogniserError`` when the files are missing
    or others than those that were measured.
    """

    name = "neural"

    def __init__(self, folder: Path | None = None, adapter: Adapter | None = None) -> None:
        files = read_model_files(folder)
        try:
            self._tokens = Tokens(files.tokens)
        except ValueError as error:
            raise RecogniserError(f"{error}; {AGAIN}") from error
        self._model = Transducer(files)
        self._habit = Habit(self._model)
        self._adapter = adapter or Adapter()
        self._sounds = WordSounds()
        self._ready: OrderedDict[Offer, _Ready] = OrderedDict()
        self._offer: Offer | None = None
        # The first run of a model sets its memory aside: better now than at the first call.
        silence = self._model.encode(np.zeros(RATE // 2, np.float32))
        self._model.next([BEGIN], self._model.first(silence, BEGIN)[1])

    def arm(self, offer: Offer) -> None:
        """See ``Recogniser.arm``."""
        unplaced = _unplaced(offer)
        if unplaced not in self._ready:
            first = beginnings(unplaced)
            self._ready[unplaced] = _Ready(
                Network(wide_sentences(unplaced), self._tokens),
                Network(first, self._tokens) if first else None,
            )
            if len(self._ready) > MOST_OFFERS:
                self._ready.popitem(last=False)
        self._ready.move_to_end(unplaced)
        self._offer = offer

    def decode(self, samples: Samples, lead: int = 0) -> Decoded:
        """See ``Recogniser.decode``."""
        offer, ready = self._armed()
        if len(samples) < SHORTEST or not samples.any():
            return Decoded((), "", 0.0)
        kept = np.asarray(samples[max(0, lead - BEFORE) :] / 32768, np.float32)
        decoded = self._decoded(kept, samples, offer, ready)
        if len(kept) > LONG:
            give_memory_back()
        return decoded

    def _decoded(self, kept: Floats, samples: Samples, offer: Offer, ready: _Ready) -> Decoded:
        encoded = raw = self._encoded(kept)
        if spoilt := self._adapter.is_spoilt(encoded):
            encoded = self._adapter.adapted(encoded)
        found = self._evidence(encoded, samples, spoilt=spoilt)
        if found is not None:
            sounds = profile(raw.vectors[0])
            likeness = self._sounds.likeness(sounds)
            found = replace(found, profile=sounds, likeness=likeness)
        # Whoever says a station and looks at the dial has not finished.
        whole = found is not None and found.is_written
        begun = None if whole else self._beginning(ready, encoded, found)
        if begun and (found is None or begun.score > found.best.score + CLEARLY_BEGUN):
            words = as_spoken(self._tokens.decode(begun.tokens))
            if found is None or not goes_on(found, words):
                return Decoded((), words, 0.0, found, unfinished=True)
        if found is None:
            return Decoded((), "", 0.0)
        decoded = judged(found, offer)
        if decoded.ours > HOPELESS and not (whole and found.margin >= CLEAR):
            found = self._at_other_paces(found, kept)
            decoded = judged(found, offer)
        return replace(decoded, told=found, unfinished=begun is not None)

    def learn(self, decoded: Decoded) -> None:
        """See ``Recogniser.learn``; the model stays as it is."""

    def confirm(self, decoded: Decoded) -> None:
        """See ``Recogniser.confirm``; nothing is kept of a person."""

    def unlearn(self, decoded: Decoded) -> None:
        """See ``Recogniser.unlearn``; there is nothing to unlearn."""

    def forget(self) -> None:
        """See ``Recogniser.forget``; there is nothing to forget."""

    def _armed(self) -> tuple[Offer, _Ready]:
        if self._offer is None:
            raise RecogniserError("the recogniser was not told what to listen for")
        return self._offer, self._ready[_unplaced(self._offer)]

    def _encoded(self, kept: Floats) -> Encoded:
        return self._model.encode(np.concatenate([kept, np.zeros(AFTER, np.float32)]))

    def _at_other_paces(self, found: Evidence, kept: Floats) -> Evidence:
        """What was found, when the same sound is slower and faster too."""
        texts = [one.text.tokens for one in found.candidates[:AGAIN_MOST]]
        runs = []
        for pace in PACES:
            sound = np.asarray(soxr.resample(kept, RATE, RATE * pace), np.float32)
            encoded = self._encoded(sound)
            if found.spoilt:
                encoded = self._adapter.adapted(encoded)
            runs.append(self._model.scores(encoded, BEGIN, END, [*texts, found.free_text]))
        return at_other_paces(found, [[float(score) for score in run] for run in runs])

    def _evidence(self, encoded: Encoded, samples: Samples, *, spoilt: bool) -> Evidence | None:
        offer, ready = self._armed()
        text = search(self._model, encoded, ready.sentences, len(samples) / RATE)
        found = weighed(text, self._tokens, offer, loudness_of(samples), self._habit)
        return None if found is None else replace(found, spoilt=spoilt)

    def _beginning(self, ready: _Ready, encoded: Encoded, found: Evidence | None) -> Text | None:
        """A station or a sign said alone, if that is as likely as any sentence."""
        if ready.beginnings is None:
            return None
        texts = sentences_only(self._model, encoded, ready.beginnings)
        if not texts:
            return None
        free, best = (found.free_score, found.best.score) if found else (0.0, texts[0].score)
        likely = texts[0].score > best - PERHAPS_BEGUN and texts[0].score > free + BEGUN_RATIO
        return texts[0] if likely else None


def goes_on(found: Evidence, begun: str) -> bool:
    """Whether there is more in the sound than these words, and what is likeliest has it."""
    more = found.loudness.span_s > usual_s(begun) + BEGUN_S or found.free.startswith(f"{begun} ")
    return more and found.best.words.startswith(f"{begun} ")


def _unplaced(offer: Offer) -> Offer:
    """The offer whose network it is: which station comes next does not change that."""
    return replace(offer, awaited=None)
