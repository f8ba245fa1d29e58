"""Is it for us, and is the number safe: two logistic regressions on the evidence."""

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Literal, NamedTuple

from assistant.devices.ears.hearing import Decoded, Limits
from assistant.devices.ears.neural.evidence import (
    Candidate,
    Evidence,
    elsewhere,
    is_bare_station,
    said_alike,
)
from assistant.devices.ears.verify import PAIR_DOUBT
from grammar.meaning import Command, Hypothesis, OffScale, Reading
from grammar.numerals import PAIRS
from grammar.offer import Offer
from grammar.parse import parse

TALK_WEIGHTS = (
    6.47, 0.857, 0.942, 0.244, -0.239, 1.12, -1.64, 3.44, 0.304, 0.288, -0.349, -0.511,
    -0.31, -2.91, -0.342, 0.434, -2.32,
)  # fmt: skip
VALUE_WEIGHTS = (
    0.447, 0.777, 0.0327, 0.367, 0.624, -0.0174, 0.288, 0.148, 0.431, 0.0604, -0.842,
    -0.488, -6.46, -0.483, 0.192, -1.83, 0.0925, 1.57,
)  # fmt: skip
"""Weights of ``talk_features`` and ``value_features``, the constant first.

What ``tests.benchmarks.hearing_fit`` printed for 4,747 utterances of 117 people (Speech Commands
v0.02, CMU AN4, Free Spoken Digit Dataset: single words, digits, talk; no full calls) and 21
synthetic voices (four of flite, eight of espeak-ng, some hardly to be understood, nine of Kokoro
that sound like people), each recording in quiet and in one of eighteen conditions: fan, motor, taps
and babble at 6 to 20 dB, rooms, a telephone's band, low level, clipping. The sentences of 1,895 of
them were compared at all paces, of the others at their own, and of none without their habit; none
was heard through the adapter. A fit of 5,900 utterances (120 people, 42 synthetic voices) with all
of that did no better: of people whom neither had heard it turned down 3.2 % of the calls, not 2.3,
and asked about 10.7 % of their talk, not 11.7.
"""

ADAPTED_WORD_WEIGHTS = (
    4.72, 2.34, 1.24, 0.186, 0.369, -2.93, -1.04, 0.0, 3.08, 0.116, 0.0522, -1.82, 0.432, -4.8,
    -0.484, 1.37, -1.52,
)  # fmt: skip
"""``TALK_WEIGHTS`` of a single word, or a number alone, that was heard through the adapter, which
makes the model surer of words and of talk alike.

What the same command printed for 1,415 such utterances of the same people: each recording in quiet
and in two of the eighteen conditions, by an adapter that was fitted on other people alone and took
a sound for spoilt from 0 nats.
"""

KNOWN_WORD_WEIGHTS = (
    -0.261, 1.03, 0.872, 0.112, -0.687, -2.52, 0.0, 0.0, 0.745, -0.0253, 0.0984, -1.45, 1.12, -4.26,
    0.00726, 0.678, -0.392, 6.95, -1.55, 2.41, 0.17,
)  # fmt: skip
KNOWN_VALUE_WEIGHTS = (
    2.42, 0.394, -0.361, 1.4, 0.229, 0.0978, 0.0, 1.71, 0.0, 0.103, -2.55, 1.62, -4.06, 1.49, -1.23,
    0.566, 0.151, 0.827, 6.15, 1.29, 0.133,
)  # fmt: skip
"""Weights of ``known_word_features`` and ``known_value_features``.

What the same command printed for 2,330 such utterances: people as above, noise without a voice, and
what eight synthetic voices say of single words and talk (``hearing_voices --voices fit --seed 7``),
each recording in quiet and in two of the eighteen conditions. Of people who took part in neither
fit, and of noise, 4 of 672 pieces of talk were accepted and 21 asked, 5 and 22 without the sounds;
of 726 commands 660 were accepted right and 46 asked, 647 and 61 without; of 555 bare numbers 481
were asked right, 472 without. All at ``WORD_LIMITS`` as they stand: the fit would set them
stricter, and what is asked then would cost more.
"""

CALL = 0.15
"""Less likely ours than this is talk.

Of 230 pieces of talk and prose that were heard in six phases and turned down 2 % were likelier
ours, of calls hardly to be understood 42 of 108 (``tests.benchmarks.chatter``).
"""

LIMITS = Limits(ours=0.934, right=0.946, ask=0.374, call=CALL)
WORD_LIMITS = Limits(ours=0.964, right=0.991, ask=0.609, call=CALL)
"""How sure a sentence must be, and how sure a single word: talk is mostly taken for those.

Of the same fit: see ``tests.benchmarks.hearing_limits`` for what a mistake is worth. Judged by
weights and limits of other voices: of people's talk, half of it single words, 0.2 % was accepted
and 3 % asked in quiet, 0.6 and 4 % in noise; of their commands 95 % were accepted right and 4 %
asked in quiet, 85 and 10 % in noise; of the synthetic voices' signed calls 78 and 18 % in
quiet, 59 and 29 % in noise; accepted wrong 1 of 724.
"""

Sort = Literal["sentence", "word", "adapted word", "known word"]


class Gate(NamedTuple):
    """What is looked at, and how much each figure counts; ``name``: of the weights, as fitted."""

    name: str
    features: Callable[[Evidence], tuple[float, ...]]
    weights: Sequence[float]


class Gates(NamedTuple):
    """Is it for us; is it right."""

    talk: Gate
    value: Gate


LEAST_MARGIN = 2.0
"""Nats before the next meaning, at the pace at which they are fewest, below which it is asked.

Of 975 calls that were understood and sure, this asks about seven, of synthetic voices all.
"""

UNWRITTEN_MARGIN = 4.0
"""The same for a reading that the model by itself would not write: "minus zero" of a six that it
writes as "circle". It asks about 21 of 250 calls of people and voices like theirs, in quiet and in
noise, and about both of those that were taken for another number.
"""

LONGER_MARGIN = 8.0
"""Nats within which a longer call that begins alike makes it doubtful; this asks about two."""

ELSEWHERE_MARGIN = 6.0
"""A station out of turn is accepted only this far, in nats, before what else it may be."""


EVERYDAY_WORDS = """
the be of and a in that have i it not on with he as you do at this but his by from they we say her
she or an will my all would there their what so up out if about who get which go me when make can
like time just him take into year your good some could them see other than then now look only come
its over think also our work first well way even want because any these give day us off down here
why how oh hi hello thanks sorry please forward
"""
"""Words of every day, from memory, that are none of ours and do not sound the same as one."""

EVERYDAY = frozenset(EVERYDAY_WORDS.split())

SYLLABLE_S, EDGES_S = 0.2, 0.15
"""How long a syllable of a call usually takes, and the edges of a voice beside them."""


def length_features(evidence: Evidence) -> tuple[float, ...]:
    """Whether the voice is as long as the sentence, and the free text has no more words."""
    best = evidence.best
    longer = math.log((evidence.loudness.span_s + 0.05) / usual_s(best.words))
    longer = min(max(longer, -1.0), 1.5)
    more = len(evidence.free.split()) - len(best.words.split())
    return (
        longer,
        max(0.0, longer - 0.3),
        max(0.0, -longer - 0.3),
        float(min(max(more, -3), 3)),
        float(more > 0),
    )


def usual_s(words: str) -> float:
    """How long these words usually take, in seconds."""
    return SYLLABLE_S * syllables(words) + EDGES_S


def syllables(words: str) -> int:
    """How many syllables these words have, roughly; figures are one each.

    >>> [syllables(words) for words in ("nine", "front minus eleven", "zeroed", "settle", "6.5")]
    [1, 6, 2, 2, 3]
    """
    return sum(map(_syllables, words.split()))


def _syllables(word: str) -> int:
    if not word[0].isalpha():
        return len(word)
    groups = len(re.findall(r"[aeiou]+|(?<!^)y", word))
    silent = re.search(r"[^aeiouyl]e$|[aeiou]le$", word) is not None
    return max(1, groups - silent)


def talk_features(evidence: Evidence) -> tuple[float, ...]:
    """What tells a call from talk."""
    best = evidence.best
    same = evidence.is_written
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
        *length_features(evidence),
        float(evidence.free in EVERYDAY),
    )


def known_word_features(evidence: Evidence) -> tuple[float, ...]:
    """What tells a word whose sound is known from talk."""
    return (*talk_features(evidence), *_sound_features(evidence), float(evidence.spoilt))


def known_value_features(evidence: Evidence) -> tuple[float, ...]:
    """What tells whether it is that word, if it is one."""
    return (*value_features(evidence), *_sound_features(evidence))


def _sound_features(evidence: Evidence) -> tuple[float, ...]:
    """How much it sounds like this word, how much more than like another, and like any."""
    sounds, word = evidence.likeness, evidence.best.words
    another = max((each for other, each in sounds.items() if other != word), default=0.0)
    return (sounds[word], sounds[word] - another, sum(sounds.values()))


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
        float(evidence.is_written),
        min(evidence.loudness.snr_db, 40.0) / 10,
        float(len(best.words.split()) == 1),
        max(best.score, -16.0) / 4,
        float(min(len(best.words.split()), 5)),
        min(max(evidence.least, -8.0), 9.0),
        *length_features(evidence),
        *_station_features(evidence),
    )


def _station_features(evidence: Evidence) -> tuple[float, ...]:
    """Whether a station that was said may be missing: a sign comes first, and something else
    would rather be written."""
    meaning = evidence.best.meaning
    alone = isinstance(meaning, Reading | OffScale) and meaning.signed and not meaning.station
    return (
        float(alone),
        alone * min(max(evidence.ratio, -10.0), 3.0),
        float(alone and not evidence.is_written),
    )


_TALK = Gate("TALK", talk_features, TALK_WEIGHTS)
_VALUE = Gate("VALUE", value_features, VALUE_WEIGHTS)

GATES: dict[Sort, Gates] = {
    "sentence": Gates(_TALK, _VALUE),
    "word": Gates(_TALK, _VALUE),
    "adapted word": Gates(Gate("ADAPTED_WORD", talk_features, ADAPTED_WORD_WEIGHTS), _VALUE),
    "known word": Gates(
        Gate("KNOWN_WORD", known_word_features, KNOWN_WORD_WEIGHTS),
        Gate("KNOWN_VALUE", known_value_features, KNOWN_VALUE_WEIGHTS),
    ),
}


def gates_of(evidence: Evidence) -> Gates:
    """Which gates it passes."""
    return GATES[sort_of(evidence)]


LEFT_OUT_NATS = 8.0
"""What is further behind the best is not an alternative: nobody should be asked about it."""


def judged(
    evidence: Evidence,
    offer: Offer,
    talk: Sequence[float] | None = None,
    value: Sequence[float] | None = None,
) -> Decoded:
    """The decoded utterance, with meanings and confidences, by these weights if they are given."""
    evidence = on_the_dial(evidence, offer)
    best = evidence.best
    limits = WORD_LIMITS if is_word(evidence) else LIMITS
    gates = gates_of(evidence)
    ours = _logistic(talk or gates.talk.weights, gates.talk.features(evidence))
    right = _logistic(value or gates.value.weights, gates.value.features(evidence))
    if isinstance(best.meaning, Command) and is_bare_station(evidence):
        return Decoded((), evidence.free, 0.0, limits=limits)
    if is_doubtful(evidence, offer):
        right = min(right, PAIR_DOUBT)
    rivals = [c for c in evidence.candidates[1:] if c.fair > best.fair - LEFT_OUT_NATS]
    shares = [math.exp(min(0.0, one.fair - best.fair)) for one in rivals]
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


def sort_of(evidence: Evidence) -> Sort:
    """Of which sort it is, which decides what it is judged by."""
    if not is_word(evidence):
        return "sentence"
    if evidence.best.words in evidence.likeness:
        return "known word"
    return "adapted word" if evidence.spoilt else "word"


def is_doubtful(evidence: Evidence, offer: Offer) -> bool:
    """Tell whether it is asked, however sure the weights are."""
    return (
        evidence.least < (LEAST_MARGIN if _writes_the_same(evidence) else UNWRITTEN_MARGIN)
        or runner_up_is_pair(evidence, offer)
        or may_be_longer(evidence)
        or (elsewhere(evidence.best.meaning, offer) and evidence.margin < ELSEWHERE_MARGIN)
    )


def _writes_the_same(evidence: Evidence) -> bool:
    """Whether the model would write what is taken, which matters for readings alone."""
    return evidence.is_written or not isinstance(evidence.best.meaning, Reading)


def may_be_longer(evidence: Evidence) -> bool:
    """Tell whether it may be the beginning of a longer number: "minus three" of "three eight"."""
    best = evidence.best
    return any(
        one.words.startswith(f"{best.words} ")
        and one.fair > best.fair - LONGER_MARGIN
        and not said_alike(one.meaning, best.meaning)
        for one in evidence.candidates[1:]
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
            near = other.fair > best.fair - ELSEWHERE_MARGIN
            if near and not isinstance(other.meaning, OffScale) and is_pair(best, other, offer):
                rest = [one for one in others if one is not other]
                return replace(evidence, candidates=(other, best, *rest))
    return evidence


def is_word(evidence: Evidence) -> bool:
    """Tell whether it is a single word, or a number without anything before it."""
    best = evidence.best
    if isinstance(best.meaning, Reading | OffScale) and not best.meaning.signed:
        return best.meaning.station is None
    return len(best.words.split()) == 1


def _logistic(weights: Sequence[float], features: Sequence[float]) -> float:
    total = sum(weight * feature for weight, feature in zip(weights, features, strict=True))
    return 1 / (1 + math.exp(-max(min(total, 50.0), -50.0)))
