"""What a search found, as meanings and as the few figures that the gates look at."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from assistant.devices.ears.neural.beam import Found, Text
from assistant.devices.ears.neural.habit import Habit
from assistant.devices.ears.neural.tokens import Tokens
from grammar.meaning import Meaning, OffScale, Reading, Side, Unclear
from grammar.offer import Offer
from grammar.parse import parse
from grammar.written import as_spoken

OFF_SCALE_NATS = 2.0
"""How much less likely a number that the dial cannot show is than one that it can."""

ELSEWHERE_NATS = 2.0
"""How much less likely another station is named than the one that is read next."""

HABIT_SHARE = 0.2
"""How much of what the model writes by habit is taken off, where meanings are compared.

Of 3,780 calls, in quiet and in noise, the right meaning came first in 3,539, in 3,493 without; of
voices that sound like people in 1,422 and 1,403 of 1,479, of people, who said single words and
digits, in 1,195 and 1,198 of 1,242.
"""

HABITS_MOST = 4
"""Meanings whose habit is looked up; the others count as being as usual as the most usual."""

FURTHEST = 12.0
"""The margin of a meaning without a rival."""

FRAME = 160
"""Samples of one level reading, 10 ms."""

NO_TEXT = Text((), 0.0)

Samples = npt.NDArray[np.int16]


@dataclass(frozen=True, slots=True)
class Candidate:
    """A meaning. ``words``: its likeliest sentence. ``score``: log probability of all of its
    sentences, with what is usual. ``tokens``: of the likeliest one, the end counted; ``text``:
    that one as it was found; ``habit``: its log probability when nothing is heard."""

    words: str
    meaning: Meaning
    score: float
    tokens: int
    text: Text = NO_TEXT
    habit: float = 0.0

    @property
    def fair(self) -> float:
        """The score without some of the habit: what meanings are compared by."""
        return self.score - HABIT_SHARE * self.habit


@dataclass(frozen=True, slots=True)
class Loudness:
    """``span_s``: from the first loud frame to the last; ``snr_db``: loudest to quietest."""

    span_s: float
    snr_db: float


@dataclass(frozen=True, slots=True)
class Evidence:
    """``candidates``: best first, at least one. ``free``: the words that the model would write,
    ``free_score`` their log probability, ``free_meaning`` what they would mean here.
    ``free_text`` its tokens. ``least``: the margin at the pace at which it is least, below 0
    where another is likelier. ``spoilt``: heard through the adapter. ``profile``: of its sound, and
    ``likeness``: how much that is like each word, see ``word_sounds``."""

    candidates: tuple[Candidate, ...]
    free: str
    free_score: float
    free_tokens: int
    free_meaning: Meaning
    loudness: Loudness
    least: float = FURTHEST
    free_text: tuple[int, ...] = ()
    spoilt: bool = False
    profile: npt.NDArray[np.float32] | None = field(default=None, compare=False)
    likeness: Mapping[str, float] = field(default_factory=dict)

    @property
    def best(self) -> Candidate:
        """The likeliest meaning."""
        return self.candidates[0]

    @property
    def is_written(self) -> bool:
        """Whether the model would write what means the same as the likeliest sentence."""
        return said_alike(self.free_meaning, self.best.meaning)

    @property
    def margin(self) -> float:
        """Nats to the next meaning."""
        if len(self.candidates) < 2:
            return FURTHEST
        return min(FURTHEST, self.best.fair - self.candidates[1].fair)

    @property
    def ratio(self) -> float:
        """Nats to the free text: 0 or more when the model would write nothing else."""
        return self.best.score - self.free_score


def weighed(
    found: Found, tokens: Tokens, offer: Offer, loudness: Loudness, habit: Habit
) -> Evidence | None:
    """The evidence of a search; None when nothing that is listened for was found."""
    candidates = by_habit(meanings(found.sentences, tokens, offer), habit)
    if not candidates:
        return None
    free = as_spoken(tokens.decode(found.free.tokens))
    evidence = Evidence(
        candidates, free, found.free.score, len(found.free.tokens) + 1,
        offer.taken(parse(free, offer.scale)), loudness, free_text=found.free.tokens,
    )  # fmt: skip
    return replace(evidence, least=evidence.margin)


def by_habit(candidates: Sequence[Candidate], habit: Habit) -> tuple[Candidate, ...]:
    """The same with what is habit, the best by what is left first."""
    if not candidates:
        return ()
    habits = habit.of([one.text.tokens for one in candidates[:HABITS_MOST]])
    habits += [max(habits)] * (len(candidates) - len(habits))
    known = [replace(one, habit=each) for one, each in zip(candidates, habits, strict=True)]
    return tuple(sorted(known, key=lambda one: -one.fair))


def at_other_paces(evidence: Evidence, runs: Sequence[Sequence[float]]) -> Evidence:
    """The evidence when the sound is heard at other paces too: scores are averaged over all.

    ``runs``: of each other pace the log probabilities of the texts of the first candidates,
    and of the free text last. Candidates without one stay behind those.
    """
    count = len(runs[0]) - 1
    first, rest = evidence.candidates[:count], evidence.candidates[count:]
    changes = [
        [score - one.text.score for score, one in zip(run, first, strict=False)] for run in runs
    ]
    total = len(runs) + 1
    means = [
        replace(one, score=one.score + sum(each) / total)
        for one, *each in zip(first, *changes, strict=True)
    ]
    order = sorted(range(count), key=lambda which: -means[which].fair)
    candidates = [means[which] for which in order]
    last = candidates[-1].fair
    candidates += [replace(one, score=one.score + min(0.0, last - one.fair)) for one in rest]
    paces = [[0.0] * count, *changes]
    least = min(_margin(first, change, order[0]) for change in paces)
    free = evidence.free_score + sum(run[-1] - evidence.free_score for run in runs) / total
    return replace(evidence, candidates=tuple(candidates), free_score=free, least=least)


def _margin(candidates: Sequence[Candidate], changes: Sequence[float], best: int) -> float:
    """Of the one that is best in all, at one pace."""
    scores = [one.fair + change for one, change in zip(candidates, changes, strict=True)]
    others = [score for which, score in enumerate(scores) if which != best]
    return min(FURTHEST, scores[best] - max(others)) if others else FURTHEST


def meanings(texts: Sequence[Text], tokens: Tokens, offer: Offer) -> tuple[Candidate, ...]:
    """The meanings of these texts, best first; the probabilities of one meaning are summed."""
    groups: dict[Meaning, list[tuple[Text, str, Meaning]]] = {}
    for text in texts:
        words = as_spoken(tokens.decode(text.tokens))
        meaning = offer.taken(parse(words, offer.scale))
        if not isinstance(meaning, Unclear) and offer.allows(meaning):
            groups.setdefault(_said(meaning), []).append((text, words, meaning))
    candidates = []
    for said, group in groups.items():
        text, words, meaning = max(group, key=lambda one: one[0].score)
        score = _sum_of([one.score for one, _, _ in group]) - _unusual(said, offer)
        candidates.append(Candidate(words, meaning, score, len(text.tokens) + 1, text))
    return tuple(sorted(candidates, key=lambda one: -one.score))


def _said(meaning: Meaning) -> Meaning:
    """A reading is the same whether its usual unit was said or not."""
    if isinstance(meaning, Reading) and not meaning.doubtful_unit:
        return replace(meaning, unit=None)
    return meaning


def said_alike(one: Meaning, other: Meaning) -> bool:
    """Tell whether two meanings differ in nothing but an unsaid unit."""
    return _said(one) == _said(other)


def _unusual(meaning: Meaning, offer: Offer) -> float:
    """How much less likely than what is usual a meaning is, in nats."""
    nats = OFF_SCALE_NATS if isinstance(meaning, OffScale) else 0.0
    return nats + (ELSEWHERE_NATS if elsewhere(meaning, offer) else 0.0)


def elsewhere(meaning: Meaning, offer: Offer) -> bool:
    """Tell whether a station is named that is not the one read next."""
    if offer.awaited is None or not isinstance(meaning, Reading | OffScale):
        return False
    corrects = isinstance(meaning, Reading) and meaning.correction
    return not corrects and meaning.station not in (None, offer.awaited)


def is_bare_station(evidence: Evidence) -> bool:
    """Tell whether the model would write a station and nothing else."""
    return isinstance(evidence.free_meaning, Side)


def _sum_of(logs: Sequence[float]) -> float:
    top = max(logs)
    return top + math.log(sum(math.exp(one - top) for one in logs))


def loudness_of(samples: Samples) -> Loudness:
    """How long and how far above the noise the voice in these samples is.

    Levels of 10 ms, smoothed over five; the noise is their 15th percentile. Loud is what is 6 dB
    above it and no more than 28 dB below the peak, or in much noise within 5 dB of the peak.
    """
    frames = samples[: len(samples) // FRAME * FRAME].reshape(-1, FRAME).astype(np.float64)
    if len(frames) < 5:
        return Loudness(0.0, 0.0)
    levels = 10 * np.log10((frames**2).mean(axis=1) + 1.0)
    smooth = np.convolve(np.pad(levels, 2, mode="edge"), np.full(5, 0.2), "valid")
    noise, peak = float(np.percentile(smooth, 15)), float(smooth.max())
    loud = smooth > (max(noise + 6, peak - 28) if peak - noise > 9 else peak - 5)
    places = np.flatnonzero(loud)
    span = (places[-1] - places[0] + 1) * 0.01 if len(places) else 0.0
    return Loudness(float(span), peak - noise)
