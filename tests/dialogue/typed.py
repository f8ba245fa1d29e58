"""A job played by typed lines, and the lines that lead to each phase (invented readings)."""

from dataclasses import dataclass, field, replace
from decimal import Decimal

from assistant.devices.lines import event_of
from assistant.dialogue import introducing
from assistant.dialogue.introducing import StartingPoint
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
from assistant.dialogue.phases import INTRODUCTION, Phase
from assistant.dialogue.state import State
from assistant.dialogue.step import step
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
NEAR_LIMIT = ("plus one and a half", "plus two and a half", "plus one", "zero")
NEARER = ("plus two", "plus three and a half", "plus two", "zero")
NO_PLANE = ("plus five", "zero", "plus five", "zero")

KINDS = (
    StartingPoint(Profile(name="small drill"), Profile(name="small drill", scale=Scale("mm", 50))),
    StartingPoint(Profile(name="large drill"), Profile(name="large drill", scale=Scale("mm", 50))),
)

WAY_TO: dict[Phase, tuple[str, ...]] = {
    Phase.WHICH: (),
    Phase.KIND: ("no",),
    Phase.WAY: ("no", "yes"),
    Phase.DIAL_UNIT: ("no", "yes", "yes"),
    Phase.DIAL_FACE: ("no", "yes", "yes", "yes"),
    Phase.DIAL_REACH: ("no", "yes", "yes", "yes", "yes"),
    Phase.SQUARE_AT: ("no", "yes", "no", "no", "yes", "yes"),
    Phase.SWEEP_SIZE: ("no", "yes", "yes", "yes", "yes", "yes"),
    Phase.SQUARENESS: ("no", "yes", "yes", "yes", "yes", "yes", "yes"),
    Phase.UNPLUGGED: (),
    Phase.KEY_OUT: SAFE[:1],
    Phase.TABLE_HELD: SAFE[:2],
    Phase.SETUP: SAFE,
    Phase.DIAMETER: (*SAFE, "no"),
    Phase.TOLERANCE: (*SAFE, "no", "skip"),
    Phase.SIGN: (*SAFE, "yes"),
    Phase.SPINDLE: ASKED,
    Phase.RUNOUT: (*ASKED, "no"),
    Phase.RUNOUT_SIDE: (*ASKED, "no", "two", "five"),
    Phase.SHAKE: (*ASKED, "no", "skip"),
    Phase.END_PLAY: (*ASKED, "no", "skip", "skip"),
    Phase.QUILL: (*ASKED, "no", "skip", "skip", "skip"),
    Phase.LOCK: (*SAFE, "yes"),
    Phase.SURFACE: (*SAFE, "yes", "settle"),
    Phase.RELOCK: (*SAFE, "yes", "settle", "skip"),
    Phase.SNUG: (*SAFE, "yes", "settle", "skip", "skip"),
    Phase.HARD: (*SAFE, "yes", "settle", "skip", "skip", "plus two"),
    Phase.ZERO: READY,
    Phase.ROD: READY,
    Phase.TOUCH_FIRST: READY,
    Phase.TOUCH_SECOND: (*READY, "front"),
    Phase.TOUCH_LAST: (*READY, "front", "right"),
    Phase.SWEEP: (*READY, "zeroed"),
    Phase.AFRESH: (*READY, "zeroed", *NO_PLANE, "next", "next", "next", "next"),
    Phase.AGAIN: (*READY, "zeroed", *NEAR_LIMIT),
    Phase.LOCK_AGAIN: (*READY, "zeroed", *NEAR_LIMIT, "yes"),
    Phase.REFIT: (
        *READY,
        "zeroed",
        *NEAR_LIMIT,
        "yes",
        "locked",
        "zeroed",
        *NEARER,
        "yes",
    ),
    Phase.DECIDE: (*READY, "zeroed", *LEVEL),
    Phase.LOOSEN: (*READY, "zeroed", *FRONT_HIGH_SIX),
    Phase.SHIM: (*READY, "zeroed", *FRONT_HIGH_SIX, "done"),
    Phase.TIGHTEN: (*READY, "zeroed", *FRONT_HIGH_SIX, "done", "done"),
    Phase.EASE: (*READY, "zeroed", *RIGHT_HIGH_SIX),
    Phase.TAP: (*READY, "zeroed", *RIGHT_HIGH_SIX, "done"),
    Phase.TAP_LOCK: (*READY, "zeroed", *RIGHT_HIGH_SIX, "done", "right zero"),
    Phase.PIN: (*READY, "zeroed", *FRONT_HIGH_SIX),
    Phase.SNUG_UP: (*READY, "zeroed", *RIGHT_HIGH_SIX),
    Phase.MOVE: (*READY, "zeroed", *RIGHT_HIGH_SIX, "done"),
    Phase.CLAMP: (*READY, "zeroed", *RIGHT_HIGH_SIX, "done", "right zero"),
    Phase.UNBOLT: (*READY, "zeroed", *RIGHT_HIGH_SIX),
    Phase.PACK: (*READY, "zeroed", *RIGHT_HIGH_SIX, "done"),
    Phase.BOLT_DOWN: (*READY, "zeroed", *RIGHT_HIGH_SIX, "done", "done"),
    Phase.OTHER: (*READY, "zeroed", *LEVEL, "no"),
    Phase.MOVE_TABLE: (*READY, "zeroed", *LEVEL, "no", "yes"),
    Phase.FORM: (*READY, "zeroed", *LEVEL, "no", "no"),
    Phase.CORNERS: (*READY, "zeroed", *LEVEL, "no", "no", "yes"),
    Phase.HOLLOW: (*READY, "zeroed", *LEVEL, "no", "no", "yes", *LEVEL, "zero"),
    Phase.CLOSE: (*READY, "zeroed", *LEVEL, "yes"),
    Phase.CLOSED: (*READY, "zeroed", *LEVEL, "yes", "done"),
}

HEAD = replace(Profile(), kind="head", nod_offset=Length.of(8, "in"))
PACKED = replace(Profile(), kind="packed", span=Length.of(10, "in"))
PINNED = replace(Profile(), kind="pinned")

LEVER = replace(Profile(), instrument=Instrument(higher="ask"))
GAP = replace(Profile(), method="gap")
TOUCH = replace(Profile(), method="touch")

AT_MACHINE: dict[Phase, Profile] = {
    Phase.SIGN: LEVER, Phase.ROD: GAP,
    Phase.TOUCH_FIRST: TOUCH, Phase.TOUCH_SECOND: TOUCH, Phase.TOUCH_LAST: TOUCH,
    Phase.PIN: PINNED, Phase.SNUG_UP: HEAD, Phase.MOVE: HEAD, Phase.CLAMP: HEAD,
    Phase.UNBOLT: PACKED, Phase.PACK: PACKED, Phase.BOLT_DOWN: PACKED,
}  # fmt: skip
"""Machines at which the usual one's job does not come to a phase."""


@dataclass(slots=True)
class TypedJob:
    """A job under way; ``said`` is what the last event made it say."""

    state: State
    effects: tuple[Effect, ...]
    events: list[Event] = field(default_factory=list)

    @staticmethod
    def begin(profile: Profile | None = None) -> "TypedJob":
        """A job that has just begun."""
        started = Started(AT, "typed", profile or Profile())
        state, effects = step(None, started)
        return TypedJob(state, effects, [started])

    @staticmethod
    def introduced(*known: str) -> "TypedJob":
        """Before a job, when it is asked which machine it is."""
        state, effects = introducing.begin(known, KINDS)
        return TypedJob(state, effects)

    @staticmethod
    def at(phase: Phase, profile: Profile | None = None) -> "TypedJob":
        """A job that was brought to this phase."""
        before = phase in INTRODUCTION
        ready = profile or AT_MACHINE.get(phase)
        job = TypedJob.introduced("old drill") if before else TypedJob.begin(ready)
        job.say(*WAY_TO[phase])
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


def quiet(state: State) -> State:
    """A state without what a refused word may change: turn, last words, count of misses."""
    return replace(state, turn=0, last_said="", misses=0, entry="", pending=None)
