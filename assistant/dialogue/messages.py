"""Events into the dialogue and effects out of it: two closed unions of plain data.

Events are what the journal keeps, so a field may be added with a default but not change
its meaning. Times are ISO 8601 text in UTC, made by the shell; the dialogue has no clock.
"""

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from assistant.dialogue.facts import LastJob
from assistant.dialogue.machine import Profile
from assistant.metrology.answer import Answer
from grammar.meaning import Hypothesis, Meaning, Place
from grammar.offer import Offer
from grammar.vocabulary import Station

Channel = Literal["voice", "text", "keypad"]
Decision = Literal["accept", "ask", "reject", "talk"]
"""What is done with an utterance. "reject": likely a call to us, but not clear enough to ask about;
"talk": likely nobody's call."""

TURNED_DOWN: tuple[Decision, ...] = ("reject", "talk")
SURE_TOGETHER = 0.07
"""The doubt that two hearings of the same may leave together: that of one clear call."""
Device = Literal["microphone", "speaker", "recogniser", "voice", "keypad", "screen"]


@dataclass(frozen=True, slots=True)
class Started:
    """A job begins.

    ``job`` is its identifier in the record; ``short``: prompts in few words; ``last``: how the
    last job of the machine left it, None where there was none. ``quiet``: prompts are read, not
    spoken, until the person asks for the voice.
    """

    at: str
    job: str
    profile: Profile
    short: bool = False
    last: LastJob | None = None
    quiet: bool = False


@dataclass(frozen=True, slots=True)
class Resumed:
    """The job is taken up again after the program stopped.

    ``day``: when it was last worked on, as it is spoken: "today", "Monday", "May third".
    ``quiet``: as when a job starts; None where that is as it was.
    """

    at: str
    day: str = ""
    quiet: bool | None = None


Do = Literal[
    "loosen", "shim", "tighten", "zero", "set", "lower", "tap", "nod", "tilt", "pull pin",
    "refit", "relock", "close",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Step:
    """Something for the person to do.

    ``what``: the part that is loosened, tightened or set. ``total``: the whole shim that should
    be in, in counts, made of ``leaves``; the leaf that a rod is set to. ``change``,
    ``dial_target``: in counts, at ``station``.
    """

    do: Do
    what: str = ""
    place: Place | None = None
    total: Decimal | None = None
    leaves: tuple[Decimal, ...] = ()
    station: Station | None = None
    change: Decimal | None = None
    dial_target: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Heard:
    """An utterance, typed words or a keypad entry, understood as far as possible.

    ``turn``: the turn that was listening when it began; an old one is dropped.
    ``alternatives``: other ways that it may have been meant, likeliest first.
    ``after_quiet``: nothing was heard for a while before it. ``phase``: where the job stood as it
    came, and ``told``: what the hands were told there, if that is new; for the record, which a
    later version may play again. Empty where it came too late.
    """

    at: str
    turn: int
    source: Channel
    outcome: Decision
    words: str
    meaning: Meaning
    confidence: float = 1.0
    alternatives: tuple[Hypothesis, ...] = ()
    after_quiet: bool = False
    phase: str = ""
    told: Step | None = None


@dataclass(frozen=True, slots=True)
class KeyPressed:
    """One key of the numeric keypad: "0" to "9", ".", "+", "-", "*", "/" or "enter".

    ``phase``, ``told``: as of what is heard.
    """

    at: str
    turn: int
    key: str
    phase: str = ""
    told: Step | None = None


@dataclass(frozen=True, slots=True)
class DeviceLost:
    """A device stopped working; ``reason`` is for the record."""

    at: str
    device: Device
    reason: str


@dataclass(frozen=True, slots=True)
class DeviceBack:
    """A device works again."""

    at: str
    device: Device


@dataclass(frozen=True, slots=True)
class RoomNoise:
    """The room became too loud to hear by voice, or quiet enough again."""

    at: str
    too_loud: bool


@dataclass(frozen=True, slots=True)
class ClockSet:
    """The computer's clock was set by so many seconds, backwards negative; ``at`` is after."""

    at: str
    by_s: float


@dataclass(frozen=True, slots=True)
class LongSilence:
    """Nobody has answered for so many hours: the machine may have been used meanwhile."""

    at: str
    hours: float


Event = (
    Started
    | Resumed
    | Heard
    | KeyPressed
    | DeviceLost
    | DeviceBack
    | RoomNoise
    | ClockSet
    | LongSilence
)


@dataclass(frozen=True, slots=True)
class Say:
    """Speak this; it is also the line to print."""

    text: str


@dataclass(frozen=True, slots=True)
class Tone:
    """A short answer before the voice: heard, asked (something is unclear), missed, key."""

    name: Literal["heard", "asked", "missed", "key"]


@dataclass(frozen=True, slots=True)
class Listen:
    """Listen for this offer; what is heard carries this turn back."""

    turn: int
    phase: str
    station: Station | None
    offer: Offer


@dataclass(frozen=True, slots=True)
class Result:
    """The answer of a complete sweep; ``sweep`` counts from 1."""

    sweep: int
    answer: Answer


@dataclass(frozen=True, slots=True)
class Closed:
    """The job has ended: write the report. ``finished`` is False when it can go on."""

    finished: bool


@dataclass(frozen=True, slots=True)
class NewJob:
    """The person does not want to go on with this job now: it is kept, and another is offered."""


@dataclass(frozen=True, slots=True)
class Learned:
    """Something about the machine was measured: keep it with its profile."""

    profile: Profile


@dataclass(frozen=True, slots=True)
class Confirmed:
    """What was heard in these turns was meant: the ears may learn from it."""

    turns: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class TakenBack:
    """What was heard in these turns was not meant: what the ears learnt from it is forgotten."""

    turns: tuple[int, ...]


VoiceWish = Literal["louder", "softer", "slower", "faster", "quiet", "talk", "short", "long"]


@dataclass(frozen=True, slots=True)
class Tuned:
    """How the program should speak from now on, in other jobs as well."""

    name: VoiceWish


@dataclass(frozen=True, slots=True)
class MachineChosen:
    """The machine of the job is known: begin. ``made``: a new one, to be kept under its name."""

    name: str
    made: Profile | None = None


Effect = (
    Say | Tone | Listen | Result | Step | Closed | NewJob | Learned | Tuned | MachineChosen
    | Confirmed | TakenBack
)  # fmt: skip
