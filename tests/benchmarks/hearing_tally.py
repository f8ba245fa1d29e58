"""Counting what ears make of recordings: right, wrong, asked, turned down, and mixed up."""

from collections import Counter
from dataclasses import dataclass, field
from difflib import SequenceMatcher

from assistant.devices.sound_file import RATE
from grammar.meaning import Reading
from tests.benchmarks.hearing_clips import Clip, same
from tests.benchmarks.hearing_contestants import Take

NOTHING = "(nothing)"


@dataclass(slots=True)
class Tally:
    """Counts of one contestant in one condition; times in seconds.

    ``right``: accepted, or asked with the right meaning first. ``wrong``: accepted, but
    wrong. ``asked``: asked though right, of the ``signed`` calls: a bare number is always
    asked. ``rejected``: nothing was taken.
    """

    calls: int = 0
    signed: int = 0
    right: int = 0
    wrong: int = 0
    asked: int = 0
    rejected: int = 0
    talk: int = 0
    talk_accepted: int = 0
    talk_asked: int = 0
    talk_s: float = 0.0
    sound_s: float = 0.0
    cpu_s: float = 0.0
    decode_s: list[float] = field(default_factory=list)
    tone_s: list[float] = field(default_factory=list)
    mixed_up: Counter[tuple[str, str]] = field(default_factory=Counter)
    """What was said and what was taken for it, accepted or asked."""

    def add(self, clip: Clip, take: Take) -> None:
        """Count one recording."""
        self.sound_s += len(clip.sound) / RATE
        self.cpu_s += take.cpu_s
        self.decode_s += take.decode_s
        accepted = [one for one in take.taken if not one.asked]
        if clip.is_talk:
            self.talk += 1
            self.talk_s += len(clip.sound) / RATE
            self.talk_accepted += bool(accepted)
            self.talk_asked += any(one.asked for one in take.taken)
            return
        self.calls += 1
        if clip.end_s is not None:
            self.tone_s += [ready - clip.end_s for ready in take.ready_s]
        good = len(take.taken) == 1 and same(take.taken[0].meaning, clip.meaning)
        asked = any(one.asked for one in take.taken)
        bare = isinstance(clip.meaning, Reading) and (
            not clip.meaning.signed or clip.meaning.doubtful_unit
        )
        self.signed += not bare
        self.right += good
        self.rejected += not take.taken
        self.asked += good and asked and not bare
        self.wrong += any(not same(one.meaning, clip.meaning) for one in accepted)
        for one in take.taken:
            if not same(one.meaning, clip.meaning):
                self.mixed_up.update(differences(clip.said, one.words))

    @property
    def talk_accepted_per_10_min(self) -> float:
        """Talk that was accepted, in ten minutes of it."""
        return self.talk_accepted * 600 / self.talk_s if self.talk_s else 0.0


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
