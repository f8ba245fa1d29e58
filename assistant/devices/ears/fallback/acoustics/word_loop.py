"""What talk scores: common words in any order, against which sentences are measured.

The phone loop says how well any sounds fit; this says how well other words do. Talk is
mostly made of the few words that everybody uses, and so are the words that are mistaken for
commands.
"""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from assistant.devices.ears.fallback.acoustics.model_files import (
    BEGIN,
    END,
    INTERNAL,
    SINGLE,
    AcousticModel,
)

Floats = npt.NDArray[np.float32]
Ints = npt.NDArray[np.int64]

_LANGUAGE = 1.0
_WORD = -6.0
_SILENCE = -5.0
_NEVER = np.float32(-1e30)


class WordLoop:
    """A tree of words from whose leaves one comes back to the root.

    ``words``: pronunciations in phones and the log probability of each. Within a word the
    contexts are exact; at its edges they are silence.
    """

    def __init__(self, model: AcousticModel, words: Sequence[tuple[Sequence[str], float]]) -> None:
        silence = model.silence
        number: dict[tuple[str, ...], int] = {}
        phones: list[int] = []
        parents: list[int] = []
        ends: dict[int, float] = {}
        for sounds, chance in words:
            spelled = [model.number[sound] for sound in sounds]
            parent = -1
            for at, phone in enumerate(spelled):
                last = at == len(spelled) - 1
                key = (*sounds[: at + 1], "" if last else sounds[at + 1])
                if key not in number:
                    left = spelled[at - 1] if at else silence
                    right = silence if last else spelled[at + 1]
                    place = (SINGLE if last else BEGIN) if not at else END if last else INTERNAL
                    number[key] = len(phones)
                    phones.append(model.triphone(phone, left, right, place))
                    parents.append(parent)
                parent = number[key]
            ends[parent] = max(chance, ends.get(parent, -np.inf))
        phones.append(silence)
        parents.append(-1)
        self.states: Ints = model.states[model.sequence[phones]].T
        moves = model.moves[model.transition[phones]]
        self._stay = np.ascontiguousarray(moves[:, (0, 1, 2), (0, 1, 2)].T)
        self._step = np.ascontiguousarray(moves[:, (0, 1), (1, 2)].T)
        self._leave = np.ascontiguousarray(moves[:, 2, 3])
        # The root stands behind the last unit.
        self._parent = np.array([len(phones) if parent < 0 else parent for parent in parents])
        self._begin = np.zeros(len(phones), np.float32)
        self._begin[-1] = _SILENCE
        self._ends = np.array([*ends, len(phones) - 1])
        self._weight = np.array(
            [_LANGUAGE * chance + _WORD for chance in ends.values()] + [0.0], np.float32
        )

    def best(self, scores: Floats, columns: Ints) -> float:
        """The best score of whole words and silence over all frames.

        ``scores``: frames by states; ``columns``: (3, units) places of ``states`` in them.
        """
        units = len(self._leave)
        now = np.full((3, units), _NEVER, np.float32)
        left = np.full(units + 1, _NEVER, np.float32)
        left[units] = 0.0
        for row in scores:
            held = now + self._stay
            np.maximum(held[1:], now[:2] + self._step, out=held[1:])
            np.maximum(held[0], left[self._parent] + self._begin, out=held[0])
            now = held
            now += row[columns]
            left[:units] = now[2]
            left[:units] += self._leave
            left[units] = (left[self._ends] + self._weight).max()
        return float(left[units])
