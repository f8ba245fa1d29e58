"""Vosk behind the same protocol as the embedded recogniser.

``VoskDecoder`` is the library behind the checks that it lacks: a model that takes no word
list, a word that it does not know, or a malformed list would end the process or be ignored
in silence. ``Vosk`` gives its words their meaning. Vosk makes a two-word language model of
the list, not a grammar, so the words must still parse as a whole.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from assistant.devices.ears import Decoded
from assistant.devices.pocketsphinx_library import RecogniserError
from grammar.meaning import Hypothesis, Meaning, Unclear
from grammar.offer import Offer
from grammar.parse import parse
from grammar.phrases import UNKNOWN, phrases

Samples = npt.NDArray[np.int16]

RATE = 16_000
GRAPH = ("graph/HCLr.fst", "graph/Gr.fst")
"""Files of a model that takes a word list; one with a static graph would ignore it."""

ALTERNATIVES = 5
SURE = 0.9
"""Vosk gives 1.0 to many a wrong word; less than this means that it has doubts itself."""


@dataclass(frozen=True, slots=True)
class Spoken:
    """Words of one utterance with Vosk's confidence, 0 to 1, of each."""

    words: tuple[str, ...] = ()
    confidences: tuple[float, ...] = ()

    @property
    def text(self) -> str:
        """The words in one line."""
        return " ".join(self.words)


class VoskDecoder:
    """A model folder, decoding whole utterances with or without a list of phrases.

    Raises ``RecogniserError`` when the library or the model is missing or unfit.
    """

    def __init__(self, folder: str | Path) -> None:
        folder = Path(folder)
        if not folder.is_dir():
            raise RecogniserError(
                f"there is no Vosk model in {folder}; get one with: sweepsay model install"
            )
        missing = [name for name in (*GRAPH, "am/final.mdl") if not (folder / name).is_file()]
        if missing:
            raise RecogniserError(
                f"the Vosk model in {folder} lacks {missing[0]}; use a small model, which takes "
                "a word list: sweepsay model install"
            )
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

    def decode(self, samples: Samples, listed: Sequence[str] | None = None) -> Spoken:
        """The words of one utterance, from these phrases or (None) from all the model knows."""
        recogniser = self._recogniser(listed)
        recogniser.SetWords(True)
        words: list[str] = []
        confidences: list[float] = []
        for part in self._parts(recogniser, samples):
            for word in part.get("result", ()):
                words.append(str(word["word"]))
                confidences.append(float(word["conf"]))
        return Spoken(tuple(words), tuple(confidences))

    def alternatives(self, samples: Samples, listed: Sequence[str]) -> list[str]:
        """The likeliest texts, best first."""
        recogniser = self._recogniser(listed)
        recogniser.SetMaxAlternatives(ALTERNATIVES)
        texts: list[str] = []
        for part in self._parts(recogniser, samples):
            found = [str(one["text"]).strip() for one in part.get("alternatives", ())]
            texts = [f"{a} {b}".strip() for a in texts or [""] for b in found or [""]]
        return list(dict.fromkeys(text for text in texts[:25] if text))

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

    def decode(self, samples: Samples) -> Decoded:
        """See ``Recogniser.decode``.

        Few models have a word for everything else, so the same sound is also decoded with
        all words of the model: what is ours is nearly the same there, talk is not.
        """
        offer = self._offer
        if offer is None:
            raise RecogniserError("the recogniser was not told what to listen for")
        listed = self._lists[offer]
        spoken = self._decoder.decode(samples, listed)
        if not spoken.words or UNKNOWN in spoken.words:
            return Decoded((), spoken.text, 0.0)
        free = self._decoder.decode(samples)
        texts = [spoken.text, *self._decoder.alternatives(samples, listed)]
        return joined(spoken, texts, free, offer)


def joined(spoken: Spoken, texts: Sequence[str], free: Spoken, offer: Offer) -> Decoded:
    """Meanings and confidences; ``texts``: the likeliest, ``spoken``'s first.

    The figures are cautious guesses, not fitted: a call is only accepted when Vosk has no
    doubt about any word and most of its words are heard without the list too.
    """
    found: list[tuple[str, Meaning]] = []
    for text in texts:
        meaning = parse(text, offer.scale)
        known = any(meaning == other for _, other in found)
        if not known and not isinstance(meaning, Unclear) and offer.allows(meaning):
            found.append((text, meaning))
    if not found or found[0][0] != spoken.text:
        return Decoded((), spoken.text, 0.0)
    shared = len(set(spoken.words) & set(free.words)) / len(set(spoken.words))
    sure = min(spoken.confidences)
    right = 0.97 if sure >= SURE else 0.8 * sure
    rest = (1 - right) / max(1, len(found) - 1)
    return Decoded(
        tuple(
            Hypothesis(text, meaning, right if index == 0 else rest)
            for index, (text, meaning) in enumerate(found)
        ),
        spoken.text,
        0.2 + 0.8 * min(1.0, 2 * shared),
    )
