"""Fits how each word sounds that many people said alone; ``hearing_fit`` does it before the gates.

One ridge regression for each word: 1 where it was said, 0 where another was, or talk. Standardised,
so that every figure of the profile counts alike.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from assistant.devices.ears.neural import word_sounds
from assistant.devices.ears.neural.word_sounds import WordSounds
from tests.benchmarks.fallback_fit import Columns
from tests.benchmarks.hearing_clips import FOLDS, fold_of

SAID_BY = 10
"""People who must have said a word alone, for it to be known how it sounds."""

STIFFNESS = 20.0
"""Of the ridge. From 10 to 100, and with three to eight parts of the voice, as much is won."""


@dataclass(frozen=True, slots=True)
class Word:
    """A sound that was taken for one word. ``said``: what it was, empty for talk."""

    voice: str
    synthetic: bool
    said: str
    profile: npt.NDArray[np.float32]


def known_words(words: Sequence[Word]) -> tuple[str, ...]:
    """Those that enough people said, in the order of the alphabet."""
    voices = defaultdict[str, set[str]](set)
    for word in words:
        if word.said and not word.synthetic and " " not in word.said:
            voices[word.said].add(word.voice)
    return tuple(sorted(said for said, theirs in voices.items() if len(theirs) >= SAID_BY))


def sounds_of_others(words: Sequence[Word]) -> Iterator[WordSounds]:
    """Of every fold the sounds that none of its voices took part in; then those of all."""
    known = known_words(words)
    # The same words and the same scale for all: neither tells anything of single voices.
    columns = Columns(np.array([word.profile for word in words], np.float64))
    parts = []
    for fold in range(FOLDS):
        theirs = [word for word in words if fold_of(word.voice) == fold]
        heard = np.array([word.profile for word in theirs], np.float64)
        given = columns.scaled(heard.reshape(len(theirs), columns.count))
        wanted = np.array([[float(word.said == one) for one in known] for word in theirs])
        parts.append((given.T @ given, given.T @ wanted.reshape(len(theirs), len(known))))
    for but in (*range(FOLDS), None):
        rest = [part for fold, part in enumerate(parts) if fold != but]
        square, cross = (np.sum(each, axis=0) for each in zip(*rest, strict=True))
        found = np.linalg.solve(square + STIFFNESS * np.eye(len(square)), cross)
        # As they are kept, and therefore judged.
        kept = columns.plain(found).astype(np.float16).astype(np.float32)
        yield WordSounds(known, kept)


def write(sounds: WordSounds) -> str:
    """Put them where the recogniser reads them; a line that says so."""
    kept = Path(word_sounds.__file__).with_name(word_sounds.FILE)
    weights = sounds.weights.astype(np.float16)
    np.savez_compressed(kept, words=np.array(sounds.words), weights=weights)
    return f"{kept}: {', '.join(sounds.words)}; {kept.stat().st_size} bytes\n"
