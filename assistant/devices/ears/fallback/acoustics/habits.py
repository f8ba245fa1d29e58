"""How sure the ears usually are of a person's words: what is usual for them is no doubt.

A word that somebody says in their own way is heard with the same doubt every time. Each call
that turned out to be meant is an example of how sure the ears are of that person and of that
word; the next one is weighed against those instead of against everybody's. If ``z`` is the log
odds that an utterance is ours, it becomes::

    z + log N(z; what is usual for this person and word) - log N(z; what is usual for anybody)

because the sounds that are not ours stay what they were. What is usual is the best linear
unbiased prediction of a random effects model: an effect of the person, one of the word in their
mouth, and a rest (G. K. Robinson, Statistical Science 6, 1991, pages 15 to 32).
"""

from dataclasses import dataclass

import numpy as np

USUAL, USUAL_ALONE = 7.0, 4.0
"""Mean log odds of calls by anybody, and of those of a single word ..."""

PERSON, WORD = 1.2, 1.2
"""... the standard deviations of the effects of a person and of a sentence in their mouth ..."""

REST, REST_ALONE = 2.4, 0.8
"""... and of the rest, of sentences, which are long and many, and of a single word."""

MOST = 2.75
"""What is known of a person moves the log odds no further than this."""

REMEMBERED = 40
"""Calls that are looked back on: somebody else may take over."""

KEPT = 12
"""Calls that are kept from one job to the next."""

CERTAIN = 12.0
"""Log odds beyond this are this."""


@dataclass(frozen=True, slots=True)
class Habits:
    """What the calls of one person came to: words and log odds of each, the last at the end."""

    calls: tuple[tuple[str, float], ...] = ()

    def after(self, words: str, ours: float) -> "Habits":
        """With one more call that was meant; ``ours``: its chance before anything was known."""
        return Habits((*self.calls, (words, _log_odds(ours)))[-REMEMBERED:])

    def for_another_time(self) -> "Habits":
        """The last calls alone: it may be somebody else who begins."""
        return Habits(self.calls[-KEPT:])

    def as_plain(self) -> list[list[object]]:
        """What ``habits_from`` takes."""
        return [[words, odds] for words, odds in self.calls]

    def weighed(self, words: str, ours: float) -> float:
        """The chance that these words are ours, from that of anybody's."""
        if not self.calls:
            return ours
        odds = _log_odds(ours)
        seen = np.array([known - _usual(said) for said, known in self.calls])
        rest = np.array([_rest(said) for said, _ in self.calls])
        said = np.array([said for said, _ in self.calls])
        spread = PERSON**2 + WORD**2 * (said[:, None] == said) + np.diag(rest**2)
        shared = PERSON**2 + WORD**2 * (said == words)
        weights = np.linalg.solve(spread, shared)
        anybody = PERSON**2 + WORD**2 + _rest(words) ** 2
        theirs = anybody - float(shared @ weights)
        usual = _usual(words)
        # So far below what is usual, doubt would grow with clarity.
        mean = max(usual + float(weights @ seen), usual - anybody)
        # To be heard better than usual is no doubt.
        at = min(odds, mean)
        moved = _log_normal(at, mean, theirs) - _log_normal(at, usual, anybody)
        odds += float(np.clip(moved, -MOST, MOST))
        return float(1 / (1 + np.exp(-odds)))


def habits_from(plain: object) -> Habits:
    """Back from ``as_plain``. Raises ``ValueError`` for anything else."""
    calls: list[tuple[str, float]] = []
    for call in plain if isinstance(plain, list) else [plain]:
        match call:
            case [str(words), float(odds)] if abs(odds) <= CERTAIN:
                calls.append((words, odds))
            case _:
                raise ValueError("calls are not words with their log odds")
    return Habits(tuple(calls[-REMEMBERED:]))


def _usual(words: str) -> float:
    return USUAL if " " in words else USUAL_ALONE


def _rest(words: str) -> float:
    return REST if " " in words else REST_ALONE


def _log_odds(chance: float) -> float:
    inside = np.clip(chance, 1e-6, 1 - 1e-6)
    return float(np.clip(np.log(inside / (1 - inside)), -CERTAIN, CERTAIN))


def _log_normal(value: float, mean: float, variance: float) -> float:
    return float(-0.5 * (value - mean) ** 2 / variance - 0.5 * np.log(variance))
