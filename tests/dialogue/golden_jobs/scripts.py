"""Jobs by lines that were thought out, for what people at machines seldom come to.

A line is typed words, or one of these: ``key 6 enter`` presses keys; ``ask 0.6 front plus six``
is a voice that was heard with doubt, ``voice 0.95 ...`` with none, ``turned down ...`` not taken;
``talk ...`` is nobody's call. What else it may have been stands behind ``|``. ``late ...`` answers
the question before; ``lost microphone``, ``back microphone``, ``loud``, ``quiet``, ``resumed``,
``clock -3600``, ``hours 9`` without an answer.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import get_args

from assistant.devices.text.lines import event_of
from assistant.dialogue.facts import LastJob, Learnt
from assistant.dialogue.machine import METRIC_STOCK, Instrument, Profile
from assistant.dialogue.messages import (
    ClockSet,
    Decision,
    Device,
    DeviceBack,
    DeviceLost,
    Event,
    Heard,
    KeyPressed,
    LongSilence,
    Resumed,
    RoomNoise,
    Started,
)
from assistant.dialogue.procedures.sides import Sides
from assistant.dialogue.state import State
from assistant.dialogue.step import introduce, step
from assistant.metrology.lengths import Length
from assistant.records.machines.presets import preset
from assistant.simulation.bench import profile_for
from grammar.meaning import Hypothesis
from grammar.parse import parse
from grammar.scale import Scale
from tests.dialogue.golden_jobs.files import starting_points
from tests.dialogue.typed import (
    AT,
    FRONT_HIGH_SIX,
    GAP,
    HEAD,
    LEVEL,
    LEVER,
    NEAR_LIMIT,
    NEAR_LIMIT_ON,
    NEARER,
    NO_PLANE,
    PACKED,
    PINNED,
    READY,
    RIGHT_HIGH_SIX,
    SAFE,
    SHIM_IN,
    TOUCH,
    USUAL,
    WAY_TO,
    WORN,
)

SHIM_IN_LEARNT = replace(SHIM_IN, learnt=(Learnt("shim", 2.0, 0.2, Length.of(10, "in"), 21.0, AT),))
AGAIN = ("yes", "zeroed")
CONTINUOUS = Profile(instrument=Instrument(face="continuous"))
ONE_WAY = Profile(
    scale=Scale("thou", 50), instrument=Instrument(face="continuous", per_turn=20, counter=True)
)
SLANTED = Profile(
    instrument=Instrument(
        face="continuous", higher="minus", lever_deg=Decimal(15), tip="involute", limit=Decimal(1)
    )
)
SQUARE = Profile(method="square", instrument=Instrument(square_height=Length.of(5, "in")))
METRIC_GAP = replace(profile_for("mm"), method="gap", instrument=Instrument(gauges=METRIC_STOCK))
METRIC_SQUARE = replace(
    profile_for("mm"), method="square", instrument=Instrument(square_height=Length.of(150, "mm"))
)
ONE_SIDED = replace(
    Profile(),
    front_may_be="high",
    span=Length.of(4, "in"),
    pivot_offset=Length.of(1, "in"),
    tolerance=Length.of(3, "thou"),
    tolerance_over=Length.of(12, "in"),
    leaf_tolerance=Decimal("0.2"),
    hole_depth=Length.of(2, "in"),
    max_leaves=2,
)
DEVICES: dict[str, Device] = {name: name for name in get_args(Device)}


def knee_mill() -> Profile:
    """A head at a fine metric dial."""
    found = preset("knee mill", "metric")
    assert found is not None
    return found


EVERYTHING = ("say again", "status", "help")


@dataclass(frozen=True, slots=True)
class Script:
    """A job's lines; ``known``: the machines that have a file, where it begins before its own;
    ``last``: how the job before left the machine."""

    lines: tuple[str, ...]
    profile: Profile = USUAL
    known: tuple[str, ...] | None = None
    short: bool = False
    last: LastJob | None = None


def play(script: Script) -> list[Event]:
    """The events of the job."""
    events: list[Event] = []
    if script.known is None:
        events.append(Started(AT, "golden", script.profile, script.short, script.last))
        state, _ = step(None, events[0])
    else:
        state, _ = introduce(script.known, starting_points())
    for line in script.lines:
        for event in _events(line, state):
            events.append(event)
            # A key's turn is that of the question that it answers.
            if isinstance(event, KeyPressed):
                event = replace(event, turn=state.turn)
                events[-1] = event
            state, _ = step(state, event)
    return events


def _events(line: str, state: State) -> list[Event]:
    first, _, rest = line.partition(" ")
    match first:
        case "key":
            return [KeyPressed(AT, state.turn, key) for key in rest.split()]
        case "ask" | "voice":
            confidence, _, words = rest.partition(" ")
            outcome: Decision = "ask" if first == "ask" else "accept"
            return [_heard(words, state, outcome, float(confidence))]
        case "turned":
            return [_heard(rest.removeprefix("down "), state, "reject", 0.1)]
        case "talk":
            return [_heard(rest, state, "talk", 0.01)]
        case "hours":
            return [LongSilence(AT, float(rest))]
        case "late":
            return [event_of(rest, AT, state.turn - 1, state.profile.scale)]
        case "lost" | "back" if rest in DEVICES:
            device = DEVICES[rest]
            lost = first == "lost"
            return [DeviceLost(AT, device, "unplugged") if lost else DeviceBack(AT, device)]
        case _ if line in _PLAIN:
            return [_PLAIN[line]()]
        case "clock":
            return [ClockSet(AT, float(rest))]
        case _:
            return [event_of(line, AT, state.turn, state.profile.scale)]


_PLAIN: dict[str, Callable[[], Event]] = {
    "loud": lambda: RoomNoise(AT, True),
    "quiet": lambda: RoomNoise(AT, False),
    "resumed": lambda: Resumed(AT),
}


def _heard(words: str, state: State, outcome: Decision, confidence: float) -> Heard:
    scale = state.profile.scale
    said, *others = (each.strip() for each in words.split("|"))
    guesses = tuple(
        Hypothesis(each, parse(each, scale), round(confidence / (n + 1), 3))
        for n, each in enumerate(others, 1)
    )
    return Heard(AT, state.turn, "voice", outcome, said, parse(said, scale), confidence, guesses)


BOTH_HIGH = ("plus five and a half", "plus seven", "plus one and a half", "zero")
"""Front and right, the front more."""

SCRIPTS: dict[str, Script] = {
    "script-short": Script((
        "yes", "locked", "zeroed", *FRONT_HIGH_SIX, "done", "locked", "zeroed",
        "plus one and a half", "plus three", "say again", "plus one and a half", "zero",
        "shim three above", "disregard", "done", "locked", "zeroed", *LEVEL, "disregard", "no",
        "no", "no", "yes", "done",
    ), short=True),
    "script-short-and-long": Script((
        "short", "no", "yes", "yes", "yes", "no", "skip", "skip", "yes", "yes", "yes", "locked",
        "zeroed", *RIGHT_HIGH_SIX, "done", "right zero", "locked", "zeroed", "long",
        *NEAR_LIMIT, "key / .", "yes", "locked", "zeroed", *LEVEL, "finish", "done",
    )),
    "script-front-to-back": Script((
        *READY, "zeroed", *FRONT_HIGH_SIX, "done", "shim three above", "locked", "zeroed",
        "plus one and a half", "plus three", "plus one and a half", "zero",
        "done", "done", "locked", "zeroed", *LEVEL, "yes", "done",
    )),
    "script-sides-exchanged": Script((
        *WAY_TO[Sides.ONCE_MORE], "left plus four", "plus four",
        "locked", "zeroed", "plus four", "zero", "minus four", "zero",
    )),
    "script-sides-not-exchanged": Script((*WAY_TO[Sides.ONCE_MORE], "disregard", "zero",
                                          "minus four", "skip")),
    "script-side-to-side": Script((
        *READY, "zeroed", *RIGHT_HIGH_SIX, "done", "plus one", "minus two", "front zero",
        "right zero", "done", "locked", "zeroed", *LEVEL, "no", "no", "no", "finish", "done",
    )),
    "script-safety-refused": Script((
        "no", "no", "yes", "no", "yes", "no", "disregard", "yes", "yes", "no", "ten inches",
        "three",
        "no", "skip", "plus two", "yes", *EVERYTHING, "yes", "locked", "disregard", "disregard",
        "yes", "locked", "front plus three", "zeroed",
    )),
    "script-set-up": Script((
        *SAFE, "no", "nine", "forty one", "two and a half", "disregard", "disregard", "no", "skip",
        "zero", "one hundred and fifty", "four", "yes", "yes", "disregard", "no", "eight inches",
        "two hundred millimetres", "skip", "yes", "yes",
    )),
    "script-set-up-metric": Script((
        *SAFE, "no", "two hundred", "point zero eight", "no", "skip", "skip", "skip", "skip",
        "yes", "locked", "zeroed", "plus ten", "plus twenty", "plus ten", "zero", "done",
        "shim point one five", "yes", "locked", "zeroed", "zero", "plus two", "zero", "zero",
        "yes", "yes", "done",
    ), profile_for("mm")),
    "script-spindle-checks": Script((
        *SAFE, "no", "skip", "skip", "no", "two", "disregard", "two", "five", "yes", "disregard",
        "no", "half", "four", "disregard", "four", "one and a half", "two", "plus", "disregard",
        "plus two", "minus one", "yes", "yes", "locked", "zeroed", *LEVEL, "status",
    )),
    "script-spindle-bad": Script((
        *SAFE, "no", "skip", "skip", "no", "nine", "twelve", "skip", "six", "eight", "six",
        "plus nine", "minus nine", "skip", "yes", "locked", "zeroed", "plus one", "plus two",
        "plus one", "zero", "no", "yes", "yes", "done",
    )),
    "script-spindle-by-keys": Script((
        "key enter enter enter", "key - / 4 / 4 -", "key 2 enter 5 enter -",
        "key 0 enter 3 enter 0 enter",
        "key + 2 enter - . 5 enter", "key enter enter enter", "key 0 enter 0 enter 0 enter 0 enter",
        "key - - -", "key enter enter",
    )),
    "script-settle": Script((
        *READY[:-1], "settle", "plus one", "zero", "done", "plus half", "disregard", "plus half",
        "done", "plus one", "plus three", "minus one", "disregard", "zero", "done", "plus two",
        "disregard", "plus two", "plus four", "locked", "zeroed", *LEVEL, "status", "disregard",
    )),
    "script-settle-signs": Script((
        *READY, "settle", "two", "minus", "front plus three", "plus one", "plus one", "done",
        "skip",
        "skip", "locked", "settle", "skip", "skip", "plus one", "skip", "locked", "zeroed",
    )),
    "script-disregard-everywhere": Script((
        "disregard", "yes", "disregard", "yes", "yes", "disregard", "yes", "yes", "disregard",
        "yes",
        "yes", "locked", "disregard", "locked", "zeroed", "disregard", "zeroed", "plus three",
        "disregard", "plus three", "plus six", "plus three", "disregard", "minus three",
        "disregard",
        "plus three", "zero", "disregard", "zero", "done", "disregard", "done", "disregard", "done",
        "done", "disregard", "shim four above", "disregard", "done", "done", "locked", "disregard",
        "locked", "zeroed", *LEVEL, "disregard", "disregard", "zero", "zero", "no", "disregard",
        "no",
        "yes", "disregard", "no", "yes", "disregard", "yes", "plus one", "disregard", "skip",
        "disregard", "skip", "yes", "disregard", "yes", "done",
    )),
    "script-disregard-tapping": Script((
        *READY, "zeroed", *RIGHT_HIGH_SIX, "disregard", "zero", "done", "disregard", "done",
        "right zero", "disregard", "plus one", "right zero", "locked", "disregard", "locked",
        "zeroed", "plus one", "zero", "minus one", "zero", "disregard", "disregard", "disregard",
        "minus one", "half", "plus", "no",
    )),
    "script-corrections": Script((
        *READY, "zeroed", "plus three", "correction plus four", "correction", "plus five",
        "correction", "next", "front plus six", "correction right plus three", "left plus nine",
        "disregard", "left plus three", "correction front plus six and a half",
        "correction back zero",
        "zero", "correction plus one", "correction left plus three", "disregard", "correction zero",
    )),
    "script-out-of-order": Script((
        *READY, "zeroed", "left plus three", "front plus six", "disregard", "disregard",
        "front plus six", "left plus three", "right plus two", "right plus three", "disregard",
        "right plus three", "back zero",
    )),
    "script-correction-then-disregard": Script((
        *READY, "zeroed", "plus three", "plus six", "correction right plus two", "disregard",
        "right plus three", "plus three", "correction right plus four",
        "correction front plus seven",
        "disregard", "disregard", "front plus six", "right plus three", "zero",
    )),
    "script-bare-numbers": Script((
        *READY, "zeroed", "three", "plus", "six", "say again", "minus", "correction six", "plus",
        "three", "disregard", "three", "status", "no", "plus three", "zero",
    )),
    "script-does-not-fit": Script((
        *READY, "zeroed", *NO_PLANE, "next", "status", "next", "next", "next", "yes", "zeroed",
        *NO_PLANE, "minus five", "plus five", "zero", "zero",
    )),
    "script-does-not-fit-no": Script((
        *READY, "zeroed", *NO_PLANE, "next", "next", "next", "next", "no", "yes", "plus three",
        "minus three", "plus three", "minus three", "zero", "two", "finish", "yes", "done",
    )),
    "script-sign-slip": Script((
        *READY, "zeroed", "plus five", "minus ten", "plus five", "zero", "plus ten", "yes",
        "disregard", "disregard", "zero", "next",
    )),
    "script-drift": Script((
        *READY, "zeroed", "plus three", "plus six", "plus three", "plus four", "zeroed",
        "plus three",
        "plus six", "plus three", "plus one", "status", "done",
    )),
    "script-drift-to-the-end": Script((
        *READY, "zeroed", "plus three", "plus seven", "plus four", "plus one", "done", "done",
        "locked", "zeroed", "zero", "half", "plus", "half", "plus", "plus one", "status", "done",
    )),
    "script-off-the-dial": Script((
        *READY, "zeroed", "plus ninety", "plus thirty one", "plus point three", "plus six tenths",
        "plus six thou", "plus ten hundredths", "plus five microns", "front left", "plus plus",
        "plus thirty", "minus thirty",
    )),
    "script-repeated": Script((
        *READY, "zeroed", *NEAR_LIMIT, "skip", *AGAIN, *NEAR_LIMIT, "disregard", "plus three", "no",
        "yes", "done",
    ), WORN),
    "script-refit": Script((
        *READY, "zeroed", *NEAR_LIMIT, "skip", *AGAIN, *NEAR_LIMIT_ON, "yes", "disregard", "yes",
        "done", "zeroed", "plus two", "plus three", "plus three and a half", "plus three", "status",
        "yes", "done",
    ), WORN),
    "script-refit-turned": Script((
        *READY, "zeroed", *NEAR_LIMIT, "skip", *AGAIN, *NEAR_LIMIT_ON, "yes", "skip", "zeroed",
        *NEAR_LIMIT, "no", "no", "yes", "done",
    ), WORN),
    "script-declined": Script((
        *READY, "zeroed", *NEAR_LIMIT, "disregard", "zero", "no", "skip", "yes", "finish", "no",
        "finish", "yes", "done",
    )),
    "script-other-heights": Script((
        *READY, "zeroed", *LEVEL, "no", "yes", "front plus three", "locked", "zeroed", "plus two",
        "plus four", "plus two", "zero", "yes", "locked", "zeroed", "minus two", "minus four",
        "minus two", "zero", "disregard", "zero", "no", "status", "no", "no", "done", "done",
        "locked",
        "zeroed", *LEVEL, "yes", "done",
    )),
    "script-form": Script((
        *READY, "zeroed", *LEVEL, "no", "no", "yes", "two", "minus", "disregard", "plus four",
        "front right minus four", "minus four", "plus four", "minus four", "zero", "disregard",
        "zero", "three", "yes", "done",
    )),
    "script-form-does-not-fit": Script((
        *READY, "zeroed", *LEVEL, "no", "no", "yes", *LEVEL, "plus six", "skip", "no", "no", "yes",
        "skip", "yes", "done",
    )),
    "script-skipped": Script((
        *READY, "zeroed", "plus four", "plus eight", "plus six", "zero", "skip", "no", "skip",
        "yes",
        "skip", "yes", "status", "finish", "yes", "done",
    )),
    "script-shims-by-hand": Script((
        *READY, "zeroed", *FRONT_HIGH_SIX, "done", "shim", "shim two and a half", "disregard",
        "shim three below", "disregard", "no shim", "disregard", "shim four", "locked", "zeroed",
        "minus two", "minus four", "minus two", "zero", "done", "skip", "no", "done", "locked",
        "zeroed", "plus half", "zero", "minus half", "zero", "yes", "done",
    )),
    "script-made-worse": Script((
        *READY, "zeroed", *FRONT_HIGH_SIX, "done", "done", "locked", "zeroed", "plus six",
        "plus twelve", "plus six", "zero", "done", "done", "locked", "zeroed", "plus five",
        "plus nine", "plus four", "zero", "done", "done",
    )),
    "script-far-out": Script((
        *READY, "zeroed", "plus fifteen", "plus thirty", "plus fifteen", "zero", "done", "done",
        "locked", "zeroed", "plus twelve", "plus twenty four", "plus twelve", "zero", "status",
        "done",
        "done", "locked", "zeroed", "minus five", "minus ten", "minus five", "zero", "done",
    )),
    "script-one-sided": Script((
        *READY, "zeroed", "minus one", "minus two", "minus one", "zero", "done", "done", "locked",
        "zeroed", "plus one", "plus one and a half", "half", "plus", "zero", "yes", "done",
    ), ONE_SIDED),
    "script-doubtful": Script((
        *READY, "zeroed", "ask 0.6 plus six | plus three | minus six", "no", "no", "no",
        "ask 0.6 plus six | front plus six", "yes", "ask 0.7 six", "ask 0.9 six", "minus",
        "ask 0.5 left plus three", "ask 0.8 left plus three", "ask 0.97 zero", "ask 0.4 disregard",
        "yes", "ask 0.5 zero", "turned down zero", "ask 0.5 zero", "yes",
    )),
    "script-doubtful-commands": Script((
        "ask 0.5 yes", "ask 0.9 yes", "ask 0.5 say again", "ask 0.5 yes", "turned down yes",
        "ask 0.9 yes", "turned down mumble", "turned down mumble", "yes", "ask 0.4 help", "no",
        "ask 0.4 status", "yes", "yes", "ask 0.6 locked | zeroed", "ask 0.6 locked",
        "ask 0.95 locked",
        "voice 0.92 zeroed", "ask 0.9 plus three", "ask 0.5 stop", "ask 0.5 no", "no",
        "ask 0.9 stop",
        "yes",
    )),
    "script-doubtful-other-station": Script((
        *READY, "zeroed", "voice 0.9 front plus six", "ask 0.8 left plus three | front plus three",
        "say again", "yes", "ask 0.6 correction plus four", "ask 0.6 right plus three", "no",
        "ask 0.6 front minus six", "no", "ask 0.6 right plus three", "ask 0.99 right plus three",
    )),
    "script-misheard-alternatives": Script((
        *READY, "zeroed", "voice 0.95 plus three | plus nine", "voice 0.9 plus sixteen | plus six",
        "voice 0.95 plus three", "voice 0.99 zero", "yes", "status",
    )),
    "script-keys": Script((
        "key enter enter enter enter enter enter", "key + 3 enter", "key + 6 . 5 enter",
        "key 3 enter",
        "key +", "key / /", "key - + 3 . 5 enter", "key 0 enter", "key enter", "key + 2 enter",
        "key enter enter", "key *", "key + 2 enter + 4 enter + 2 enter 0 enter", "key -",
        "key enter enter enter enter", "key 0 enter 0 enter 0 enter 0 enter", "key enter enter",
    )),
    "script-keys-wrong": Script((
        *READY, "zeroed", "key . enter", "key 9 9 9 9 9 9 9 9 9", "key /", "key what", "key . .",
        "key enter", "key / 7 / 3 / 0", "key 5", "key / 0 / 1 / 2 / 8 -", "key / 6", "key / 9",
        "key / *",
        "key / 8 enter", "key 1",
    )),
    "script-devices": Script((
        "lost microphone", "lost microphone", "yes", "lost voice", "lost speaker",
        "back microphone",
        "back microphone", "lost keypad", "back keypad", "lost recogniser", "back recogniser",
        "yes",
        "loud", "loud", "yes", "quiet", "quiet", "lost screen", "clock -3600", "clock 40", "yes",
        "locked", "loud", "late locked", "zeroed", "late zeroed", "quiet", "resumed", "yes", "yes",
    )),
    "script-stand-by": Script((
        *READY, "zeroed", "plus three", "stand by", "plus six", "status", "turned down x",
        "ask 0.9 go ahead", "go ahead", "stand by", "stop", "no", "stand by", "stop", "yes",
        "plus six", "resumed", "yes", "no", "yes", "plus six", "plus three", "zero",
    )),
    "script-resumed": Script((
        "yes", "resumed", "yes", "yes", "resumed", "stand by", "go ahead", "yes", "say again",
        "yes",
        "yes", "yes", "locked", "zeroed", "three", "resumed", "yes", "yes", "plus three",
        "ask 0.5 plus six", "resumed", "help", "yes", "yes", "plus six", "plus three", "zero",
        "resumed", "no", "yes", "done",
    )),
    "script-overnight": Script((
        *READY, "hours 9", "zeroed", "plus three", "hours 9", "talk weather", "talk locked", "yes",
        "plus six", "stand by", "hours 12", "go ahead", "no", "locked", "zeroed", "plus three",
        "ask 0.6 help", "hours 9", "turned down x", "talk x", "turned down x", "turned down x",
        "yes", "plus six", "plus three", "zero", "hours 9",
    )),
    "script-finish-early": Script((
        *READY, "zeroed", *FRONT_HIGH_SIX, "finish", "no", "finish", "yes", "disregard", "done",
        "finish",
        "done", "locked", "zeroed", *NEAR_LIMIT, "no", "finish", "yes", "done", "yes", "resumed",
    )),
    "script-stop-at-once": Script((
        "stop", "say again", "no", "stop", "yes", "yes", "resumed", "yes",
    )),
    "script-not-now": Script((
        "locked", "zeroed", "plus three", "finish", "go ahead", "shim three above", "plus", "front",
        "correction", "nonsense", "yes", "settle", "yes", "yes", "next", "yes", "done", "locked",
        "yes",
        "zeroed", "finish", "locked", "shim three above", "front", "done",
    )),
    "script-continuous": Script((
        *READY, "zeroed", "ninety seven", "ninety nine and a half", "two", "zero", "status",
        "correction ninety six", "disregard", "zero", "no",
    ), CONTINUOUS),
    "script-continuous-coached": Script((
        *READY, "zeroed", "three", "zero", "ninety seven", "zero", "done", "one", "ninety eight",
        "forty five", "yes", "right zero", "locked", "zeroed", *LEVEL, "yes", "done",
    ), CONTINUOUS),
    "script-continuous-slip": Script((
        *READY, "zeroed", "plus eight", "minus four", "plus eight", "zero", "minus twelve",
        "ask 0.5 ninety",
        "yes", "zero",
    ), CONTINUOUS),
    "script-counter": Script((
        *READY, "zeroed", "sixteen", "no", "yes", "plus twelve", "four", "yes", "zero", "status",
        "done",
        "disregard", "finish", "yes", "done",
    ), ONE_WAY),
    "script-lever": Script((
        *SAFE, "yes", "four", "minus three", "disregard", "minus", "locked", "zeroed",
        *FRONT_HIGH_SIX, "done", "done", "locked", "zeroed", *LEVEL, "yes", "done",
    ), LEVER),
    "script-sign-test-skipped": Script((
        *SAFE, "yes", "skip", "locked", "zeroed", *FRONT_HIGH_SIX, "disregard", "zero", "done",
    ), LEVER),
    "script-slanted-lever": Script((
        *READY, "zeroed", "minus three", "zero", "plus three", "zero", "done",
        "minus one and a half", "plus two", "zero", "locked", "zeroed", *LEVEL, "yes", "done",
    ), SLANTED),
    "script-head": Script((
        "yes", "yes", "no", "yes", "yes", "locked", "zeroed",
        "plus six", "plus seven", "plus one", "zero", "done", "plus one",
        "minus four", "right zero", "minus two", "disregard", "minus two", "zero", "zeroed",
        *RIGHT_HIGH_SIX, "done", "plus one", "zero", "locked", "zeroed", *LEVEL, "disregard",
        "zero",
        "yes", "done",
    ), HEAD),
    "script-head-settle": Script((
        *READY[:-1], "settle", "plus one", "zero", "plus one", "done", "plus one", "plus two",
        "zero",
        "done", "zero", "plus one", "locked", "zeroed", *FRONT_HIGH_SIX, "skip", "yes", "done",
    ), HEAD),
    "script-pin": Script((
        *READY, "zeroed", *BOTH_HIGH, "disregard", "zero", "finish", "done", "done",
        "shim three above", "locked", "zeroed", *RIGHT_HIGH_SIX, "done", "zero", "locked", "zeroed",
        *LEVEL, "yes", "done",
    ), PINNED),
    "script-packed": Script((
        *READY, "zeroed", *FRONT_HIGH_SIX, "done", "shim three", "disregard", "shim three",
        "locked",
        "zeroed", "minus six", "minus twelve", "minus six", "zero", "done", "done", "disregard",
        "done",
        "locked", "zeroed", *RIGHT_HIGH_SIX, "skip", "yes", "finish", "yes", "done",
    ), PACKED),
    "script-gap": Script((
        *READY, "done", "seven", "four", "seven", "yes", "done", "shim three above", "locked",
        "done",
        "nine", "nine", "nine", "no", "nine", "disregard", "yes", "yes", "done",
    ), GAP),
    "script-gap-asked": Script((
        *READY, "twenty five", "fifteen", "twelve", "sixteen and a half", "fifteen", "disregard",
        "fifteen", "done", "front twelve", "yes", "minus seven", "ask 0.97 seven", "no", "ten",
        "zero", "done", "ten", "ten", "ten", "no", "five", "five", "done",
    ), GAP),
    "script-gap-tapped": Script((
        *READY, "settle", "ten", "nine", "ten", "done", "skip", "skip", "locked", "done", "six",
        "ten",
        "fourteen", "yes", "done", "eight", "thirteen", "ten", "locked", "done", "ten", "ten",
        "ten",
        "done", "yes", "done",
    ), GAP),
    "script-gap-metric": Script((
        *READY, "done", "point three zero", "done", "thirty", "thirty three", "ten", "yes",
        "status",
    ), METRIC_GAP),
    "script-square": Script((
        *READY, "four", "no", "zero", "four", "yes", "zero", "done", "shim four above", "locked",
        "zero",
        "zero", "zero", "zero", "yes", "done",
    ), SQUARE),
    "script-square-asked": Script((
        *READY, "fifteen", "no", "sixteen", "correction two", "yes", "disregard", "disregard",
        "minus four",
        "six", "no", "zero", "six", "no", "zero", "six", "yes", "disregard", "ask 0.6 zero", "yes",
        "done",
    ), SQUARE),
    "script-square-metric": Script((
        *READY, "zero", "ten", "yes", "zero", "ten", "no", "done", "five", "yes", "five", "no",
        "zero",
        "locked", "zero", "zero", "zero", "zero", "yes", "done",
    ), METRIC_SQUARE),
    "script-touch": Script((
        *READY, "front plus six", "front", "left", "yes", "disregard", "front", "back", "front",
        "disregard", "front", "left", "no", "front", "left", "yes", "done", "done", "locked",
        "front",
        "left", "yes", "done", "done", "locked", "back", "right", "yes", "done", "done", "locked",
        "right", "front", "yes", "done", "done", "locked", "skip", "yes", "done",
    ), TOUCH),
    "script-touch-by-keys": Script((
        "key enter enter enter enter enter 2 4 enter", "key enter enter enter", "key 8 6 -",
        "ask 0.6 left", "ask 0.9 left", "skip", "skip", "yes", "skip", "yes", "no", "finish",
        "yes", "done",
    ), TOUCH),
    "script-known-machine": Script(("no", "say again", "yes"), known=("old drill", "other drill")),
    "script-no-known-machine": Script(
        ("no", "no", "no", "yes", "yes", "yes", "yes", "yes", "yes", "yes"), known=("old drill",)
    ),
    "script-new-metric": Script(
        (*EVERYTHING, "no", "disregard", "yes", "yes", "no", "yes", "forty", "two hundred forty",
         "two and a half"), known=(),
    ),
    "script-new-continuous": Script(
        ("yes", "yes", "yes", "no", "no", "three", "zero", "two hundred", "fifty", "disregard",
         "disregard", "yes", "no", "yes", "yes", "twelve inches", "no", "plus five"),
        known=("bench drill press",),
    ),
    "script-new-by-square": Script(
        ("no", "no", "yes", "yes", "yes", "no"), known=("bench drill press", "Bench Drill Press 2"),
    ),
    "script-new-square": Script(
        ("yes", "no", "no", "yes", "yes", "no", "fifty inches", "four inches", "yes", "yes"),
        known=(),
    ),
    "script-new-gap": Script(
        ("yes", "no", "yes", "no", "zero", "two hundred", "ask 0.5 yes", "yes"), known=(),
    ),
    "script-new-touch": Script(
        ("yes", "no", "no", "no", "no", "no", "no", "no", "yes", "yes"), known=(),
    ),
    "script-new-stopped": Script(
        ("no", "stop", "no", "stand by", "go ahead", "stop", "yes"), known=(),
    ),
    "script-new-by-keys": Script(
        ("key - - - -", "key enter enter", "key - enter", "key 4 0 enter 2 4 0 enter 2 . 5 enter"),
        known=(),
    ),
    "script-shim-unit-asked": Script((
        *READY, "zeroed", "plus ten", "plus twenty", "plus ten", "zero", "done", "help",
        "shim one point five", "say again", "no", "yes", "disregard", "shim one point five", "no",
        "no", "shim one point five", "shim ten", "disregard", "skip", "yes", "locked", "zeroed",
        "plus ten", "plus twenty", "plus ten", "zero", "status", "ask 0.6 done", "yes",
    ), profile_for("mm")),
    "script-shim-no-response": Script((
        *READY, "zeroed", "plus eight", "plus sixteen", "plus eight", "zero", "done",
        "shim four above", "locked", "zeroed", "plus eight", "plus sixteen", "plus eight", "zero",
        "done", "shim eight above", "locked", "zeroed", "plus nine", "plus twenty two",
        "plus eleven", "zero", "disregard", "disregard", "zero", "left plus eleven", "status",
    )),
    "script-taps-as-told": Script((
        *READY, "zeroed", "plus six", "zero", "minus six", "zero", "done", "done", "locked",
        "zeroed", "plus one", "zero", "minus one", "zero", "no", "done", "plus half", "disregard",
        "right plus half", "zero", "disregard", "done", "locked", "zeroed", *LEVEL, "yes", "done",
    )),
    "script-head-skipped": Script((
        *READY, "zeroed", "plus six", "plus six", "zero", "zero", "front plus six", "skip", "yes",
        "done", "done", "plus one", "plus two", "done", "plus three", "done", "locked", "zeroed",
        *LEVEL, "no", "no", "yes", *LEVEL, "zero", "two", "yes", "done",
    ), HEAD),
    "script-head-not-held": Script((
        *READY, "zeroed", "plus four", "plus eight", "plus four", "zero", "done", "plus three",
        "zero", "minus three", "plus one", "done", "locked", "zeroed", "plus four", "plus eight",
        "plus four", "zero", "done", "minus three", "minus two", "minus two", "minus two",
        "zeroed", "plus two", "plus four", "plus two", "zero", "say again", "done", "status",
    ), HEAD),
    "script-head-metric": Script((
        *READY, "zeroed", "plus five", "plus ten", "plus five", "zero", "done", "minus two",
        "minus four and a quarter", "minus three and a quarter", "zero", "done", "disregard",
        "disregard", "zero", "finish", "yes", "done",
    ), knee_mill()),
    "script-packed-no-response": Script((
        *READY, "zeroed", "plus four", "plus eight", "plus four", "zero", "done", "shim four",
        "locked", "zeroed", "plus four", "plus eight", "plus four", "zero", "done", "shim five",
        "locked", "zeroed", "plus five", "plus twelve", "plus six", "zero", "done", "front zero",
        "shim zero", "disregard", "shim six", "locked", "front six", "zeroed", *LEVEL, "yes",
        "done",
    ), PACKED),
    "script-packed-back": Script((
        *READY, "zeroed", *RIGHT_HIGH_SIX, "done", "disregard", "done", "done", "disregard",
        "disregard", "disregard", "zero", "done", "ask 0.6 shim three", "yes", "shim three",
        "locked", "zeroed", "zero", "zero", "zero", "zero", "disregard", "disregard", "minus one",
        "zero", "status",
    ), PACKED),
    "script-spindle-back-and-forth": Script((
        *SAFE, "no", "skip", "skip", "no", "four", "disregard", "four", "zero", "disregard", "no",
        "skip", "three", "disregard", "three", "four", "disregard", "four", "skip", "plus two",
        "disregard", "three", "say again", "plus", "disregard", "disregard", "zero", "zero",
        "plus two", "plus two", "yes", "yes", "locked", "zeroed", *LEVEL, "status",
    )),
    "script-spindle-off-centre": Script((
        *SAFE, "no", "skip", "skip", "no", "six", "six", "yes", "half", "half", "zero", "zero",
        "zero", "disregard", "zero", "yes", "yes", "locked", "zeroed", *LEVEL, "yes", "done",
    )),
    "script-spindle-both-sides": Script((
        *SAFE, "no", "skip", "skip", "no", "six", "seven", "no", "skip", "skip", "skip", "no",
        "zero", "eight", "zero", "half", "no", "six", "six and a half", "skip", "skip", "skip",
        "skip", "yes", "locked",
    )),
    "script-spindle-continuous": Script((
        *SAFE, "no", "skip", "skip", "no", "zero", "zero", "zero", "zero", "zero", "ninety eight",
        "two", "yes", "yes", "locked", "zeroed", *LEVEL, "yes", "done",
    ), CONTINUOUS),
    "script-spindle-reversed": Script((
        *SAFE, "no", "skip", "skip", "no", "skip", "skip", "skip", "plus three", "minus one", "yes",
        "yes", "locked", "zeroed", *LEVEL, "yes", "done",
    ), SLANTED),
    "script-settle-continuous": Script((
        *READY, "settle", "ninety nine", "zero", "one", "done", "ninety seven", "ninety nine",
        "two",
        "done", "ninety nine", "one", "locked", "zeroed", *LEVEL, "status",
    ), CONTINUOUS),
    "script-other-heights-and-back": Script((
        *READY, "zeroed", *LEVEL, "no", "yes", "locked", "disregard", "locked", "zeroed", "zero",
        "half", "plus", "zero", "zero", "yes", "disregard", "yes", "locked", "zeroed", "plus five",
        "plus ten", "plus five", "zero", "no", "disregard", "no", "yes", "disregard", "no", "no",
        "locked", "zeroed", *LEVEL, "yes", "done",
    )),
    "script-other-heights-not-square": Script((
        *READY, "zeroed", *FRONT_HIGH_SIX, "skip", "yes", "no", "done", "done", "locked", "zeroed",
        *LEVEL, "no", "yes", "locked", "zeroed", *NO_PLANE, "next", "next", "next", "next", "no",
        "plus four", "zero", "status", "yes",
    )),
    "script-form-back-and-forth": Script((
        *READY, "zeroed", *LEVEL, "no", "no", "disregard", "no", "yes", "front plus one",
        "plus one", "minus one", "plus one", "minus one", "right zero", "back zero", "front two",
        "disregard", "zero", "skip", "no", "no", "no", "done",
    )),
    "script-form-bent": Script((
        *READY, "zeroed", *NO_PLANE, "next", "next", "next", "next", "no", "yes", "five", "plus",
        "plus five", "plus five", "plus five", "zero", "skip", "no", "finish", "yes", "done",
    )),
    "script-drift-twice": Script((
        *READY, "zeroed", "plus three", "plus six", "plus three", "plus five", "plus five",
        "zeroed", "plus three", "plus six", "plus three", "plus five", "plus five", "zeroed",
        "plus three", "plus six", "plus three", "plus five", "next", "zeroed", "plus three",
        "plus six", "plus three", "half", "plus", "done",
    )),
    "script-refused-then-shimmed": Script((
        *READY, "zeroed", *NEAR_LIMIT[:3], "plus five", "plus five", "zeroed", *NEAR_LIMIT,
        *AGAIN, *NEARER[:3], "plus five", "plus five", "zeroed", *NEARER, "no", "done", "done",
        "locked", "zeroed", *NEAR_LIMIT[:3], "plus five", "plus five", "zeroed", "half", "plus",
        "one", "plus", "half", "plus", "zero", "status", "yes", "done",
    )),
    "script-resumed-while-asked": Script((
        *READY, "zeroed", "three", "resumed", "ask 0.5 yes", "yes", "yes", "ask 0.6 plus six",
        "resumed", "yes", "no", "key enter enter", "key 3", "resumed", "no", "yes",
    )),
    "script-closed": Script((
        *READY, "zeroed", *LEVEL, "yes", "done", "resumed", "plus three", "key enter",
        "lost microphone", "back microphone", "loud", "clock 5", "turned down x",
    )),
    "script-zero-called": Script((
        *READY, "front plus three", "plus three", "zero", "plus three", "disregard", "disregard",
        "correction zero", "back zero", "right zero", "front zero", "left zero", "back zero",
        "yes", "done",
    )),
    "script-counted-turns": Script((
        *READY, "zeroed", "ninety seven", "plus forty five", "forty five", "no", "yes",
        "voice 0.9 fifty seven | ninety seven", "no", "yes", "ask 0.6 ninety | nineteen", "no",
        "no", "zero", "say again", "status", "next", "next", "next",
    ), replace(CONTINUOUS, scale=Scale("thou", 60, Decimal("0.5")))),
    "script-fine-dial": Script((
        *READY, "zeroed", "plus three tenths", "yes", "plus six tenths", "plus point three",
        "minus point one", "zero", "plus two microns", "five tenths", "plus", "no", "yes", "no",
    ), replace(Profile(), scale=Scale("thou", 30, Decimal("0.1")))),
    "script-gap-doubtful": Script((
        *READY, "front ten", "correction ten", "ten", "ask 0.6 ten", "no", "ask 0.6 ten",
        "ask 0.95 ten",
        "zero", "done", "ask 0.9 minus three", "nine", "nine", "disregard", "nine",
        "correction front eight",
        "nine", "say again", "ask 0.5 yes", "yes", "status", "help",
    ), GAP),
    "script-gap-own-leaf": Script((
        *READY, "say again", "zero", "done", "eight", "twelve", "done", "eight", "no", "thirteen",
        "done", "yes",
    ), replace(GAP, instrument=Instrument(gauges=(Decimal(5), Decimal(20)), set_to=Decimal(12)))),
    "script-touch-back": Script((
        *READY, "skip", "no", "front", "left", "no", "skip", "disregard", "front", "disregard",
        "front", "left", "disregard", "left", "no", "left", "skip", "disregard", "left", "front",
        "yes", "skip", "yes", "skip", "yes", "no", "done", "shim two above", "disregard", "done",
        "locked", "help", "status", "right", "back", "yes", "finish", "yes", "done",
    ), TOUCH),
    "script-short-skipped": Script((
        "yes", "locked", "zeroed", *BOTH_HIGH, "skip", "help", "disregard", "skip", "no",
        "locked", "zeroed", *RIGHT_HIGH_SIX, "done", "right minus two", "status", "right zero",
        "locked", "zeroed", "plus 1.2", "plus 1.2", "plus 40", "no", "zero", "zero", "zero",
    ), short=True),
    "script-second-job": Script((
        *SAFE, "help", "status", "say again", "disregard", "yes", "plus three", "skip", "no",
        "key 4 enter", "disregard", "yes", "yes", "locked", "zeroed", *FRONT_HIGH_SIX, "done",
        "done", "locked", "zeroed", *LEVEL, "yes", "done",
    ), last=SHIM_IN_LEARNT),
    "script-second-job-as-new": Script((
        "yes", "skip", "yes", "locked", "zeroed", *FRONT_HIGH_SIX, "done", "locked", "zeroed",
        *LEVEL, "done",
    ), short=True, last=replace(SHIM_IN_LEARNT, within=None, tilt=5.0, square_day="a year ago")),
    "script-second-job-packed": Script((
        *SAFE, "no", "shim two", "yes", "locked", "zeroed", *RIGHT_HIGH_SIX, "done", "done",
        "locked", "zeroed", *LEVEL, "yes", "done",
    ), PACKED, last=replace(
        SHIM_IN, finished=False, under_back=Decimal(2), under_left=Decimal(-4)
    )),
    "script-deep-hole": Script(
        (*READY, "zeroed", *NEAR_LIMIT, "no", "status", "finish", "yes", "done"),
        replace(Profile(), hole_depth=Length.of(4, "in"), tolerance=Length.of(10, "thou")),
    ),
    "script-no-leaves": Script((
        *READY, "zeroed", *FRONT_HIGH_SIX, "done", "shim two point five below", "disregard", "done",
        "locked", "zeroed", *LEVEL, "yes", "done",
    ), replace(Profile(), stock=())),
    "script-front-may-be-low": Script((
        *READY, "zeroed", "plus one", "plus two", "plus one", "zero", "no", "done", "done",
        "locked",
        "zeroed", "plus three", "plus six", "plus three", "zero", "done", "done", "locked",
        "zeroed",
        "minus one", "minus two", "minus one", "zero", "yes", "done",
    ), replace(Profile(), front_may_be="low", stock=tuple(map(Decimal, ("2", "4"))))),
    "script-new-nearest": Script(
        (*["no"] * 9, "yes", *["no"] * 4, "yes", "yes", "nine inches", "one hundred", "zero",
         "ninety inches", "one hundred and fifty", "fifty", "four"), known=(),
    ),
    "script-new-numbers": Script(
        ("no", "no", "yes", "yes", "yes", "no", "two", "four and a half", "two hundred", "fifty",
         "ninety inches", "zero", "eight", "zero", "plus two hundred", "two and a half"),
        known=("bench drill press", "Bench drill press 2"),
    ),
    "script-new-head": Script(
        ("no", "no", "no", "help", "yes", "no", "yes", "yes", "ten inches", "status", "yes"),
        known=(),
    ),
    "script-new-square-metric": Script(
        ("yes", "no", "no", "yes", "no", "no", "two hundred", "disregard", "yes", "yes", "no",
        "yes"),
        known=(),
    ),
    "script-new-by-voice": Script(
        ("ask 0.6 yes", "ask 0.6 yes", "ask 0.9 yes", "turned down yes", "turned down yes", "yes",
        "lost microphone", "loud", "yes", "back microphone", "quiet", "ask 0.5 disregard", "yes",
        "stand by", "yes", "go ahead", "yes", "yes", "yes", "ask 0.7 ten inches",
        "ask 0.9 ten inches",
        "yes"), known=(),
    ),
}  # fmt: skip
"""Every scripted job, by the name of its file."""
