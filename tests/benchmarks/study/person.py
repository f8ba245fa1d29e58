"""The person at a worn machine: honest and willing, with the mistakes that people make.

Belongs here: what is seen, called and done otherwise than at the bench of the demo. What the
person misreads they believe: a read-back of it is right to them.
"""

from __future__ import annotations

import random
import re
from dataclasses import dataclass
from decimal import Decimal
from math import degrees

from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Step
from assistant.metrology.stations import OPPOSITE
from assistant.simulation.bench import BEARINGS
from assistant.simulation.caller import OperatorStuck
from assistant.simulation.cues import Question
from assistant.simulation.wording import Manner, again, agree
from grammar.meaning import Reading, Size
from grammar.parse import parse
from grammar.scale import Scale
from grammar.vocabulary import Station
from tests.benchmarks.study.worn import TOLD, WornBench, WornFeet
from tests.simulation.machine_operator import MachineOperator

MOST_SWEEPS = 12
"""Sweeps after which a job is taken to go round in circles."""

SCALE = Scale()
"""Any will do: it is sizes that are parsed with it."""

CORNERS = {"back right": 45.0, "front right": 135.0, "front left": 225.0, "back left": 315.0}

SAME_AGAIN = 0.25
"""How often somebody who reads a dial wrongly reads it wrongly once more when asked."""

QUICK = 0.25
"""The time of a look at the dial that stands still while something is moved."""

NEAR_IN = 0.5
"""How far the tip is moved on by whoever is not told how far."""

SLOPPY = 1 / 3
"""Of that, by which it may be more or less."""

LEFT_OUT = 0.05
"""How often the tip is not lifted by whoever does so as a rule."""

BESIDE_IN = 0.25
"""How far beside the old spots somebody sweeps who is not told how far."""

ADVICE = {
    "clamp": r"(?<!its )\bclamp|\bis it loose\b|\bis loose\b|check the shim|are the bolts tight",
    "rig": r"\bplay\b|\bslip(s|ped)?\b|check (the )?(bar|dial)|loose: bar|its clamp",
    "warm": r"\bwarm|\bwait\b|let it settle",
    "tip": r"\blift the tip\b",
    "spots": r"\bsame spots\b",
}
"""Words by which the person is told to look after something."""

PLAIN = ("not while it is loose", "mostly drift", "most of it drift", "no warp that can be read")
"""What has such words and names no cause: standing prompts, and the parts of an uncertainty."""


@dataclass(frozen=True, slots=True)
class Mistakes:
    """How often, 0 to 1, and by how much.

    `misread`: a reading is seen with another sign or digit, or teens for tens. `exchange`: for a
    whole sweep left is taken for right, or front for back; `sure_exchange`: the sweep, from 1, in
    which that happens in any case. `late`, `late_sd`: degrees by which every station is reached
    late, on average and by scatter. `stays`: told to move every spot on they sweep where they did,
    until they are told that it looks so.
    """

    misread: float = 0.0
    exchange: float = 0.0
    sure_exchange: int = 0
    late: float = 0.0
    late_sd: float = 0.0
    stays: bool = False


class Person(MachineOperator):
    """Plays a job at a `WornBench`; never gives up before `MOST_SWEEPS`."""

    def __init__(
        self, bench: WornBench, profile: Profile, chance: random.Random, manner: Manner,
        mistakes: Mistakes,
    ) -> None:  # fmt: skip
        super().__init__(bench, profile, chance, manner)
        self.worn = bench
        self.mistakes = mistakes
        self.spoken: list[str] = []
        self.sweeps_begun = 0
        self.exchanged: tuple[Station, ...] = ()
        self.exchanges = 0
        self._own = random.Random(f"mistakes {bench.machine.seed}")
        self._phase = ""
        self._question = ""
        self._far_in: float | None = None
        self._along_in = 0.0
        self._seen_wrong: dict[Station, Decimal] = {}
        self._dial = Decimal(0)
        self._packing: Step | None = None
        self._lifts = False
        self._stays = mistakes.stays
        self._habits = random.Random(f"habits {bench.machine.seed}")

    # -- what is heard -------------------------------------------------------------------

    def hear(self, text: str) -> None:
        """A prompt was spoken: what it says to look after is looked after."""
        super().hear(text)
        self.spoken.append(text)
        words = without_plain(text.lower())
        if re.search(ADVICE["clamp"], words):
            self.worn.see_to_clamp()
        if re.search(ADVICE["rig"], words):
            self.worn.see_to_rig()
        if re.search(ADVICE["warm"], words):
            self.worn.warm_up()
        if re.search(ADVICE["spots"], words):
            self._stays = False
        if re.search(ADVICE["tip"], words):
            self._lifts = True
        elif self._lifts and "zeroed" in words:
            # Whoever is not told again may forget it.
            self._lifts = self._habits.random() < TOLD

    def told(self, step: Step) -> None:
        """At plain feet a shim goes under the side that the step names."""
        if step.do == "shim" and step.station is not None:
            self._step = self._packing = step
        else:
            super().told(step)

    # -- what is seen --------------------------------------------------------------------

    def _look(self, station: Station) -> Decimal:
        bench, own = self.worn, self._own
        if self._phase != "sweep":
            self._dial = bench.read(station)
            return self._dial
        at = OPPOSITE[station] if station in self.exchanged else station
        late = own.gauss(self.mistakes.late, self.mistakes.late_sd) if station != "back" else 0.0
        seen = self._dial = bench.read_at(BEARINGS[at] + late)
        if station in self._seen_wrong and own.random() < SAME_AGAIN:
            return self._seen_wrong[station]
        self._seen_wrong.pop(station, None)
        if own.random() >= self.mistakes.misread:
            return seen
        wrong = misread(seen, own)
        if not self.scale.shows(wrong) or wrong == seen:
            return seen
        self._seen_wrong[station] = wrong
        return wrong

    def _read(self, station: Station, *, named: bool = False) -> str:
        words = super()._read(station, named=named)
        # What the dial really showed, for whoever judges the job.
        self.shown = (station, self._dial)
        return words

    def _astray_deg(self) -> float:
        """In a row from the station, each about as far from the one before as was told."""
        far = NEAR_IN if self._far_in is None else self._far_in
        if self._noted == 1:
            self._along_in = 0.0
        else:
            self._along_in += far * self._own.uniform(1 - SLOPPY, 1 + SLOPPY)
        return degrees(self._along_in / self.worn.surface.radius_in)

    # -- by phase ------------------------------------------------------------------------

    def _act(self, question: Question, said: str) -> str:
        if question.phase != self._phase:
            self._far_in = None
        self._phase = question.phase
        self.worn.pace = 1.0 if question.phase in ("sweep", "corners") else QUICK
        self.tell_phase(question.phase)
        told = inches_told(said)
        if told is not None:
            self._far_in = told
        match question.phase:
            case "again" if not self._wrong:
                if not self._stays:
                    self.worn.beside(BESIDE_IN if told is None else told)
                return agree(self._chance, self.manner)
            case "unbolt" | "shim under" | "bolt down":
                return self._pack(question.phase)
            case "form":
                return agree(self._chance, self.manner)
            case "corners":
                return self._corner(question, said)
            case "hollow":
                gap = self.worn.rounded(self.worn.surface.gap)
                self._called = Reading(gap, True)
                return again(self._called, False)
            case _:
                return super()._act(question, said)

    def tell_phase(self, phase: str) -> None:
        """What the hands do at the dial now: whoever taps has a mallet in that hand."""
        swept = phase in ("zero", "sweep", "corners")
        self.worn.lifting = self._lifts and swept and self._habits.random() >= LEFT_OUT

    def _tap(self, question: Question) -> str:
        target = self._step.dial_target if self._step else None
        if target is not None and abs(target) > self.scale.reach:
            raise OperatorStuck("told to tap to what the dial does not show")
        return super()._tap(question)

    def _pack(self, phase: str) -> str:
        feet = self.worn
        if not isinstance(feet, WornFeet):
            raise OperatorStuck("there are no feet to shim here")
        self._upset = True
        if phase == "unbolt":
            feet.unbolt()
        elif phase == "bolt down":
            feet.lock_all()
            return "locked"
        elif self._packing is not None and self._packing.station is not None:
            feet.pack(self._packing.station, self._packing.total or Decimal(0))
        return "done"

    def _corner(self, question: Question, said: str) -> str:
        asked = re.findall(r"(back right|front right|front left|back left)\?", said.lower())
        if question.station is not None or not asked:
            return self._read(question.station or "back")
        late = self._own.gauss(self.mistakes.late, self.mistakes.late_sd)
        seen = self.worn.read_at(CORNERS[asked[-1]] + late)
        self._called = None
        return again(Reading(seen, True), False)

    def _zero(self, question: Question) -> str:
        words = super()._zero(question)
        if words != "zeroed":
            return words
        if self.sweeps_begun >= MOST_SWEEPS:
            raise OperatorStuck(f"still not done after {MOST_SWEEPS} sweeps")
        self.sweeps_begun += 1
        self._seen_wrong = {}
        sure = self.sweeps_begun == self.mistakes.sure_exchange
        self.exchanged = ()
        if sure or self._own.random() < self.mistakes.exchange:
            self.exchanged = self._own.choice((("left", "right"), ("back", "front")))
            self.exchanges += 1
        if "back" in self.exchanged:
            self.worn.zero("front")
        return words


def without_plain(text: str) -> str:
    """What was said, in small letters, without the standing prompts."""
    for words in PLAIN:
        text = text.replace(words, "")
    return text


def misread(seen: Decimal, chance: random.Random) -> Decimal:
    """Another reading that somebody may take this one for: its sign, a digit, teens for tens."""
    size, sign = abs(seen), -1 if seen < 0 else 1
    kind = chance.choice(("sign", "digit", "teens"))
    if kind == "sign" and seen:
        return -seen
    if kind == "teens" and 13 <= size < 20:
        return sign * (size - 10) * 10
    if kind == "teens" and size in (30, 40, 50, 60, 70, 80, 90):
        return sign * (10 + size / 10)
    return seen + chance.choice((-10, -5, -1, 1, 5, 10))


def inches_told(said: str) -> float | None:
    """How far apart a prompt says that the spots should lie; None when it does not say."""
    words = said.lower().replace("millimetre", "millimeter").replace(",", " ").split()
    for at, word in enumerate(words):
        if not re.match(r"inch|millimeters?", word):
            continue
        for start in range(max(0, at - 4), at):
            size = parse(" ".join([*words[start:at], word.rstrip(".?!")]), SCALE)
            if isinstance(size, Size):
                return float(size.value) / (25.4 if size.unit == "mm" else 1.0)
        if words[at - 1] in ("an", "one"):
            return 0.5 if "half" in words[max(0, at - 2) : at] else 1.0
    return None
