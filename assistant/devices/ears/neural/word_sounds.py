"""How much a word said alone sounds like each that many people said: an opinion without language.

The decoder writes what is likely to be said as much as what is heard: "right" of an eight, "three"
of a tree. This looks at the encoder's vectors alone, with one linear regression for each word
against all else that people said, other words and talk alike. That a call is checked by a model
taught to tell it from what it is not, beside the one that found it: M. G. Rahim, C.-H. Lee, B.-H.
Juang, "Discriminative utterance verification for connected digits recognition", IEEE Trans. Speech
and Audio Processing 5 (1997) 266, from memory. Fitted by ``tests.benchmarks.hearing_fit --write``.
"""

from importlib import resources

import numpy as np
import numpy.typing as npt

FILE = "word_sounds.npz"

PARTS = 4
"""Equal parts of the voice that are looked at, one after the other."""

BEFORE, AFTER = 6, 12
"""Frames of 24 ms that are left out: of those before the voice, and of the silence after it."""

Floats = npt.NDArray[np.float32]


class WordSounds:
    """The fitted words; those that come with the program if not given.

    ``weights``: from what ``profile`` gives, a column for each word.
    """

    def __init__(self, words: tuple[str, ...] = (), weights: Floats | None = None) -> None:
        if weights is None:
            with resources.files(__package__).joinpath(FILE).open("rb") as stream:
                stored = np.load(stream)
                words = tuple(map(str, stored["words"]))
                weights = stored["weights"].astype(np.float32)
        self.words, self.weights = words, weights

    def likeness(self, profile: Floats) -> dict[str, float]:
        """Of each word how much it sounds like this, about 0 (not) to 1 (it is)."""
        found = profile @ self.weights
        return dict(zip(self.words, map(float, found), strict=True))


def profile(vectors: Floats) -> Floats:
    """Of a sound's vectors: a constant, the means of its parts and how all of them vary."""
    voice = vectors[BEFORE : max(len(vectors) - AFTER, BEFORE + PARTS)]
    parts = [part.mean(axis=0) for part in np.array_split(voice, PARTS)]
    return np.concatenate([np.ones(1, np.float32), *parts, voice.std(axis=0)])
