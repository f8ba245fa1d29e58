"""Counting what an engine made of recordings, with intervals for the shares."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from difflib import SequenceMatcher
from typing import NamedTuple

import numpy as np

from grammar.meaning import Reading
from tests.benchmarks.hearing_clips import Clip
from tests.benchmarks.hearing_results import Result

NOTHING = "(nothing)"
KNOWN_BY = 5
"""Calls of one speaker from which a share of their own means anything."""

RESAMPLED = 1000
Z_95 = 1.959963984540054


class Interval(NamedTuple):
    """From where to where, each 0 to 1."""

    low: float
    high: float


def wilson(part: int, whole: int, z: float = Z_95) -> Interval:
    """The score interval of a share, 95 % unless another ``z`` is given.

    E. B. Wilson, "Probable inference, the law of succession, and statistical inference",
    J. Am. Stat. Assoc. 22 (1927) 209. For recordings that are independent of each other.
    """
    if not 0 <= part <= whole or not whole:
        raise ValueError(f"{part} of {whole} is not a share")
    share = part / whole
    middle = (share + z * z / (2 * whole)) / (1 + z * z / whole)
    half = z * np.sqrt(share * (1 - share) / whole + z * z / (4 * whole**2)) / (1 + z * z / whole)
    return Interval(max(0.0, float(middle - half)), min(1.0, float(middle + half)))


def by_speaker(shares: Sequence[tuple[int, int]], seed: int = 0) -> Interval:
    """The interval of the whole share when speakers are redrawn, with replacement.

    ``shares``: of each speaker, how many of how many. The percentile interval of a bootstrap of
    clusters: A. C. Davison and D. V. Hinkley, "Bootstrap Methods and their Application" (1997),
    sections 3.8 and 5.3. What one speaker says stands or falls together, which Wilson's interval
    does not know; it knows instead that none of few does not mean none of many.
    """
    parts, wholes = (np.array(each, float) for each in zip(*shares, strict=True))
    drawn = np.random.default_rng(seed).multinomial(
        len(shares), np.full(len(shares), 1 / len(shares)), RESAMPLED
    )
    low, high = np.quantile(drawn @ parts / (drawn @ wholes), [0.025, 0.975])
    return Interval(float(low), float(high))


@dataclass(slots=True)
class Tally:
    """Counts of one engine in one condition.

    Of calls that the dial can show: ``right`` is accepted, or asked with the right meaning
    first; ``wrong`` is accepted, but wrong; ``asked`` is asked though right, of the ``signed``
    readings (a bare number is always asked), ``commands_asked`` the same of commands; ``unsure``
    are, of the ``unsigned`` numbers after a station, those right ones that a sign would not save
    from being asked: people's calls are spliced of words that lack "plus" and "minus". Of numbers
    off the dial: ``told`` is told as such, ``forced`` is accepted as anything else.
    """

    calls: int = 0
    right: int = 0
    wrong: int = 0
    rejected: int = 0
    signed: int = 0
    asked: int = 0
    unsigned: int = 0
    unsure: int = 0
    commands: int = 0
    commands_asked: int = 0
    off: int = 0
    told: int = 0
    forced: int = 0
    talk: int = 0
    talk_accepted: int = 0
    talk_asked: int = 0
    talk_s: float = 0.0
    talk_accepts: int = 0
    talk_asks: int = 0
    cpu_s: list[float] = field(default_factory=list)
    tone_s: list[float] = field(default_factory=list)
    speakers: dict[str, tuple[int, int]] = field(default_factory=dict)
    sorts: dict[str, tuple[int, int]] = field(default_factory=dict)
    """Of each sort of recording, how many of how many calls were right."""
    mixed_up: Counter[tuple[str, str]] = field(default_factory=Counter)
    """What was said and what was taken for it, accepted or asked."""

    def add(self, clip: Clip, result: Result) -> None:
        """Count one recording."""
        self.cpu_s.append(result.cpu_s)
        taken = [one for one in result.made if not one.told]
        accepted = [one for one in taken if not one.asked]
        if clip.is_talk:
            self.talk += 1
            self.talk_s += result.length_s
            self.talk_accepted += bool(accepted)
            self.talk_asked += len(taken) > len(accepted)
            self.talk_accepts += len(accepted)
            self.talk_asks += len(taken) - len(accepted)
            return
        for one in result.made:
            if not one.same and not (clip.is_off_dial and one.off_dial):
                self.mixed_up.update(differences(clip.said, one.words))
        if clip.is_off_dial:
            self.off += 1
            self.told += len(result.made) == 1 and result.made[0].off_dial
            self.forced += any(not one.off_dial for one in accepted)
            return
        self.tone_s += result.tone_s
        # A number that is only said to be off the dial is not kept.
        self._call(clip, result, wrong=any(not one.same and not one.off_dial for one in accepted))

    def _call(self, clip: Clip, result: Result, *, wrong: bool) -> None:
        good = len(result.made) == 1 and result.made[0].same
        asked = good and result.made[0].asked
        self.calls += 1
        self.right += good
        self.wrong += wrong
        self.rejected += all(one.told for one in result.made)
        if not isinstance(clip.meaning, Reading):
            self.commands += 1
            self.commands_asked += asked
        elif clip.meaning.signed and not clip.meaning.doubtful_unit:
            self.signed += 1
            self.asked += asked
        elif clip.meaning.station and not clip.meaning.signed:
            self.unsigned += 1
            self.unsure += asked and not result.made[0].sure
        # Where it is not known whose a recording is, each is somebody else's.
        whose = clip.voice or clip.name
        for counts, of in ((self.speakers, whose), (self.sorts, clip.sort)):
            part, whole = counts.get(of, (0, 0))
            counts[of] = (part + good, whole + 1)

    def right_interval(self) -> Interval:
        """Of the share of right: the wider of Wilson's and that by speakers, at either end."""
        one = wilson(self.right, self.calls)
        other = by_speaker(list(self.speakers.values()))
        return Interval(min(one.low, other.low), max(one.high, other.high))

    def worst_tenth(self) -> float | None:
        """The share of right of the worst tenth of the speakers together, 0 to 1.

        Of those with calls enough to be known by; None when there is none.
        """
        known = self.worst()
        if not known:
            return None
        tenth = [share for _, share in known[: -(-len(known) // 10)]]
        return sum(part for part, _ in tenth) / sum(whole for _, whole in tenth)

    def worst(self) -> list[tuple[str, tuple[int, int]]]:
        """Speakers and how many of how many calls were right, the worst first."""
        known = [each for each in self.speakers.items() if each[1][1] >= KNOWN_BY]
        return sorted(known, key=lambda each: (each[1][0] / each[1][1], -each[1][1]))


def tallied(pairs: Iterable[tuple[Clip, Result]]) -> Tally:
    """Everything counted."""
    tally = Tally()
    for clip, result in pairs:
        tally.add(clip, result)
    return tally


def differences(said: str, taken: str) -> list[tuple[str, str]]:
    """The stretches of words in which two sentences differ.

    >>> differences("front plus fifteen", "front plus fifty thou")
    [('fifteen', 'fifty thou')]
    """
    first, second = said.split(), taken.split()
    blocks = SequenceMatcher(None, first, second, autojunk=False).get_opcodes()
    return [
        (" ".join(first[a:b]) or NOTHING, " ".join(second[c:d]) or NOTHING)
        for what, a, b, c, d in blocks
        if what != "equal"
    ]
