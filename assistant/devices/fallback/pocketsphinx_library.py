"""PocketSphinx behind the checks that it lacks: its dictionary, model folder and decoder.

What would end the process is guarded here: a search that is not active, a grammar that
names unknown words or rules, blocks of the wrong type. Nothing here knows offers.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from heapq import nlargest
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pocketsphinx

from assistant.devices.model_faults import RecogniserError
from grammar.vocabulary import PRONUNCIATIONS

Samples = npt.NDArray[np.int16]

_DICTIONARY = "en-us/cmudict-en-us.dict"


def model_folder() -> str:
    """Where the packaged acoustic model of American English stands."""
    return str(pocketsphinx.get_model_path("en-us/en-us"))


@dataclass(frozen=True, slots=True)
class Best:
    """The best path: words without fillers, log score (base 1.0001), frames of 10 ms."""

    words: str
    score: int
    frames: int


class SafeDecoder:
    """A decoder of the packaged model behind the checks that the library lacks.

    ``bestpath=False``: with the lattice pass, grammars give sentences that are not complete.
    Asking for the current search, or decoding, without an active one ends the process, so
    the active name is kept here.
    """

    def __init__(self, **options: object) -> None:
        settings: dict[str, object] = {
            "hmm": pocketsphinx.get_model_path("en-us/en-us"),
            "dict": pocketsphinx.get_model_path(_DICTIONARY),
            "lw": 1.0, "bestpath": False, "loglevel": "FATAL",
        }  # fmt: skip
        if "lm" not in options:
            settings["lm"] = None
        try:
            self._decoder = pocketsphinx.Decoder(**(settings | options))
        except RuntimeError as error:
            raise RecogniserError(
                "the PocketSphinx model cannot be loaded; install the package pocketsphinx again"
            ) from error
        self._active = "_default" if "lm" in options else ""
        self._added: set[str] = set()

    def add_grammar(self, name: str, text: str, words: Iterable[str]) -> None:
        """Add a JSGF grammar after checking its words and rules; it is not made active.

        Words that the dictionary lacks get the project's pronunciation. Raises
        ``RecogniserError`` for a word without any, for an undefined rule (the library
        takes it in silence and then hears nothing), or for text that does not compile.
        """
        self.teach(words)
        used = set(re.findall(r"<([^>]+)>", text))
        undefined = used - set(re.findall(r"<([^>]+)> =", text))
        if undefined:
            raise RecogniserError(f"grammar {name} uses rules it lacks: {sorted(undefined)}")
        try:
            self._decoder.add_jsgf_string(name, text)
        except (ValueError, RuntimeError) as error:
            raise RecogniserError(f"grammar {name} cannot be compiled") from error
        self._added.add(name)

    def activate(self, name: str) -> None:
        """Decode with this grammar from now on."""
        if name not in self._added:
            raise RecogniserError(f"there is no grammar {name}")
        if name != self._active:
            self._decoder.activate_search(name)
            self._active = name

    def teach(self, words: Iterable[str]) -> None:
        """Add the project's pronunciations of these words, and check that all are known."""
        for word in sorted(set(words)):
            have = self.sounds(word)
            for sounds in PRONUNCIATIONS.get(word, ()):
                if sounds not in have:
                    variant = word if not have else f"{word}({len(have) + 1})"
                    self._decoder.add_word(variant, sounds, True)
                    have.append(sounds)
            if not have:
                raise RecogniserError(
                    f'the recogniser has no pronunciation of "{word}"; add one to the vocabulary'
                )

    def sounds(self, word: str) -> list[str]:
        """Every pronunciation that the decoder knows of a word; none when it is unknown."""
        found: list[str] = []
        entry = self._decoder.lookup_word(word)
        while entry is not None:
            found.append(str(entry))
            entry = self._decoder.lookup_word(f"{word}({len(found) + 1})")
        return found

    def run(self, samples: Samples) -> Best:
        """Decode one whole utterance.

        ``reinit_feat`` comes first: the model's noise removal keeps its state from utterance
        to utterance, and the same sound would score differently each time.
        """
        if not self._active:
            raise RecogniserError("the recogniser was not told what to listen for")
        decoder = self._decoder
        if len(samples) == 0:
            return Best("", NO_SCORE, 0)
        decoder.reinit_feat()
        decoder.start_utt()
        try:
            decoder.process_raw(np.ascontiguousarray(samples, np.int16).tobytes(), full_utt=True)
        finally:
            decoder.end_utt()
        best = decoder.hyp()
        frames = int(decoder.n_frames())
        if best is None:
            return Best("", NO_SCORE, frames)
        return Best(spoken(best.hypstr), int(decoder.logmath.log(best.score)), frames)


NO_SCORE = -(10**9)
"""The score of no path at all."""


def spoken(text: str) -> str:
    """A hypothesis without fillers and marks of pronunciation variants."""
    return " ".join(re.sub(r"\(\d+\)", "", word) for word in text.split() if word[0] != "<")


def common_words(count: int) -> list[tuple[float, list[list[str]]]]:
    """The commonest words of the library's dictionary by its language model, commonest first.

    Each with its log probability and its pronunciations in phones. Raises ``RecogniserError``
    when the library's files cannot be read.
    """
    try:
        dictionary = Path(pocketsphinx.get_model_path(_DICTIONARY)).read_text(encoding="utf-8")
        logs = pocketsphinx.LogMath()
        model = pocketsphinx.NGramModel(
            pocketsphinx.Config(lm=None, loglevel="FATAL"),
            logs,
            pocketsphinx.get_model_path("en-us/en-us.lm.bin"),
        )
    except (OSError, RuntimeError, ValueError) as error:
        raise RecogniserError(f"the recogniser's language model cannot be read: {error}") from error
    ways: dict[str, list[list[str]]] = {}
    for row in dictionary.splitlines():
        word, *sounds = row.split()
        ways.setdefault(word.split("(")[0], []).append(sounds)
    chances = {word: model.prob([word]) for word in ways if word[0].isalpha()}
    commonest = nlargest(count, chances, key=lambda word: chances[word])
    return [(float(logs.log_to_ln(chances[word])), ways[word]) for word in commonest]
