"""Is it for us, and is the number safe: two logistic regressions on the evidence."""

import math
from collections.abc import Sequence

from assistant.devices.ears import Decoded, Limits
from assistant.devices.neural.evidence import Evidence, elsewhere, is_bare_station, said_alike
from assistant.devices.verify import PAIR_DOUBT
from grammar.meaning import Command, Hypothesis
from grammar.numerals import PAIRS
from grammar.offer import Offer
from grammar.parse import parse

TALK_WEIGHTS = (4.27, 1.11, 0.0, 0.41, 0.77, 0.88, -0.84, 2.02, -0.94, 0.04)
VALUE_WEIGHTS = (-0.14, 0.64, -0.14, 0.60, -0.11, 0.26, 0.85)
"""Weights of ``talk_features`` and ``value_features``, the constant first."""

LIMITS = Limits(ours=0.881, right=0.94, ask=0.57)

ELSEWHERE_MARGIN = 6.0
"""A station out of turn is accepted only this far, in nats, before what else it may be."""


def talk_features(evidence: Evidence) -> tuple[float, ...]:
    """What tells a call from talk."""
    best = evidence.best
    same = said_alike(evidence.free_meaning, best.meaning)
    other = not same and evidence_is_ours(evidence)
    words = len(best.words.split())
    return (
        1.0,
        max(best.score, -16.0) / 4,
        max(best.score / best.tokens, -6.0),
        min(max(evidence.ratio, -10.0), 3.0),
        float(same),
        float(other),
        float(words == 1),
        float(words >= 3),
        min(evidence.loudness.span_s / best.tokens, 1.5),
        min(evidence.margin, 6.0),
    )


def evidence_is_ours(evidence: Evidence) -> bool:
    """Whether the free text means something that is listened for."""
    return any(said_alike(one.meaning, evidence.free_meaning) for one in evidence.candidates)


def value_features(evidence: Evidence) -> tuple[float, ...]:
    """What tells a right number from a wrong one."""
    best = evidence.best
    return (
        1.0,
        min(evidence.margin, 9.0),
        min(max(evidence.ratio, -10.0), 3.0),
        max(best.score / best.tokens, -6.0),
        float(said_alike(evidence.free_meaning, best.meaning)),
        min(evidence.loudness.snr_db, 40.0) / 10,
        float(len(best.words.split()) == 1),
    )


def judged(evidence: Evidence, offer: Offer) -> Decoded:
    """The decoded utterance, with meanings and confidences."""
    best = evidence.best
    ours = _logistic(TALK_WEIGHTS, talk_features(evidence))
    right = _logistic(VALUE_WEIGHTS, value_features(evidence))
    if isinstance(best.meaning, Command) and is_bare_station(evidence):
        return Decoded((), evidence.free, 0.0, limits=LIMITS)
    if runner_up_is_pair(evidence, offer) or (
        elsewhere(best.meaning, offer) and evidence.margin < ELSEWHERE_MARGIN
    ):
        right = min(right, PAIR_DOUBT)
    shares = [math.exp(one.score - best.score) for one in evidence.candidates[1:]]
    scale = (1 - right) / max(sum(shares), 1.0)
    # A rival is never shown as likelier than the winner, however doubtful that is.
    sure = [right, *(min(right, share * scale) for share in shares)]
    return Decoded(
        tuple(
            Hypothesis(one.words, one.meaning, confidence)
            for one, confidence in zip(evidence.candidates, sure, strict=True)
        ),
        evidence.free,
        ours,
        limits=LIMITS,
    )


def runner_up_is_pair(evidence: Evidence, offer: Offer) -> bool:
    """Tell whether the next meaning is the same but for a teen in place of its ty."""
    if len(evidence.candidates) < 2:
        return False
    best, other = evidence.candidates[:2]
    words = best.words.split()
    for index, word in enumerate(words):
        if word in PAIRS:
            swapped = " ".join([*words[:index], PAIRS[word], *words[index + 1 :]])
            if said_alike(offer.taken(parse(swapped, offer.scale)), other.meaning):
                return True
    return False


def _logistic(weights: Sequence[float], features: Sequence[float]) -> float:
    total = sum(weight * feature for weight, feature in zip(weights, features, strict=True))
    return 1 / (1 + math.exp(-max(min(total, 50.0), -50.0)))
