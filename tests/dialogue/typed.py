"""A job played by typed lines, and the lines that lead to each phase (invented readings)."""

from dataclasses import dataclass, field, replace
from decimal import Decimal
from functools import cache

from assistant.devices.text.lines import event_of
from assistant.dialogue.facts import Calls, LastJob
from assistant.dialogue.machine import Instrument, Profile
from assistant.dialogue.messages import (
    Effect,
    Event,
    Heard,
    KeyPressed,
    Listen,
    Result,
    Say,
    Started,
    Step,
)
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.form import Form
from assistant.dialogue.procedures.gap import Gap
from assistant.dialogue.procedures.head import Head
from assistant.dialogue.procedures.heights import Heights
from assistant.dialogue.procedures.introduction import Introducing, StartingPoint
from assistant.dialogue.procedures.last_time import LastTime
from assistant.dialogue.procedures.lock import Lock
from assistant.dialogue.procedures.noise import Settling
from assistant.dialogue.procedures.packing import Feet
from assistant.dialogue.procedures.pin import Pin
from assistant.dialogue.procedures.repeat import Repeat
from assistant.dialogue.procedures.retighten import Retighten
from assistant.dialogue.procedures.safety import Safety
from assistant.dialogue.procedures.setup import SetUp
from assistant.dialogue.procedures.shim import Bolt
from assistant.dialogue.procedures.sides import Sides
from assistant.dialogue.procedures.sign_test import SignTest
from assistant.dialogue.procedures.spindle import Spindle
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.procedures.tap import Tap
from assistant.dialogue.procedures.touch import Touching
from assistant.dialogue.state import State
from assistant.dialogue.step import introduce, put, step
from assistant.dialogue.turn import go
from assistant.metrology.lengths import Length
from grammar.meaning import Meaning
from grammar.scale import Scale

AT = "2026-01-05T09:00:00.000Z"

SAFE = ("yes", "yes", "yes")
ASKED = (*SAFE, "no", "skip", "skip")
READY = (*SAFE, "yes", "locked")
FRONT_HIGH_SIX = ("plus three", "plus six", "plus three", "zero")
RIGHT_HIGH_SIX = ("plus three", "zero", "minus three", "zero")
LEVEL = ("zero", "zero", "zero", "zero")
NEAR_LIMIT = ("plus two", "plus four and a half", "plus four", "plus three")
"""Three high at the front, and most of the doubt is the dial's drift."""
NEAR_LIMIT_ON = ("plus two and a half", "plus four", "plus three", "plus three")
"""The same with every spot moved on."""
NEARER = ("plus two", "plus three and a half", "plus two", "zero")
NO_PLANE = ("plus five", "zero", "plus five", "zero")

KINDS = (
    StartingPoint(Profile(name="small drill"), Profile(name="small drill", scale=Scale("mm", 50))),
    StartingPoint(Profile(name="large drill"), Profile(name="large drill", scale=Scale("mm", 50))),
)

USUAL = Profile(
    surface=tuple(map(Decimal, ["0", "0.5", "0.5", "0", "0", "0.5", "0", "0", "0.5", "0"])),
    relock=tuple(map(Decimal, ["0", "0.5", "0", "0.5", "0.5", "0", "0.5", "0"])),
)
"""A machine whose noise was measured, so that no job at it stops for that."""

WAY_TO: dict[Phase, tuple[str, ...]] = {
    Introducing.WHICH: (),
    Introducing.KIND: ("no",),
    Introducing.WAY: ("no", "yes"),
    Introducing.DIAL_UNIT: ("no", "yes", "yes"),
    Introducing.DIAL_FACE: ("no", "yes", "yes", "yes"),
    Introducing.DIAL_REACH: ("no", "yes", "yes", "yes", "yes"),
    Introducing.SQUARE_AT: ("no", "yes", "no", "no", "yes", "yes"),
    Introducing.SWEEP_SIZE: ("no", "yes", "yes", "yes", "yes", "yes"),
    Introducing.SQUARENESS: ("no", "yes", "yes", "yes", "yes", "yes", "yes"),
    Safety.ALL: (),
    Safety.UNPLUGGED: (),
    Safety.KEY_OUT: SAFE[:1],
    Safety.TABLE_HELD: SAFE[:2],
    LastTime.STILL_IN: SAFE,
    SetUp.SETUP: SAFE,
    SetUp.DIAMETER: (*SAFE, "no"),
    SetUp.TOLERANCE: (*SAFE, "no", "skip"),
    SignTest.SIGN: (*SAFE, "yes"),
    Spindle.SPINDLE: ASKED,
    Spindle.RUNOUT: (*ASKED, "no"),
    Spindle.RUNOUT_SIDE: (*ASKED, "no", "two", "five"),
    Spindle.SHAKE: (*ASKED, "no", "skip"),
    Spindle.END_PLAY: (*ASKED, "no", "skip", "skip"),
    Spindle.QUILL: (*ASKED, "no", "skip", "skip", "skip"),
    Lock.LOCK: (*SAFE, "yes"),
    Settling.SURFACE: (*SAFE, "yes", "settle"),
    Settling.RELOCK: (*SAFE, "yes", "settle", "skip"),
    Settling.SNUG: (*SAFE, "yes", "settle", "skip", "skip"),
    Settling.HARD: (*SAFE, "yes", "settle", "skip", "skip", "plus two"),
    Sweeping.ZERO: READY,
    Gap.ROD: READY,
    Touching.FIRST: READY,
    Touching.SECOND: (*READY, "front"),
    Touching.LAST: (*READY, "front", "right"),
    Sweeping.SWEEP: (*READY, "zeroed"),
    Repeat.AFRESH: (*READY, "zeroed", *NO_PLANE, "next", "next"),
    Sides.ONCE_MORE: (
        *READY,
        "zeroed",
        "minus two",
        "minus twelve",
        "minus ten",
        "zero",
        "done",
        "done",
        "locked",
        "zeroed",
        "minus four",
        "zero",
        "plus four",
        "zero",
    ),
    Repeat.AGAIN: (*READY, "zeroed", *NEAR_LIMIT, "skip"),
    Repeat.REFIT: (
        *READY,
        "zeroed",
        *NEAR_LIMIT,
        "skip",
        "yes",
        "zeroed",
        *NEAR_LIMIT_ON,
        "yes",
    ),
    Close.DECIDE: (*READY, "zeroed", *LEVEL),
    Bolt.LOOSEN: (*READY, "zeroed", *FRONT_HIGH_SIX),
    Bolt.SHIM: (*READY, "zeroed", *FRONT_HIGH_SIX, "done"),
    Retighten.RETIGHTEN: (*READY, "zeroed", *FRONT_HIGH_SIX, "done", "disregard", "disregard"),
    Bolt.TIGHTEN: (*READY, "zeroed", *FRONT_HIGH_SIX, "done", "done"),
    Bolt.BOTH: ("yes", "locked", "zeroed", *FRONT_HIGH_SIX),
    Bolt.STILL: ("yes", "locked", "zeroed", *FRONT_HIGH_SIX, "skip"),
    Tap.EASE: (*READY, "zeroed", *RIGHT_HIGH_SIX),
    Tap.TAP: (*READY, "zeroed", *RIGHT_HIGH_SIX, "done"),
    Tap.TAP_LOCK: (*READY, "zeroed", *RIGHT_HIGH_SIX, "done", "right zero"),
    Pin.PIN: (*READY, "zeroed", *FRONT_HIGH_SIX),
    Head.SNUG_UP: (*READY, "zeroed", *RIGHT_HIGH_SIX),
    Head.MOVE: (*READY, "zeroed", *RIGHT_HIGH_SIX, "done"),
    Head.CLAMP: (*READY, "zeroed", *RIGHT_HIGH_SIX, "done", "right zero"),
    Feet.UNBOLT: (*READY, "zeroed", *RIGHT_HIGH_SIX),
    Feet.PACK: (*READY, "zeroed", *RIGHT_HIGH_SIX, "done"),
    Feet.BOLT_DOWN: (*READY, "zeroed", *RIGHT_HIGH_SIX, "done", "done"),
    Heights.OTHER: (*READY, "zeroed", *LEVEL, "no"),
    Heights.MOVE_TABLE: (*READY, "zeroed", *LEVEL, "no", "yes"),
    Form.FORM: (*READY, "zeroed", *LEVEL, "no", "no"),
    Form.CORNERS: (*READY, "zeroed", *LEVEL, "no", "no", "yes"),
    Form.HOLLOW: (*READY, "zeroed", *LEVEL, "no", "no", "yes", *LEVEL, "zero"),
    Close.CLOSE: (*READY, "zeroed", *LEVEL, "yes"),
    Close.CLOSED: (*READY, "zeroed", *LEVEL, "yes", "done"),
}

WORN = replace(
    USUAL,
    surface=tuple(map(Decimal, ["0", "0.5", "-0.5", "1", "-1", "0.5", "0", "-0.5", "0.5", "-0.5"])),
    hole_depth=Length.of(1, "in"),
)
HEAD = replace(USUAL, kind="head", nod_offset=Length.of(8, "in"))
PACKED = replace(USUAL, kind="packed", span=Length.of(10, "in"))
PINNED = replace(USUAL, kind="pinned")

LEVER = replace(USUAL, instrument=Instrument(higher="ask"))
GAP = replace(USUAL, method="gap")
TOUCH = replace(USUAL, method="touch")

AT_MACHINE: dict[Phase, Profile] = {
    SignTest.SIGN: LEVER, Gap.ROD: GAP,
    Touching.FIRST: TOUCH, Touching.SECOND: TOUCH, Touching.LAST: TOUCH,
    Pin.PIN: PINNED, Head.SNUG_UP: HEAD, Head.MOVE: HEAD, Head.CLAMP: HEAD,
    Repeat.AGAIN: WORN, Repeat.REFIT: WORN,
    Feet.UNBOLT: PACKED, Feet.PACK: PACKED, Feet.BOLT_DOWN: PACKED,
}  # fmt: skip
"""Machines at which the usual one's job does not come to a phase."""

SHIM_IN = LastJob(AT, "three weeks ago", within=Length.of(4, "thou"), shim=Decimal(3))
AFTER: dict[Phase, LastJob] = {LastTime.STILL_IN: SHIM_IN}
"""Phases that only a further job of a machine comes to."""

IN_SHORT: tuple[Phase, ...] = (Safety.ALL, Bolt.BOTH, Bolt.STILL)
"""Phases that only the short form comes to."""


@dataclass(slots=True)
class TypedJob:
    """A job under way; ``said`` is what the last event made it say."""

    state: State
    effects: tuple[Effect, ...]
    events: list[Event] = field(default_factory=list)

    @staticmethod
    def begin(
        profile: Profile | None = None, *, short: bool = False, last: LastJob | None = None
    ) -> "TypedJob":
        """A job that has just begun."""
        started = Started(AT, "typed", profile or USUAL, short, last)
        state, effects = step(None, started)
        return TypedJob(state, effects, [started])

    @staticmethod
    def introduced(*known: str) -> "TypedJob":
        """Before a job, when it is asked which machine it is."""
        state, effects = introduce(known, KINDS)
        return TypedJob(state, effects)

    @staticmethod
    def at(phase: Phase, profile: Profile | None = None) -> "TypedJob":
        """A job that was brought to this phase."""
        brought = _brought_to(phase, profile)
        return TypedJob(brought.state, brought.effects, [*brought.events])

    @staticmethod
    def _at(phase: Phase, profile: Profile | None) -> "TypedJob":
        before = isinstance(phase, Introducing)
        ready = profile or AT_MACHINE.get(phase)
        job = (
            TypedJob.introduced("old drill")
            if before
            else TypedJob.begin(ready, short=phase in IN_SHORT, last=AFTER.get(phase))
        )
        if phase not in WAY_TO:
            # A new one, until the way to it is written down: as if the job had come there.
            job.say(*READY, "zeroed", *LEVEL)
            job.state, job.effects = put(go(job.state, phase))
        job.say(*WAY_TO.get(phase, ()))
        assert job.state.phase is phase
        return job

    def post(self, event: Event) -> str:
        """Any event; returns what is said."""
        self.events.append(event)
        self.state, self.effects = step(self.state, event)
        return self.said

    def say(self, *lines: str) -> str:
        """Typed lines one after the other; returns what is said after the last."""
        for line in lines:
            self.post(event_of(line, AT, self.state.turn, self.state.profile.scale))
        return self.said

    def press(self, keys: str) -> str:
        """Keys with spaces between; returns what is said after the last."""
        for key in keys.split():
            self.post(KeyPressed(AT, self.state.turn, key))
        return self.said

    def hear(self, words: str, meaning: Meaning, **more: object) -> str:
        """An utterance of the voice, by its meaning."""
        heard = Heard(AT, self.state.turn, "voice", "accept", words, meaning)
        return self.post(replace(heard, **more))  # type: ignore[arg-type]

    @property
    def said(self) -> str:
        """What the last event made it say."""
        return " ".join(effect.text for effect in self.effects if isinstance(effect, Say))

    @property
    def listening(self) -> Listen | None:
        """What is listened for since the last event."""
        found = [effect for effect in self.effects if isinstance(effect, Listen)]
        return found[-1] if found else None

    @property
    def step(self) -> Step | None:
        """What the hands were told by the last event."""
        found = [effect for effect in self.effects if isinstance(effect, Step)]
        return found[-1] if found else None

    @property
    def result(self) -> Result | None:
        """The answer that the last event brought."""
        found = [effect for effect in self.effects if isinstance(effect, Result)]
        return found[-1] if found else None

    def values(self) -> dict[str, Decimal]:
        """The readings of the open sweep, the closing one under its own name."""
        return {
            "closing" if taken.closing else taken.station: taken.value
            for taken in self.state.readings
        }


@cache
def _brought_to(phase: Phase, profile: Profile | None) -> TypedJob:
    """The way to a phase is gone once: thousands of tests begin there."""
    return TypedJob._at(phase, profile)


def quiet(state: State) -> State:
    """A state without what a refused word may change: turn, last words, count of misses."""
    heard_well = replace(state.hearing, misses=0)
    return replace(
        state,
        turn=0,
        by="voice",
        last_said="",
        to_repeat="",
        hearing=heard_well,
        calls=Calls(),
        entry="",
        pending=None,
    )
