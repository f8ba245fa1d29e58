"""Vosk behind the same protocol as the embedded recogniser.

``VoskDecoder`` is the library behind the checks that it lacks: a model that takes no word
list, a word that it does not know, or a malformed list would end the process or be ignored
in silence. ``Vosk`` gives its words their meaning. Vosk makes a two-word language model of
the list, not a grammar, so the words must still parse as a whole.
"""

import importlib.util
import json
import math
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from assistant.devices.ears.hearing import Decoded
from assistant.devices.ears.model_faults import ModelError, RecogniserError
from assistant.devices.ears.verify import PAIR_DOUBT
from assistant.devices.ears.vosk import model_archive
from grammar.meaning import Hypothesis, Meaning, Reading, Unclear
from grammar.numerals import PAIRS
from grammar.offer import Offer
from grammar.parse import parse
from grammar.phrases import UNKNOWN, phrases

Samples = npt.NDArray[np.int16]

RATE = 16_000
GRAPH = ("graph/HCLr.fst", "graph/Gr.fst")
"""Files of a model that takes a word list; one with a static graph would ignore it."""

ALTERNATIVES = 8
SURE = 0.9
"""Vosk gives 1.0 to many a wrong word; less than this means that it has doubts itself."""

MOST_RIGHT = 0.97
DISAGREED = 0.5
"""How sure at most when its word by word answer is not its likeliest sentence."""

_TRIAL = """
import sys, vosk
vosk.SetLogLevel(-1)
ears = vosk.KaldiRecognizer(vosk.Model(sys.argv[1]), 16000, '["a"]')
ears.AcceptWaveform(bytes(16000))
ears.FinalResult()
"""
TRIAL_S = 120.0


def try_model(folder: Path) -> None:
    """Load a model and hear half a second of silence, in a process of its own.

    The library ends the process for many a damaged file. Raises ``ModelError``.
    """
    if importlib.util.find_spec("vosk") is None:
        raise ModelError("Vosk is not installed; run: pip install vosk")
    missing = [name for name in (*GRAPH, model_archive.NEEDED) if not (folder / name).is_file()]
    if missing:
        raise ModelError(
            f"the Vosk model in {folder} lacks {missing[0]}; use a small model, which takes "
            "a word list: sweepsay model install"
        )
    command = [sys.executable, "-c", _TRIAL, str(folder.absolute())]
    try:
        done = subprocess.run(command, capture_output=True, timeout=TRIAL_S, check=False)
    except subprocess.TimeoutExpired:
        raise ModelError(f"the Vosk model in {folder} takes too long to load") from None
    if done.returncode:
        raise ModelError(
            f"the Vosk model in {folder} is damaged; delete it and run: sweepsay model install"
        )


@dataclass(frozen=True, slots=True)
class WordsHeard:
    """Words of one utterance with Vosk's confidence, 0 to 1, of each."""

    words: tuple[str, ...] = ()
    confidences: tuple[float, ...] = ()

    @property
    def text(self) -> str:
        """The words in one line."""
        return " ".join(self.words)


@dataclass(frozen=True, slots=True)
class Likely:
    """A text of one utterance and its score in nats: only differences mean anything."""

    text: str
    score: float


class VoskDecoder:
    """A model folder, decoding whole utterances with or without a list of phrases.

    Raises ``RecogniserError`` when the library or the model is missing or unfit.
    """

    def __init__(self, folder: str | Path) -> None:
        folder = Path(folder)
        if not folder.is_dir():
            raise RecogniserError(f"no Vosk model in {folder}: sweepsay model install")
        if model_archive.listed(folder):
            if broken := model_archive.damage(folder):
                raise RecogniserError(
                    f"the Vosk model in {folder} is damaged ({broken}): sweepsay model install"
                )
        else:
            try:
                try_model(folder)
            except ModelError as error:
                raise RecogniserError(str(error)) from error
        try:
            import vosk
        except ImportError as error:
            raise RecogniserError("Vosk is not installed; run: pip install vosk") from error
        self._vosk: Any = vosk
        vosk.SetLogLevel(-1)
        try:
            self._model: Any = vosk.Model(str(folder))
        except Exception as error:
            raise RecogniserError(f"the Vosk model in {folder} cannot be loaded") from error

    def knows(self, word: str) -> bool:
        """Tell whether the model has this word."""
        return int(self._model.vosk_model_find_word(word)) >= 0

    def usable(self, listed: Sequence[str]) -> tuple[list[str], list[str]]:
        """The phrases whose words are all known, and the others."""
        known = [text for text in listed if all(self.knows(word) for word in text.split())]
        return known, [text for text in listed if text not in set(known)]

    def decode(self, samples: Samples, listed: Sequence[str] | None = None) -> WordsHeard:
        """The words of one utterance, from these phrases or (None) from all the model knows."""
        recogniser = self._recogniser(listed)
        recogniser.SetWords(True)
        words: list[str] = []
        confidences: list[float] = []
        for part in self._parts(recogniser, samples):
            for word in part.get("result", ()):
                words.append(str(word["word"]))
                confidences.append(float(word["conf"]))
        return WordsHeard(tuple(words), tuple(confidences))

    def alternatives(self, samples: Samples, listed: Sequence[str]) -> list[Likely]:
        """The likeliest texts, best first, the empty one too."""
        recogniser = self._recogniser(listed)
        recogniser.SetMaxAlternatives(ALTERNATIVES)
        whole = [Likely("", 0.0)]
        for part in self._parts(recogniser, samples):
            found = [
                Likely(str(one["text"]).strip(), float(one["confidence"]))
                for one in part.get("alternatives", ())
            ]
            joint = [
                Likely(f"{a.text} {b.text}".strip(), a.score + b.score)
                for a in whole
                for b in found or [Likely("", 0.0)]
            ]
            whole = sorted(joint, key=lambda one: -one.score)[:ALTERNATIVES]
        return whole

    def _recogniser(self, listed: Sequence[str] | None) -> Any:
        if listed is None:
            return self._vosk.KaldiRecognizer(self._model, RATE)
        if not listed:
            raise RecogniserError("the Vosk model knows none of the words to listen for")
        # The library's own reader of JSON does not decode \\u escapes, and a malformed list
        # ends the process.
        return self._vosk.KaldiRecognizer(
            self._model, RATE, json.dumps(list(listed), ensure_ascii=False)
        )

    @staticmethod
    def _parts(recogniser: Any, samples: Samples) -> list[dict[str, Any]]:
        """Its own endpointer may cut the utterance; all parts are kept."""
        parts = []
        data = np.ascontiguousarray(samples, np.int16).tobytes()
        for begin in range(0, len(data), RATE):
            if recogniser.AcceptWaveform(data[begin : begin + RATE]):
                parts.append(json.loads(recogniser.Result()))
        parts.append(json.loads(recogniser.FinalResult()))
        return parts


class Vosk:
    """The engine for a model that the person has installed. One thread only."""

    name = "vosk"

    def __init__(self, folder: str | Path) -> None:
        self._decoder = VoskDecoder(folder)
        self._lists: dict[Offer, list[str]] = {}
        self._offer: Offer | None = None
        self._bin = [UNKNOWN] if self._decoder.knows(UNKNOWN) else []

    def arm(self, offer: Offer) -> None:
        """See ``Recogniser.arm``. Raises ``RecogniserError`` when no phrase is known."""
        if offer not in self._lists:
            known, _ = self._decoder.usable([text for text in phrases(offer) if text != UNKNOWN])
            if not known:
                raise RecogniserError(
                    "the Vosk model knows none of the words to listen for; install an English one"
                )
            self._lists[offer] = known + self._bin
        self._offer = offer

    def unheard(self, offer: Offer) -> list[str]:
        """Phrases of an offer that the model cannot hear."""
        return self._decoder.usable([text for text in phrases(offer) if text != UNKNOWN])[1]

    def decode(self, samples: Samples, lead: int = 0) -> Decoded:
        """See ``Recogniser.decode``.

        Few models have a word for everything else, so the same sound is also decoded with
        all words of the model: what is ours is nearly the same there, talk is not.
        """
        del lead
        offer = self._offer
        if offer is None:
            raise RecogniserError("the recogniser was not told what to listen for")
        listed = self._lists[offer]
        spoken = self._decoder.decode(samples, listed)
        if not spoken.words or UNKNOWN in spoken.words:
            return Decoded((), spoken.text, 0.0)
        free = self._decoder.decode(samples)
        return joined(spoken, self._decoder.alternatives(samples, listed), free, offer)

    def learn(self, decoded: Decoded) -> None:
        """See ``Recogniser.learn``; the library keeps nothing of a person by itself."""

    def confirm(self, decoded: Decoded) -> None:
        """See ``Recogniser.confirm``; nothing is kept either."""

    def unlearn(self, decoded: Decoded) -> None:
        """See ``Recogniser.unlearn``; there is nothing to unlearn."""

    def forget(self) -> None:
        """See ``Recogniser.forget``; there is nothing to forget."""


def joined(spoken: WordsHeard, likely: Sequence[Likely], free: WordsHeard, offer: Offer) -> Decoded:
    """Meanings and confidences; ``likely`` holds at least one text, the best first.

    A meaning is as likely as its texts' share of all, those that are not sentences of the
    offer counted. The rest are cautious guesses, not fitted: a call is only accepted when
    Vosk has no doubt about any word, its two ways of answering agree, no word is half of a
    pair that is easily confused, and most words are heard without the list too.
    """
    top = max(one.score for one in likely)
    weights = [math.exp(one.score - top) for one in likely]
    found: dict[str, tuple[Meaning, float]] = {}
    for one, weight in zip(likely, weights, strict=True):
        meaning = offer.taken(parse(one.text, offer.scale))
        if isinstance(meaning, Unclear) or not offer.allows(meaning):
            continue
        same = (text for text, (other, _) in found.items() if _said(other) == _said(meaning))
        text = next(same, one.text)
        first, before = found.get(text, (meaning, 0.0))
        found[text] = (first, before + weight / sum(weights))
    if not found:
        return Decoded((), spoken.text, 0.0)
    ranked = sorted(found.items(), key=lambda item: -item[1][1])
    best, (meaning, share) = ranked[0]
    right = min(share, MOST_RIGHT)
    sure = min(spoken.confidences, default=0.0)
    if sure < SURE:
        right = min(right, 0.8 * sure)
    if _said(offer.taken(parse(spoken.text, offer.scale))) != _said(meaning):
        right = min(right, DISAGREED)
    if _has_double(best, offer):
        right = min(right, PAIR_DOUBT)
    words = set(best.split())
    shared = len(words & set(free.words)) / len(words)
    return Decoded(
        (
            Hypothesis(best, meaning, right),
            *(Hypothesis(text, other, min(part, right)) for text, (other, part) in ranked[1:]),
        ),
        spoken.text,
        (0.2 + 0.8 * min(1.0, 2 * shared)) * sum(part for _, (_, part) in ranked),
    )


def _said(meaning: Meaning) -> Meaning:
    """A reading is the same whether its usual unit was said or not."""
    return replace(meaning, unit=None) if isinstance(meaning, Reading) else meaning


def _has_double(text: str, offer: Offer) -> bool:
    """Tell whether a teen or a ty of this text could be the other one in this offer."""
    words = text.split()
    for index, word in enumerate(words):
        if word in PAIRS:
            other = " ".join([*words[:index], PAIRS[word], *words[index + 1 :]])
            if offer.allows(parse(other, offer.scale)):
                return True
    return False
