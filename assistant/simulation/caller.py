"""The person at the simulated machine: hands on the bench, words to the assistant.

Works from what a person has: the spoken prompts, the step that is asked for, what may be
said now, and the dial. It checks every read-back and corrects a wrong one.
"""

import random
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from assistant.dialogue import pending, wording
from assistant.dialogue.formatting import size_words, tolerance_words
from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Effect, Listen, Say, Step
from assistant.dialogue.procedures import last_time, setup, sweep
from assistant.dialogue.spots import SPOTS, further_deg
from assistant.dialogue.state import shim_in_place
from assistant.simulation.bench import BEARINGS, Bench, prepare_again
from assistant.simulation.cues import ASTRAY, MOVING, Question
from assistant.simulation.wording import (
    OTHER_WORDS,
    Manner,
    again,
    agree,
    call,
    if_sayable,
    read_back,
    refuse,
    sentences,
)
from grammar.meaning import Command, Reading, Shim, Sign
from grammar.parse import parse
from grammar.vocabulary import STATIONS, Station

SETTLING = ("surface", "relock", "snug", "hard")
"""Phases in which the noise is measured: readings without a station."""

ENOUGH = 5
"""Readings that the person takes of each kind of noise."""


class OperatorStuck(RuntimeError):
    """The person cannot answer; the text says why."""


class Operator:
    """Plays the job at a bench; ``answer`` gives the words for each question.

    ``shown``: station and value that the dial showed at the last reading, whatever was
    called. Random choices come from ``chance`` alone.
    """

    def __init__(
        self,
        bench: Bench,
        profile: Profile,
        chance: random.Random | None = None,
        manner: Manner | None = None,
    ) -> None:
        self.bench = bench
        self.profile = profile
        self.scale = profile.scale
        self.manner = manner or Manner()
        self.shown: tuple[Station, Decimal] | None = None
        self.calls = 0
        self._chance = chance or random.Random(0)
        self._said: list[str] = []
        self._step: Step | None = None
        self._last = ""
        self._called: Reading | Shim | None = None
        self._owed = ("", "")
        self._wrong: dict[Station, Reading] = {}
        self._previous = ""
        self._asked_in = ""
        self._finishing = False
        self._planned: Decimal | None = None
        self._settled = False
        self._noted = 0
        self._visited: set[Station] = set()
        self._upset = True

    # -- what comes from the assistant -----------------------------------------------------

    def hear(self, text: str) -> None:
        """A prompt was spoken."""
        self._said.append(text)

    def told(self, step: Step) -> None:
        """A step for the hands was given."""
        self._step = step
        if step.do == "shim":
            total = step.total or Decimal(0)
            self._planned = -total if step.place == "below" else total

    def react(self, effects: Sequence[Effect]) -> str | None:
        """The words in answer to effects; None when nobody listens."""
        question = None
        for effect in effects:
            match effect:
                case Say(text=text):
                    self.hear(text)
                case Step():
                    self.told(effect)
                case Listen(phase=phase, station=station, offer=offer):
                    question = Question(phase, station, offer.phrases())
                case _:
                    pass
        return None if question is None else self.answer(question)

    def silence(self) -> str:
        """Nothing came back: say it once more, in other words if there are."""
        self.calls += 1
        self._last = self._repeat()
        return self._last

    # -- answering ---------------------------------------------------------------------------

    def answer(self, question: Question) -> str:
        """What the person says now, after doing what is to be done."""
        said, self._said = " ".join(self._said), []
        self._last = self._respond(said, question)
        self._previous, self._asked_in = said, question.phase
        self.calls += 1
        return self._last

    def _respond(self, said: str, question: Question) -> str:
        if "go ahead" in question.offers:
            return "go ahead"
        if said in (wording.MISSED, wording.MISSED_TWICE) and self._last:
            return self._repeat()
        if said == pending.NO_MATCH and isinstance(self._called, Reading):
            return again(self._called, False)
        for name in [name for name in self._wrong if wording.taken_back(name) in said]:
            del self._wrong[name]
        if sweep.CLOSED_FIRST in said:
            # What was to be corrected is gone already.
            self._called, self._owed = None, ("", "")
            self._wrong.pop(STATIONS[0], None)
        asked = self._asked(said, question)
        if asked:
            return asked
        objection = self._object(said, question) or self._insist(said, question)
        if objection:
            self._owed = (objection, question.phase)
            return objection
        self._owed = ("", "")
        self._called = None
        aside = self._aside(question)
        return aside or self._act(question, said)

    def _repeat(self) -> str:
        """The same again, a reading in its plainest form; a sign with its number."""
        meaning = parse(self._last, self.scale)
        if isinstance(meaning, Sign) and isinstance(self._called, Reading):
            return again(self._called, False)
        if isinstance(meaning, Reading) and isinstance(self._called, Reading):
            return again(self._called, meaning.correction)
        return OTHER_WORDS.get(self._last, self._last)

    def _object(self, said: str, question: Question) -> str:
        """Words against a read-back that is not what the dial showed; none when it is right."""
        wanted = self._called
        heard = read_back(said, self.scale, named=question.phase not in SETTLING)
        if heard is None or (wanted is None and said == self._previous):
            return ""
        if isinstance(heard, Shim):
            fitted = self.bench.shim
            self._called = None
            right = heard.total == abs(fitted) and (heard.place == "below") == (fitted < 0)
            return "" if right else self._take_back(question)
        if not isinstance(wanted, Reading):
            return self._take_back(question)
        if (heard.station, heard.value) == (wanted.station, wanted.value):
            self._called = None
            if wanted.station is not None:
                self._wrong.pop(wanted.station, None)
            return ""
        if wanted.station is None:
            self._noted -= 1
        elif heard.station == wanted.station and not self._still_moving(question):
            self._wrong[wanted.station] = wanted
            if "correction" in question.offers:
                return again(wanted, True)
        elif self._still_moving(question):
            return again(wanted, False)
        self._called = None
        return self._take_back(question)

    def _still_moving(self, question: Question) -> bool:
        """Whether the dial is read where it was read just before, so that it is called again."""
        return question.phase in MOVING and question.phase == self._asked_in

    def _insist(self, said: str, question: Question) -> str:
        """What was objected and did not come through, once more; none when it did."""
        words, phase = self._owed
        if said == self._previous:
            return words
        came_through = " taken back" in said or question.phase != phase
        if not words or came_through or read_back(said, self.scale) is not None:
            return ""
        return words

    def _take_back(self, question: Question) -> str:
        if "disregard" not in question.offers:
            raise OperatorStuck(f"something wrong was heard in {question.phase}: no way back")
        return "disregard"

    def _asked(self, said: str, question: Question) -> str:
        """The answer to a question about what was heard; none when it is the phase's own."""
        if pending.ASK_STOP in said:
            return refuse(self._chance, self.manner)
        asking = [sentence for sentence in sentences(said) if sentence.endswith("?")]
        if not asking:
            return ""
        words = asking[-1].rstrip("?").lower().removesuffix(" of a thou")
        words = words.removesuffix(" of a millimetre")
        called = self._called
        _, sign, value = words.rpartition("plus or minus ")
        if sign and isinstance(called, Reading):
            number = parse(value, self.scale)
            if isinstance(number, Reading) and number.value == abs(called.value):
                return "minus" if called.value < 0 else "plus"
            return again(called, False)
        if "yes" not in question.offers:
            return ""
        meaning = parse(words, self.scale)
        if isinstance(meaning, Reading):
            right = isinstance(called, Reading) and (meaning.station, meaning.value) == (
                called.station, called.value,
            )  # fmt: skip
            return (agree if right else refuse)(self._chance, self.manner)
        about = isinstance(meaning, Command) and meaning.name != "yes"
        if about and question.phase != "decide":
            meant = parse(self._last, self.scale) == meaning
            return (agree if meant else refuse)(self._chance, self.manner)
        if said in (pending.STILL_UNPLUGGED, pending.UNTOUCHED) or said.endswith(pending.GO_ON):
            return agree(self._chance, self.manner)
        return ""

    def _aside(self, question: Question) -> str:
        """Now and then something that is not an answer."""
        if self._chance.random() >= self.manner.aside:
            return ""
        words = [w for w in ("say again", "status", "stand by", "help") if w in question.offers]
        return self._chance.choice(words) if words else ""

    # -- by phase ------------------------------------------------------------------------------

    def _act(self, question: Question, said: str) -> str:
        bench = self.bench
        match question.phase:
            case "again" | "afresh" | "decide" | "loosen" | "ease" if self._wrong:
                return self._take_back(question)
            case "again" | "afresh" | "refit" | "lock again":
                further = float(further_deg(self.profile))
                ready = prepare_again(bench, question.phase, further)
                return ready or agree(self._chance, self.manner)
            case "unplugged" | "key out" | "table held" | "all safe" | "spindle checked" | "decide":
                self._finishing = question.phase == "decide"
                return agree(self._chance, self.manner)
            case "set up":
                return self._set_up(question, said)
            case "shim still in":
                there = shim_in_place(bench.shim)
                right = last_time.still_in(there.total, f"{there.place} the bolt") in said
                return (agree if right else refuse)(self._chance, self.manner)
            case "sweep diameter":
                return if_sayable(size_words(self.profile.sweep_diameter, self.scale), self.scale)
            case "tolerance":
                return if_sayable(tolerance_words(self.profile), self.scale)
            case "tighten" if self._planned not in (None, bench.shim):
                return self._take_back(question)
            case "tap lock" if question.station is not None:
                bench.lock_all()
                return self._read_if_shown(question.station)
            case "lock" | "tighten" | "tap lock" | "tighten again":
                bench.lock_all()
                self._planned = None
                return self._settle_first(question) or "locked"
            case "surface" | "relock" | "snug" | "hard":
                return self._settle(question.phase)
            case "zero":
                return self._zero(question)
            case "sweep":
                return self._sweep(question)
            case "once more" if question.station is not None:
                return self._read(question.station)
            case "close":
                return "done" if self._finishing else self._take_back(question)
            case phase if phase in ASTRAY:
                return ASTRAY[phase]
            case _:
                return self._correct(question)

    def _set_up(self, question: Question, said: str) -> str:
        """Agreed to where it is the machine's; asked in few words, by locking."""
        across = size_words(self.profile.sweep_diameter, self.scale)
        within = tolerance_words(self.profile)
        forms = (setup.set_up(across, within, agreed=""), setup.brief(across, within))
        if not any(form in said for form in forms):
            return refuse(self._chance, self.manner)
        if "locked" not in question.offers:
            return agree(self._chance, self.manner)
        self.bench.lock_all()
        return "locked"

    def _correct(self, question: Question) -> str:
        """Work at bolt, shim and lock."""
        bench = self.bench
        match question.phase:
            case "loosen":
                bench.loosen_bolt()
                self._upset = True
                return "done"
            case "shim" | "loosen and shim":
                return self._shim()
            case "bolt still tight":
                return (agree if bench.bolt_tight else refuse)(self._chance, self.manner)
            case "ease" if question.station is not None:
                return self._read(question.station)
            case "ease":
                if not bench.bolt_tight:
                    bench.lock_all()
                bench.ease_lock()
                self._upset = True
                return "done"
            case "tap":
                return self._tap(question)
            case _:
                raise OperatorStuck(f"the operator does not know what to do in {question.phase}")

    def _settle_first(self, question: Question) -> str:
        if self._settled or "settle" not in question.offers:
            return ""
        self._settled = True
        if self._chance.random() >= self.manner.settle:
            return ""
        self.bench.zero("right")
        self._upset = True
        self._noted = 0
        return "settle"

    def _settle(self, phase: str) -> str:
        """One reading of the noise at the right, or "done" after enough of a kind."""
        bearing = BEARINGS["right"]
        enough = SPOTS if phase == "surface" else ENOUGH
        if self._noted >= enough and phase in ("surface", "relock"):
            self._noted = 0
            return "done"
        self._noted += 1
        match phase:
            case "surface":
                bearing += self._astray_deg()
            case "relock":
                self.bench.lock_again()
            case "snug":
                self.bench.ease_lock()
            case _:
                self.bench.lock_all()
        self._called = Reading(self.bench.read_at(bearing), True)
        return again(self._called, False)

    def _astray_deg(self) -> float:
        """How far from the station the tip comes down when the surface is felt out: in a row."""
        return (self._noted - self._chance.uniform(0.7, 1.3)) * float(further_deg(self.profile))

    def _zero(self, question: Question) -> str:
        if self.bench.table_lock != "hard" or not self.bench.bolt_tight:
            return self._take_back(question)
        station = (self._step.station if self._step else None) or STATIONS[0]
        self.bench.zero(station)
        self._upset = False
        self._wrong = {}
        self._visited = {station}
        return "zeroed"

    def _sweep(self, question: Question) -> str:
        if self._upset:
            # It wants readings of a sweep whose zero is gone: back to the zero.
            return self._take_back(question)
        if self._wrong:
            self._called = next(iter(self._wrong.values()))
            return again(self._called, True)
        station = question.station or STATIONS[0]
        others = [name for name in STATIONS if name not in self._visited and name != station]
        free = bool(others) and station not in self._visited
        if free and self._chance.random() < self.manner.out_of_order:
            station = self._chance.choice(others)
        named = station != question.station
        self._visited.add(station)
        return self._read(station, named=named)

    def _look(self, station: Station) -> Decimal:
        """What the person takes the dial to show at a station."""
        return self.bench.read(station)

    def _read(self, station: Station, *, named: bool = False) -> str:
        value = self._look(station)
        if not self.scale.shows(value):
            raise OperatorStuck(f"the dial is off its range at the {station}: {value}")
        self.shown = (station, value)
        self._called = Reading(value, True, station)
        slip = self._called
        if self._chance.random() < self.manner.slip:
            wrong = -value if value and self._chance.random() < 0.5 else value + 2
            slip = replace(slip, value=wrong if self.scale.shows(wrong) else -value)
        return call(slip, self.scale, self._chance, self.manner, named=named)

    def _read_if_shown(self, station: Station) -> str:
        """The dial after locking; beyond its range there is only to say that it is locked."""
        reach = self.scale.reach
        return self._read(station) if abs(self.bench.read(station)) < reach else "locked"

    def _shim(self) -> str:
        total = self._planned
        if total is None:
            raise OperatorStuck("asked to shim without being told which")
        self.bench.loosen_bolt()
        self._upset = True
        self.bench.fit_shim(total)
        if total and self._chance.random() < self.manner.shim_called:
            self._called = Shim(abs(total), "above" if total > 0 else "below")
            return again(self._called, False)
        return "done"

    def _tap(self, question: Question) -> str:
        step = self._step
        if step is None or step.dial_target is None or step.station is None:
            raise OperatorStuck("asked to tap without being told where to")
        if self.bench.table_lock == "hard":
            self.bench.ease_lock()
        station = question.station or step.station
        left = float(step.dial_target - self.bench.read(station))
        if abs(left) > 0.5 * float(self.scale.step):
            self.bench.tap(station, left * self._chance.uniform(0.4, 1.2))
        self._upset = True
        return self._read(station)
