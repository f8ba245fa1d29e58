"""Is it for us, and is the number safe: two logistic regressions on the evidence."""

import math
from collections.abc import Sequence
from dataclasses import replace

from assistant.devices.ears import Decoded, Limits
from assistant.devices.neural.evidence import (
    Candidate,
    Evidence,
    elsewhere,
    is_bare_station,
    said_alike,
)
from assistant.devices.verify import PAIR_DOUBT
from grammar.meaning import Command, Hypothesis, OffScale, Reading
from grammar.numerals import PAIRS
from grammar.offer import Offer
from grammar.parse import parse

TALK_WEIGHTS = (6.11, 0.622, 1.15, 0.205, 0.713, 1.7, -2.62, 3.31, 0.536, 0.249, -0.368)
VALUE_WEIGHTS = (0.119, 0.867, -0.235, 0.479, -0.0625, 0.0174, -0.0949, 1.18, 0.712)
"""Weights of ``talk_features`` and ``value_features``, the constant first.

What ``tests.benchmarks.hearing_fit`` printed for 3,532 utterances of 154 people (Speech Commands
v0.02, CMU AN4, Free Spoken Digit Dataset: single words, digits, talk; no full calls) and twelve
synthetic voices (four of flite, eight of espeak-ng, some hardly to be understood), each recording
in quiet and in one of eighteen conditions: fan, motor, taps and babble at 6 to 20 dB, rooms, a
telephone's band, low level, clipping.
"""

CALL = 0.15
"""Less likely ours than this is talk.

Of 230 pieces of talk and prose that were heard in six phases and turned down 2 % were likelier
ours, of calls hardly to be understood 42 of 108 (``tests.benchmarks.chatter``).
"""

LIMITS = Limits(ours=0.73, right=0.9, ask=0.5, call=CALL)
WORD_LIMITS = Limits(ours=0.953, right=0.9, ask=0.646, call=CALL)
"""How sure a sentence must be, and how sure a single word: talk is mostly taken for those.

Judged by weights fitted on other voices: of people's talk, half of it single words, 0.7 % was
accepted and 5 % asked in quiet, the same in noise; of their commands 90 % were accepted right and
8 % asked in quiet, 83 and 10 % in noise; of the synthetic voices' signed calls 84 and 11 %, 62 and
23 % in noise; accepted wrong 1 of 335.
"""

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
        min(evidence.loudness.snr_db, 40.0) / 10,
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
        max(best.score, -16.0) / 4,
        float(min(len(best.words.split()), 5)),
    )


LEFT_OUT_NATS = 8.0
"""What is further behind the best is no alternative: nobody should be asked about it."""


def judged(
    evidence: Evidence,
    offer: Offer,
    talk: Sequence[float] = TALK_WEIGHTS,
    value: Sequence[float] = VALUE_WEIGHTS,
) -> Decoded:
    """The decoded utterance, with meanings and confidences, by these weights."""
    evidence = on_the_dial(evidence, offer)
    best = evidence.best
    limits = WORD_LIMITS if is_word(evidence) else LIMITS
    ours = _logistic(talk, talk_features(evidence))
    right = _logistic(value, value_features(evidence))
    if isinstance(best.meaning, Command) and is_bare_station(evidence):
        return Decoded((), evidence.free, 0.0, limits=limits)
    if runner_up_is_pair(evidence, offer) or (
        elsewhere(best.meaning, offer) and evidence.margin < ELSEWHERE_MARGIN
    ):
        right = min(right, PAIR_DOUBT)
    rivals = [c for c in evidence.candidates[1:] if c.score > best.score - LEFT_OUT_NATS]
    shares = [math.exp(min(0.0, one.score - best.score)) for one in rivals]
    scale = (1 - right) / max(sum(shares), 1.0)
    # A rival is never shown as likelier than the winner, however doubtful that is.
    sure = [right, *(min(right, share * scale) for share in shares)]
    return Decoded(
        tuple(
            Hypothesis(one.words, one.meaning, confidence)
            for one, confidence in zip((best, *rivals), sure, strict=True)
        ),
        evidence.free,
        ours,
        limits=limits,
    )


def runner_up_is_pair(evidence: Evidence, offer: Offer) -> bool:
    """Tell whether the next meaning is the same but for a teen in place of its ty."""
    if len(evidence.candidates) < 2:
        return False
    best, other = evidence.candidates[:2]
    return is_pair(best, other, offer)


def is_pair(one: Candidate, other: Candidate, offer: Offer) -> bool:
    """Tell whether two differ in a teen in place of its ty, and in nothing else."""
    words = one.words.split()
    for index, word in enumerate(words):
        if word in PAIRS:
            swapped = " ".join([*words[:index], PAIRS[word], *words[index + 1 :]])
            if said_alike(offer.taken(parse(swapped, offer.scale)), other.meaning):
                return True
    return False


def on_the_dial(evidence: Evidence, offer: Offer) -> Evidence:
    """Where the likeliest is off the dial but its teen or ty is on it, that one comes first.

    It is asked then: whoever reads a dial to fifteen says fourteen, however like forty.
    """
    best, *others = evidence.candidates
    if isinstance(best.meaning, OffScale):
        for other in others:
            near = other.score > best.score - ELSEWHERE_MARGIN
            if near and not isinstance(other.meaning, OffScale) and is_pair(best, other, offer):
                rest = [one for one in others if one is not other]
                return replace(evidence, candidates=(other, best, *rest))
    return evidence


def is_word(evidence: Evidence) -> bool:
    """Tell whether it is a single word, or a number without anything before it."""
    meaning = evidence.best.meaning
    if isinstance(meaning, Reading | OffScale):
        return not meaning.signed and meaning.station is None
    return len(evidence.best.words.split()) == 1


def _logistic(weights: Sequence[float], features: Sequence[float]) -> float:
    total = sum(weight * feature for weight, feature in zip(weights, features, strict=True))
    return 1 / (1 + math.exp(-max(min(total, 50.0), -50.0)))
