"""What is taken from the package PocketSphinx: model folder, dictionary, commonness of words.

Its search is not used. Nothing here knows offers.
"""

from collections.abc import Iterable
from heapq import nlargest
from pathlib import Path

import pocketsphinx

from assistant.devices.ears.model_faults import RecogniserError
from grammar.vocabulary import PRONUNCIATIONS

_DICTIONARY = "en-us/cmudict-en-us.dict"


def model_folder() -> str:
    """Where the packaged acoustic model of American English stands."""
    return str(pocketsphinx.get_model_path("en-us/en-us"))


class Dictionary:
    """How words are pronounced, after the library's dictionary and the project's own additions."""

    def __init__(self) -> None:
        try:
            self._decoder = pocketsphinx.Decoder(
                hmm=model_folder(),
                dict=pocketsphinx.get_model_path(_DICTIONARY),
                lm=None,
                loglevel="FATAL",
            )
        except RuntimeError as error:
            raise RecogniserError(
                "the PocketSphinx model cannot be loaded; install the package pocketsphinx again"
            ) from error

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
        """Every known pronunciation of a word; none when it is unknown."""
        found: list[str] = []
        entry = self._decoder.lookup_word(word)
        while entry is not None:
            found.append(str(entry))
            entry = self._decoder.lookup_word(f"{word}({len(found) + 1})")
        return found


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
