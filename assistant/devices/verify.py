"""Accept, ask or reject: the judgement on an utterance.

Two gates, as two questions: is it for us (speech against talk, radio, knocks and motors),
and is the number safe (the best sentence against the others that it may have been)? Both
are logistic regressions on measures of the search; below stand the weights.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from assistant.devices.acoustics.evidence import Evidence, Measures
from assistant.devices.ears import Decoded, Outcome
from assistant.devices.endpoint import Cut
from grammar.meaning import Hypothesis, Meaning, Reading, Unclear
from grammar.offer import Offer
from grammar.parse import parse

OURS_WEIGHTS = (-13.8, 2.21, 1.29, -9.01, 2.28, 0.953, -1.43, 2.09, -0.229, 0.225, 2.3, 2.6)
RIGHT_WEIGHTS = (-1.54, 0.438, 1.44, -0.027, 0.037, -0.592)

ACCEPT = 0.9
ASK = 0.12

RIVAL_SCALE = 15.0
"""Nats in which a rival becomes less likely by a factor e; frames are not independent."""

FURTHEST = 150.0
"""A margin beyond this says no more than this one."""


@dataclass(frozen=True, slots=True)
class Judged:
    """A sentence, what it means and its score in nats."""

    words: str
    meaning: Meaning
    score: float


def meanings(evidence: Evidence, offer: Offer) -> list[Judged]:
    """The sentences that were found, best first, those of one meaning joined."""
    found: list[Judged] = []
    for candidate in (evidence.best, *evidence.rivals):
        meaning = parse(candidate.words, offer.scale)
        known = any(meaning == other.meaning for other in found)
        if not known and not isinstance(meaning, Unclear) and offer.allows(meaning):
            found.append(Judged(candidate.words, meaning, candidate.score))
    return found


def ours_features(found: Sequence[Judged], measures: Measures) -> tuple[float, ...]:
    """What the first gate looks at; what kind of sentence it is counts as well."""
    best = found[0].meaning
    reading = isinstance(best, Reading)
    return (
        1.0,
        measures.fit,
        measures.worst,
        measures.outside,
        measures.slowest,
        measures.fastest,
        float(np.log(measures.words)),
        float(np.log(measures.phones)),
        measures.contrast_db / 10,
        _closeness(found),
        0.0 if reading else 1.0,
        1.0 if isinstance(best, Reading) and best.signed else 0.0,
    )


def right_features(found: Sequence[Judged], measures: Measures) -> tuple[float, ...]:
    """What the second gate looks at: the margin, and how many rivals are near."""
    return (
        1.0,
        _closeness(found),
        measures.fit,
        measures.contrast_db / 10,
        float(np.log(measures.frames)),
        float(_shares(found).sum()),
    )


def _closeness(found: Sequence[Judged]) -> float:
    """The square root of the margin to the next meaning, in nats."""
    margin = found[0].score - found[1].score if len(found) > 1 else FURTHEST
    return float(np.sqrt(np.clip(margin, 0.0, FURTHEST)))


def _shares(found: Sequence[Judged]) -> npt.NDArray[np.float64]:
    behind = np.array([found[0].score - other.score for other in found[1:]])
    return np.exp(-behind / RIVAL_SCALE)


def judged(found: Sequence[Judged], words: str, measures: Measures) -> Decoded:
    """The decoded utterance: ``found`` best first, each of another meaning."""
    if not found:
        return Decoded((), words, 0.0)
    right = _logistic(RIGHT_WEIGHTS, right_features(found, measures))
    shares = _shares(found)
    shares *= (1 - right) / max(float(shares.sum()), 1.0)
    # A rival is never shown as likelier than the winner, however doubtful that is.
    confidences = [right, *np.minimum(shares, right).tolist()]
    return Decoded(
        tuple(
            Hypothesis(one.words, one.meaning, confidence)
            for one, confidence in zip(found, confidences, strict=True)
        ),
        words,
        _logistic(OURS_WEIGHTS, ours_features(found, measures)),
    )


def _logistic(weights: Sequence[float], features: Sequence[float]) -> float:
    return float(1 / (1 + np.exp(-np.dot(weights, features))))


def judge(decoded: Decoded, cut: Cut) -> Outcome:
    """What is done with this utterance."""
    if not decoded.hypotheses or cut.overlong or decoded.ours < ASK:
        return "reject"
    best = decoded.hypotheses[0]
    match best.meaning:
        case Unclear():
            return "reject"
        case Reading(signed=signed, doubtful_unit=doubtful) if not signed or doubtful:
            return "ask"
        case _:
            return "accept" if decoded.ours * best.confidence >= ACCEPT else "ask"
