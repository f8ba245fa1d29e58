"""How sure the embedded recogniser is of an utterance.

Two gates, as two questions: is it for us (speech against talk, radio, knocks and motors),
and is the number safe (the best sentence against the others that it may have been)? Both
are logistic regressions on measures of the search; below stand the weights.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from assistant.devices.ears.fallback.acoustics.evidence import Evidence, Measures
from assistant.devices.ears.hearing import Decoded, Limits
from assistant.devices.ears.verify import PAIR_DOUBT
from grammar.meaning import Hypothesis, Meaning, Reading, Unclear
from grammar.numerals import PAIRS
from grammar.offer import Offer
from grammar.parse import parse

OURS_WEIGHTS = (
    -25.4, 1.57, 0.752, 3.49, 0.538, 0.862, 0.19, 4.37, -0.233, -0.0694, 0.781, 1.64, 0.0278, 0.582,
    -0.929, 2.18, 2.21, 4.16, 0.274,
)  # fmt: skip
WORD_WEIGHTS = (
    -6.36, 0.378, 0.378, -1.77, -1.13, -1.13, 0, 1.79, 0.257, 0.0952, 0, 0, 0.0555, 0.215,
    0.0722, 0.608, -0.642, 3.53, 0.329,
)  # fmt: skip
RIGHT_WEIGHTS = (-0.245, 0.497, 0.394, 0.0619, -0.399, -0.612, 0.289)
"""Weights of ``ours_features``, for sentences and for single words, and of ``right_features``,
the constant first.

What ``tests.benchmarks.fallback_fit`` printed for 1,150 recordings of twelve synthetic
voices (four of flite, one of Pico, the others neural, six with a strong foreign accent), pace,
pitch and tract varied, rooms and microphones of their own; each clean, with fan noise at 20 and
10 dB and with a noise drawn for it, in two offers drawn for each. What is "not ours" is talk by
the same voices, half of it made to sound like our words ("nest", "a firm", "corruption").
"""

OURS = 0.94
"""An utterance is accepted if it is ours with this chance ..."""

RIGHT = 0.82
"""... and, if it is ours, means what it is taken for with this one.

On other sentences at other paces and pitches (400 calls, half of them with a strong foreign
accent, 200 hearings of talk, in quiet and with a fan at 20 and 10 dB, each as a stranger's and
with every sentence on offer): accepted wrong 0.3, 0.5, 0.8 %; of the right signed readings 11, 18,
26 % were asked, of the commands, mostly one word, 23, 29, 43 %; talk accepted 2.5, 2, 1.5 %, only
what was made to sound like a command ("skiff", "how"). One gate for words and sentences alike, and
without a measure of words that sound nearly like ours, asked 19, 22, 28 and 43, 41, 50 % there
for the same talk.
"""

ASK = 0.1
"""Less likely ours than this is turned down.

On those 1 % of the right calls were turned down; a quarter of the talk came as far as a question
in quiet, 29 % at 20 dB and 40 % at 10 dB.
"""

LIMITS = Limits(OURS, RIGHT, ASK)

PAIR_NATS = 100.0
"""A teen or ty whose other could be meant here is asked unless all rivals are this far.

"Thirteen" said as "thirty" was accepted wrong at 44, right ones are mostly beyond 100.
"""

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
        meaning = offer.taken(parse(candidate.words, offer.scale))
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
        measures.over_talk / measures.frames,
        _rooted(measures.sound_over_talk),
        measures.longest,
        measures.shortest,
        measures.unevenness,
        measures.length,
        _rooted(measures.sound_over_doubles),
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
        _rooted(measures.sound_over_talk),
    )


def is_word(found: Sequence[Judged], measures: Measures) -> bool:
    """Tell whether it is a single word and no number: talk sounds like that most easily."""
    return measures.words == 1 and not isinstance(found[0].meaning, Reading)


def _rooted(nats: float) -> float:
    """A distance that counts less the larger it is."""
    return float(np.sign(nats) * np.sqrt(abs(nats) / 10))


def _closeness(found: Sequence[Judged]) -> float:
    """The square root of the margin to the next meaning, in nats."""
    margin = found[0].score - found[1].score if len(found) > 1 else FURTHEST
    return float(np.sqrt(np.clip(margin, 0.0, FURTHEST)))


def _shares(found: Sequence[Judged]) -> npt.NDArray[np.float64]:
    behind = np.array([found[0].score - other.score for other in found[1:]])
    return np.exp(-behind / RIVAL_SCALE)


def judged(evidence: Evidence, offer: Offer) -> Decoded:
    """The decoded utterance, with meanings and confidences."""
    found, measures = meanings(evidence, offer), evidence.measures
    if not found:
        return Decoded((), evidence.best.words, 0.0)
    right = _logistic(RIGHT_WEIGHTS, right_features(found, measures))
    if doubtful_pair(found, offer):
        right = min(right, PAIR_DOUBT)
    shares = _shares(found)
    shares *= (1 - right) / max(float(shares.sum()), 1.0)
    # A rival is never shown as likelier than the winner, however doubtful that is.
    confidences = [right, *np.minimum(shares, right).tolist()]
    return Decoded(
        tuple(
            Hypothesis(one.words, one.meaning, confidence)
            for one, confidence in zip(found, confidences, strict=True)
        ),
        evidence.best.words,
        _logistic(
            WORD_WEIGHTS if is_word(found, measures) else OURS_WEIGHTS,
            ours_features(found, measures),
        ),
        limits=LIMITS,
    )


_ALIKE = PAIRS | {"zero": "zeroed", "zeroed": "zero"}


def doubtful_pair(found: Sequence[Judged], offer: Offer) -> bool:
    """Tell whether a word may be its double here (a teen a ty) with no clear margin."""
    if _closeness(found) ** 2 >= PAIR_NATS:
        return False
    words = found[0].words.split()
    for index, word in enumerate(words):
        other = " ".join([*words[:index], _ALIKE.get(word, word), *words[index + 1 :]])
        if word in _ALIKE and _is_another(other, found[0].meaning, offer):
            return True
    # "Zeroed" ends like "zero thou", so a unit does not tell them apart.
    if words[0] in ("zero", "zeroed") and len(words) <= 2:
        return _is_another(_ALIKE[words[0]], found[0].meaning, offer)
    return False


def _is_another(words: str, meaning: Meaning, offer: Offer) -> bool:
    """Whether these words may be said here, and would be taken for something else."""
    other = parse(words, offer.scale)
    return offer.allows(other) and offer.taken(other) != meaning


def _logistic(weights: Sequence[float], features: Sequence[float]) -> float:
    return float(1 / (1 + np.exp(-np.dot(weights, features))))
