"""What the model writes by habit: how likely a text is to it when nothing is heard.

An encoder-decoder model has learnt a language model along with the sounds: "No." comes easily to
it, "Skip." does not, whatever was said. That part is read off by giving it silence, and partly
taken away from what it makes of a sound, after Z. Meng et al., "Internal Language Model Estimation
for Domain-Adaptive End-to-End Speech Recognition" (IEEE SLT 2021), where the sound's part is set
to zero instead.
"""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from assistant.devices.ears.neural.tokens import BEGIN, END
from assistant.devices.ears.neural.transducer import Transducer

SILENCE = 8_000
"""Samples of digital silence, half a second at 16 kHz."""

MOST_TEXTS = 4096
"""Texts whose habit is kept; the one not asked for longest goes first."""


class Habit:
    """The internal language model. The end of a text is left out: silence ends at once."""

    def __init__(self, model: Transducer) -> None:
        self._model = model
        self._silence = model.encode(np.zeros(SILENCE, np.float32))
        # One by one: what else is in a batch changes the rounding, and would be remembered.
        self._of = lru_cache(maxsize=MOST_TEXTS)(self._unheard)

    def of(self, texts: Sequence[tuple[int, ...]]) -> list[float]:
        """The log probability of each text, in tokens, when nothing is heard."""
        return [self._of(text) for text in texts]

    def _unheard(self, text: tuple[int, ...]) -> float:
        return self._model.unended(self._silence, BEGIN, END, text)
