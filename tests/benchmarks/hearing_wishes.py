"""How well the ears tell wishes and everyday words of agreement from what else can be said.

    python -m tests.benchmarks.hearing_wishes [PHASE ...]

Each word is spoken by flite and espeak-ng (see `hearing_voices`) and heard by the leading
recogniser in the phase that would offer it; so is everything else that the phase offers, once
without and once with the wishes on offer. What a word would cost is the difference. The voices are
those of a synthesizer: people are not in it.
"""

import random
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace

import numpy as np

from assistant.devices.ears.endpoint import Endpointer
from assistant.devices.ears.engines import recogniser
from assistant.devices.ears.hearing import Ears, Samples
from assistant.devices.ears.verify import verify
from assistant.dialogue.messages import TURNED_DOWN
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.lock import Lock
from assistant.dialogue.procedures.safety import Safety
from assistant.dialogue.procedures.setup import SetUp
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.questions import offer as phase_offer
from assistant.simulation.noise import to_int16
from grammar.offer import Offer
from grammar.parse import parse
from grammar.scale import Scale
from grammar.vocabulary import BY_NAME
from tests.benchmarks.hearing_script import Line
from tests.benchmarks.hearing_voices import FIT, TEST, Voice, recorded

VOICES: tuple[Voice, ...] = tuple(
    voice for voice in (*TEST, *FIT) if voice.engine in ("flite", "espeak")
)

WISHES: dict[Phase, tuple[str, ...]] = {
    Safety.UNPLUGGED: ("short", "long"),
    Lock.LOCK: (),
    SetUp.SETUP: ("louder", "softer", "slower", "faster", "quiet", "talk", "short"),
    Sweeping.SWEEP: ("read back", "start over", "how far off", "which way"),
    Close.DECIDE: ("read back", "how far off", "which way"),
}
"""What might be offered where."""

SIZED = ("tolerance three", "tolerance two and a half", "tolerance fifteen thou",
         "sweep nine inches", "sweep twelve", "sweep ten and a half inches")  # fmt: skip
"""Wishes with a value, at the set-up."""

FURTHER: dict[Phase, dict[str, tuple[str, ...]]] = {
    Safety.UNPLUGGED: {"yes": ("ok", "yep"), "no": ("nope",), "stand by": ("wait",)},
    Lock.LOCK: {"disregard": ("undo",), "stand by": ("wait",)},
    Sweeping.SWEEP: {"disregard": ("undo",), "stand by": ("wait",)},
    Close.DECIDE: {"yes": ("ok", "yep"), "no": ("nope",), "disregard": ("undo",)},
}
"""Everyday words that might be listened for beside the usual ones, where they say something."""


@contextmanager
def listened_for(words: dict[str, tuple[str, ...]]) -> Iterator[None]:
    """These words are of the commands' own while it lasts."""
    known = {name: BY_NAME[name] for name in words}
    try:
        for name, more in words.items():
            BY_NAME[name] = replace(known[name], says=(*known[name].says, *more))
        yield
    finally:
        BY_NAME.update(known)


@dataclass(slots=True)
class Count:
    """What became of so many utterances."""

    right: int = 0
    asked: int = 0
    wrong: int = 0
    missed: int = 0

    def line(self) -> str:
        """The four counts."""
        return f"{self.right:5} {self.asked:5} {self.missed:6} {self.wrong:5}"


def spoken(phrase: str, voice: Voice) -> Samples:
    """One utterance, int16 at 16 kHz, with the silence that ends it."""
    line = Line("command", Scale(), (phrase,))
    sound = recorded(line, voice, f"{phrase}-{voice.called}").sound
    return np.concatenate([to_int16(sound), np.zeros(16_000, np.int16)])


def heard(ears: Ears, offer: Offer, phrases: tuple[str, ...], counts: dict[str, Count]) -> None:
    """Every phrase by every voice, counted under its words."""
    for phrase in phrases:
        wanted = offer.taken(parse(phrase, offer.scale))
        for voice in VOICES:
            ears.arm(offer)
            sound = spoken(phrase, voice)
            found = [*ears.feed(sound), *ears.flush()]
            count = counts.setdefault(phrase, Count())
            best = found[0] if found else None
            if best is None or best.outcome in TURNED_DOWN:
                count.missed += 1
            elif best.meaning != wanted:
                count.wrong += best.outcome == "accept"
                count.asked += best.outcome == "ask"
            elif best.outcome == "accept":
                count.right += 1
            else:
                count.asked += 1


def main(asked: list[str]) -> int:
    """Print one table for each phase."""
    random.seed(1)
    ears = Ears(recogniser("neural"), verify, Endpointer())
    for phase, wishes in WISHES.items():
        if asked and phase not in asked:
            continue
        further = FURTHER.get(phase, {})
        plain = replace(phase_offer(phase, Scale()), changes=0)
        bare = replace(plain, commands=tuple(c for c in plain.commands if c not in wishes))
        sized = SIZED if phase is SetUp.SETUP else ()
        wide = replace(bare, commands=(*bare.commands, *wishes), changes=40 if sized else 0)
        others = tuple(BY_NAME[name].says[0] for name in bare.commands)
        others += ("right plus six", "front minus two", "zero") if plain.readings else ()
        without: dict[str, Count] = {}
        having: dict[str, Count] = {}
        heard(ears, bare, others, without)
        with listened_for(further):
            heard(ears, wide, others, having)
            heard(ears, wide, tuple(BY_NAME[name].says[0] for name in wishes), having)
            heard(ears, wide, sized, having)
            heard(ears, wide, tuple(word for more in further.values() for word in more), having)
        sys.stdout.write(f"{phase}: right asked missed wrong, of {len(VOICES)} voices\n")
        for phrase, count in having.items():
            before = without[phrase].line() if phrase in without else "  -"
            sys.stdout.write(f"  {phrase:16} {count.line()}   without: {before}\n")
        sys.stdout.flush()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
