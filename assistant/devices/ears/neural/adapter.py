"""A sound that was spoilt on its way, as the encoder would have heard it unspoilt.

A room's reverberation, noise and the band of a telephone move the vectors that the encoder makes
of a sound, and most of how they move is the same whoever speaks and whatever is said. A linear map
takes that part back. It was fitted by ``tests.benchmarks.hearing_adapter`` on recordings of which
the encoder heard both, the clean one and what became of it, frame by frame and without a
transcript: the clean one teaches (J. Li, M. L. Seltzer, X. Wang, R. Zhao, Y. Gong, "Large-Scale
Domain Adaptation via Teacher-Student Learning", Interspeech 2017). That only a linear layer is
learnt, and the network stays as it is: J. Neto et al., "Speaker-adaptation for hybrid HMM-ANN
continuous speech recognition system", Eurospeech 1995, for its input; here it is its output.

What sounds clean is left as it is, to the last bit.

The fit heard 909 recordings of people, mostly single words, and 712 of eight synthetic voices
(``hearing_voices --voices fit``), whole calls among them. Of people alone it learns their few
words: of 162 calls of three voices that it had not heard, 56 were then right in a far room and 102
with a fan at 10 dB; of both 80 and 125, without the adapter 79 and 123. Of 220 of 37 people whom it
had not heard, 192 and 206, without it 180 and 203; in quiet and in a telephone's band as many.
"""

from dataclasses import replace
from importlib import resources

import numpy as np
import numpy.typing as npt

from assistant.devices.ears.neural.transducer import Encoded

FILE = "adapter.npz"

SPOILT = 1.0
"""Nats in favour of a sound's being spoilt from which it is adapted.

At 0 two more pieces of people's talk in 277, recorded in quiet, were taken for commands.
"""

Floats = npt.NDArray[np.float32]


class Adapter:
    """The fitted map and what tells a spoilt sound; those that come with the program if not given.

    ``map``: from what ``surroundings`` gives of a frame to what its vector lacks. ``spoilt``:
    weights of a logistic regression on what ``summary`` gives of a sound.
    """

    def __init__(self, weights: Floats | None = None, spoilt: Floats | None = None) -> None:
        if weights is None or spoilt is None:
            with resources.files(__package__).joinpath(FILE).open("rb") as stream:
                stored = np.load(stream)
                weights, spoilt = (stored[name].astype(np.float32) for name in ("map", "spoilt"))
        self._map, self._spoilt = weights, spoilt

    def is_spoilt(self, encoded: Encoded) -> bool:
        """Tell whether a room, noise or a narrow band is heard in this sound."""
        return float(summary(encoded.vectors[0]) @ self._spoilt) > SPOILT

    def adapted(self, encoded: Encoded) -> Encoded:
        """The same sound as if it had not been spoilt."""
        vectors = encoded.vectors[0]
        lacking = surroundings(vectors) @ self._map
        return replace(encoded, vectors=(vectors + lacking)[None])


def surroundings(vectors: Floats) -> Floats:
    """Of each frame: a constant, the frame before it, itself, the one after, and the sound's mean.

    More frames bring next to nothing: the encoder has looked at all of the sound already.
    """
    padded = np.pad(vectors, ((1, 1), (0, 0)), mode="edge")
    mean = np.broadcast_to(vectors.mean(axis=0), vectors.shape)
    constant = np.ones((len(vectors), 1), np.float32)
    return np.hstack([constant, padded[:-2], vectors, padded[2:], mean])


def summary(vectors: Floats) -> Floats:
    """Of a sound: a constant, the means of its vectors and how they vary."""
    return np.concatenate([np.ones(1, np.float32), vectors.mean(axis=0), vectors.std(axis=0)])
