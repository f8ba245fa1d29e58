"""How well chosen tied states of the acoustic model fit each frame."""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from assistant.devices.ears.fallback.acoustics.model_files import STREAMS, AcousticModel

Floats = npt.NDArray[np.float32]
Ints = npt.NDArray[np.int64]
FeatureStream = npt.NDArray[np.floating]

CLAMP = 96 * float(np.log(1.0001)) * 1024
"""A Gaussian further than this below a frame's best one counts as being there (9.8 nats).

The library does the same with the four best of a codebook; it limits what one bad frame
can do.
"""


class Scorer:
    """Log likelihoods of some tied states, prepared once for a graph."""

    def __init__(self, model: AcousticModel, states: Ints) -> None:
        self.states = states
        # States of one codebook stand side by side while they are scored.
        order = np.argsort(model.codebook[states], kind="stable")
        self._places = np.argsort(order)
        books, first = np.unique(model.codebook[states[order]], return_index=True)
        ends = [*first[1:], len(states)]
        self._parts = [
            (int(book), slice(int(begin), int(end)))
            for book, begin, end in zip(books, first, ends, strict=True)
        ]
        self._weights = [
            [np.ascontiguousarray(model.mixtures[s][:, states[order[at]]]) for _, at in self._parts]
            for s in range(STREAMS)
        ]

    def __call__(self, books: Sequence[Floats]) -> Floats:
        """Frames by states, in nats relative to each frame's best Gaussians.

        ``books``: what ``gaussians`` gave; the scorers of one model share it.
        """
        found = np.zeros((len(books[0]), len(self.states)), np.float32)
        likely = np.empty_like(found)
        for stream, density in enumerate(books):
            for (book, at), weights in zip(self._parts, self._weights[stream], strict=True):
                likely[:, at] = density[:, book] @ weights
            likely += 1e-20
            found += np.log(likely, out=likely)
        return np.take(found, self._places, axis=1)


def gaussians(model: AcousticModel, features: Sequence[FeatureStream]) -> list[Floats]:
    """For each stream (frames, codebooks, 128): densities relative to the frame's best."""
    books: list[Floats] = []
    for stream, values in enumerate(features):
        density = densities(model, stream, values).reshape(len(values), -1)
        density -= density.max(axis=1, keepdims=True)
        np.maximum(density, -CLAMP, out=density)
        np.exp(density, out=density)
        books.append(density.reshape(len(values), len(model.phones), -1))
    return books


def densities(model: AcousticModel, stream: int, values: FeatureStream) -> Floats:
    """Frames by all Gaussians of one stream: their log densities."""
    factors = np.concatenate([values * values, values], axis=1).astype(np.float32)
    found: Floats = factors @ model.gaussians[stream]
    found += model.constants[stream]
    return found


def path_score(model: AcousticModel, features: Sequence[FeatureStream], path: Ints) -> float:
    """The log likelihood of one tied state for each frame, not clamped."""
    total = 0.0
    books = model.codebook[path]
    for stream, values in enumerate(features):
        factors = np.concatenate([values * values, values], axis=1).astype(np.float32)
        for book in np.unique(books):
            at = np.flatnonzero(books == book)
            columns = slice(int(book) * 128, int(book) * 128 + 128)
            density = factors[at] @ model.gaussians[stream][:, columns]
            density += model.constants[stream][columns]
            top = density.max(axis=1)
            weights = model.mixtures[stream][:, path[at]].T
            inside = (np.exp(density - top[:, None]) * weights).sum(axis=1)
            total += float((top + np.log(inside + 1e-20)).sum())
    return total
