"""How sure the ears must be: the limits at which mistakes and questions cost least.

Prices are set against a question about a call that was understood, which costs 1. Nothing else is
chosen by hand. Mistakes are rare, so where the limit falls would hang on single recordings: what
is accepted costs half what it turned out to be and half what the gates themselves expect. A call
that the language always asks about (a number without a sign) and one that is told as off the dial
can only be turned down or not.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from assistant.devices.ears.hearing import Limits

ACCEPTED_WRONG = 30.0
"""A wrong number that is kept, or talk that is taken for a call."""

ASKED_WRONG, ASKED_TALK = 0.6, 3.0
REJECTED_RIGHT, REJECTED_WRONG = 2.5, 1.0

SURE = 1 - np.geomspace(0.4, 0.004, 24)
OURS_TO_ASK = np.geomspace(0.02, 0.9, 40)

Numbers = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Judged:
    """An utterance as the gates see it. ``may``: accepted if sure; else it is only asked.

    ``told``: taken for a number off the dial. ``weight``: how much it counts.
    """

    ours: float
    right: float
    may: bool
    told: bool
    is_talk: bool
    is_right: bool
    weight: float = 1.0


def limits_for(rows: Sequence[Judged]) -> Limits:
    """The limits that cost least over these utterances."""
    ours, right = (np.array([getattr(row, name) for row in rows]) for name in ("ours", "right"))
    may, told, talk, good = (
        np.array([getattr(row, name) for row in rows], bool)
        for name in ("may", "told", "is_talk", "is_right")
    )
    weight = np.array([row.weight for row in rows])
    asked = weight * np.where(talk, ASKED_TALK, np.where(good, 1.0, ASKED_WRONG))
    mistakes = (np.where(good & ~talk, 0.0, 1.0) + 1 - ours * right) / 2
    accepted = weight * ACCEPTED_WRONG * mistakes
    saved = np.where(may, asked - accepted, 0.0)
    gains = {
        (low, sure): float(saved[(ours >= low) & (right >= sure)].sum())
        for low in SURE
        for sure in SURE
    }
    low, sure = max(gains, key=lambda pair: gains[pair])
    # What is accepted or told is not asked; what is turned down is neither.
    kept = np.where(may & (ours >= low) & (right >= sure), 0.0, np.where(told, 0.0, asked))
    lost = weight * np.where(talk, 0.0, np.where(good, REJECTED_RIGHT, REJECTED_WRONG))
    costs = [float(np.where(ours < each, lost, kept).sum()) for each in OURS_TO_ASK]
    ask = float(OURS_TO_ASK[int(np.argmin(costs))])
    return Limits(round(float(low), 3), round(float(sure), 3), round(min(ask, float(low)), 3))
