"""What any speech scores: a free loop of phones, against which sentences are measured."""

import numpy as np
import numpy.typing as npt

from assistant.devices.ears.fallback.acoustics.model_files import AcousticModel

Floats = npt.NDArray[np.float32]
Ints = npt.NDArray[np.int64]

_LANGUAGE = 2.0
_INSERTION = float(np.log(0.3))
"""Weight of the phone pairs and cost of each phone."""


class PhoneLoop:
    """Phones without context, each pair as likely as in the dictionary.

    ``pairs``: (phones, phones) log probabilities of the next phone.
    """

    def __init__(self, model: AcousticModel, pairs: Floats) -> None:
        phones = np.arange(len(model.phones))
        self.states: Ints = model.states[model.sequence[phones]].T  # (3, phones)
        moves = model.moves[model.transition[phones]]
        self._stay = np.ascontiguousarray(moves[:, (0, 1, 2), (0, 1, 2)].T)
        self._step = np.ascontiguousarray(moves[:, (0, 1), (1, 2)].T)
        self._leave = np.ascontiguousarray(moves[:, 2, 3])
        self._pairs = (_LANGUAGE * pairs + _INSERTION).astype(np.float32)
        self._silence = model.silence

    def best(self, scores: Floats) -> Floats:
        """The best score after each number of frames (frames + 1).

        ``scores``: (frames, 3, phones).
        """
        total = np.empty(len(scores) + 1, np.float32)
        total[0] = 0.0
        now = np.full(self._stay.shape, -1e30, np.float32)
        entered = self._pairs[self._silence].copy()
        for frame, emitted in enumerate(scores):
            held = now + self._stay
            np.maximum(held[1:], now[:2] + self._step, out=held[1:])
            np.maximum(held[0], entered, out=held[0])
            now = held + emitted
            leaving = now[2] + self._leave
            entered = (leaving[:, None] + self._pairs).max(axis=0)
            total[frame + 1] = now.max()
        return total
