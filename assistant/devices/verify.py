"""Accept, ask or reject: the judgement on an utterance.

Two gates, as two questions: is it for us (speech against talk, radio, knocks and motors),
and is the number safe (the best sentence against the others that it may have been)? Both
are logistic regressions on measures of the search; below stand the weights.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assistant.devices.acoustics.evidence import Measures
from assistant.devices.ears import Decoded, Outcome
from assistant.devices.endpoint import Cut
from grammar.meaning import Hypothesis, Meaning, Reading, Unclear

OURS_WEIGHTS = (-12.68, 2.01, 1.66, -7.45, 1.29, 2.28, -1.20, 2.71, -0.105)
RIGHT_WEIGHTS = (-3.22, 0.602, 1.42, -0.058, 0.131)

ACCEPT = 0.9
ASK = 0.3

RIVAL_SCALE = 15.0
FURTHEST = 150.0


@dataclass(frozen=True, slots=True)
class Judged:
    """A sentence, what it means and its score in nats."""

    words: str
    meaning: Meaning
    score: float


def ours_features(measures: Measures) -> tuple[float, ...]:
    """What the first gate looks at."""
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
    )


def right_features(margin: float, measures: Measures) -> tuple[float, ...]:
    """What the second gate looks at; ``margin`` in nats to the next meaning."""
    near = min(margin, FURTHEST)
    return (
        1.0,
        float(np.sqrt(max(near, 0.0))),
        measures.fit,
        measures.contrast_db / 10,
        float(np.log(measures.frames)),
    )


def judged(found: Sequence[Judged], words: str, measures: Measures) -> Decoded:
    """The decoded utterance: ``found`` best first, each of another meaning."""
    if not found:
        return Decoded((), words, 0.0)
    margin = found[0].score - found[1].score if len(found) > 1 else FURTHEST
    ours = _logistic(OURS_WEIGHTS, ours_features(measures))
    right = _logistic(RIGHT_WEIGHTS, right_features(margin, measures))
    behind = np.array([found[0].score - other.score for other in found[1:]])
    shares = np.exp(-behind / RIVAL_SCALE)
    shares *= (1 - right) / max(float(shares.sum()), 1.0)
    confidences = [right, *shares.tolist()]
    return Decoded(
        tuple(
            Hypothesis(one.words, one.meaning, confidence)
            for one, confidence in zip(found, confidences, strict=True)
        ),
        words,
        ours,
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
