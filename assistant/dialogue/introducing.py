"""The introduction: which machine this is, asked before its job begins, and a new one made.

Belongs here: the questions of somebody who named no machine, all to be answered by yes, no
or a number. Nothing of it is in the record of jobs; what comes of it is a machine's file.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from assistant.dialogue import prompts
from assistant.dialogue.amounts import count_name, size_words, tolerance_words
from assistant.dialogue.asking import Out, ask, go
from assistant.dialogue.machine import SHIMMED, Face, Method, Profile
from assistant.dialogue.messages import Effect, MachineChosen, Say
from assistant.dialogue.phases import Phase
from assistant.dialogue.prompts import introduction as words
from assistant.dialogue.state import Introduction, State
from assistant.metrology.lengths import Length
from grammar.meaning import Command, Meaning, Reading, Size
from grammar.numerals import number_words

MOST_REACH = 100
"""Counts; a dial that counts further is written into the machine's file by hand."""

LEAST_TURN = 5
"""Counts in a turn of a dial."""

WAYS: tuple[Method, ...] = ("indicator", "gap", "square", "touch")
"""In the order in which they are asked about."""

NUMBERS = frozenset({Phase.DIAL_REACH, Phase.SQUARE_AT, Phase.SWEEP_SIZE, Phase.SQUARENESS})
"""Where a number is taken in place of the usual one."""

MOST_HEIGHT = Length.of(40, "in")
MOST_SWEEP = Length.of(80, "in")
MOST_TOLERANCE = Length.of(100, "thou")


@dataclass(frozen=True, slots=True)
class StartingPoint:
    """A kind of machine to start from, with an inch dial and with a metric one."""

    inch: Profile
    metric: Profile


def begin(known: Sequence[str], kinds: Sequence[StartingPoint]) -> Out:
    """The first question: one of the machines that are known, or a new one's kind."""
    starts = tuple((kind.inch, kind.metric) for kind in kinds)
    state = State("", starts[0][0], introduction=Introduction(tuple(known), starts), turn=0)
    if known:
        return go(state, Phase.WHICH)
    return go(state, Phase.KIND, words.HELLO)


def answered(state: State, meaning: Meaning) -> Out | None:
    """What an answer does; None when it is no answer to this question."""
    about = state.introduction or Introduction()
    match state.phase, meaning:
        case Phase.WHICH, Command(name="yes"):
            return _chosen(state, about.known[about.at], None)
        case Phase.WHICH, Command(name="no"):
            return _no_to_machine(state, about)
        case Phase.KIND, Command(name="yes"):
            begun = replace(state, profile=about.kinds[about.at][0])
            return go(begun, Phase.WAY if _has_ways(begun) else Phase.DIAL_UNIT)
        case Phase.WAY, Command(name="yes"):
            return go(state, Phase.DIAL_UNIT)
        case Phase.WAY, Command(name="no"):
            return _no_to_way(state, about)
        case Phase.KIND, Command(name="no"):
            return _no_to_kind(state, about)
        case Phase.DIAL_UNIT, Command(name=("yes" | "no") as name):
            inch, metric = about.kinds[about.at]
            profile = replace(inch if name == "yes" else metric, method=WAYS[about.way])
            return _after_unit(replace(state, profile=profile), inches=name == "yes")
        case Phase.DIAL_FACE, Command(name=("yes" | "no") as name):
            face: Face = "balanced" if name == "yes" else "continuous"
            return go(_with_instrument(state, face=face), Phase.DIAL_REACH)
        case Phase.SQUARE_AT, Command(name="yes"):
            return go(state, Phase.SWEEP_SIZE)
        case Phase.SQUARE_AT, Size(value=value, unit=unit):
            return _square_at(state, Length.of(value, unit))
        case Phase.DIAL_REACH, Command(name="yes"):
            return go(state, Phase.SWEEP_SIZE)
        case Phase.SWEEP_SIZE, Command(name="yes"):
            return go(state, Phase.SQUARENESS)
        case Phase.SQUARENESS, Command(name="yes"):
            return _made(state, about)
        case _, Command(name="no"):
            return ask(state, words.THE_NUMBER)
        case _, Reading(value=value):
            return _number(state, about, value)
        case Phase.SWEEP_SIZE, Size(value=value, unit=unit):
            return _sweep(state, Length.of(value, unit))
        case _:
            return None


def _no_to_machine(state: State, about: Introduction) -> Out:
    at = about.at + 1
    if at < len(about.known):
        return ask(replace(state, introduction=replace(about, at=at)))
    return go(replace(state, introduction=replace(about, at=0)), Phase.KIND, words.NEW)


def _no_to_kind(state: State, about: Introduction) -> Out:
    at = about.at + 1
    if at < len(about.kinds):
        return ask(replace(state, introduction=replace(about, at=at)))
    return ask(replace(state, introduction=replace(about, at=0)), words.NEAREST)


def _number(state: State, about: Introduction, value: Decimal) -> Out | None:
    scale = state.profile.scale
    match state.phase:
        case phase if value <= 0 and phase in NUMBERS:
            return ask(state, prompts.TOO_SMALL)
        case Phase.SQUARE_AT:
            return _square_at(state, Length.of(value, "in" if scale.system == "thou" else "mm"))
        case Phase.DIAL_REACH:
            if value != int(value):
                return ask(state, words.WHOLE)
            if value > MOST_REACH:
                return ask(state, words.TOO_LARGE)
            return _dial_counts(state, int(value))
        case Phase.SWEEP_SIZE:
            return _sweep(state, Length.of(value, "in" if scale.system == "thou" else "mm"))
        case Phase.SQUARENESS:
            size = Length(value * scale.count_mm)
            if size.mm > MOST_TOLERANCE.mm:
                return ask(state, words.TOO_LARGE)
            profile = replace(state.profile, tolerance=size)
            told = words.taken(tolerance_words(profile))
            return _made(replace(state, profile=profile), about, told)
        case _:
            return None


def _has_ways(state: State) -> bool:
    """Whether a machine of this kind can be set by anything but a dial."""
    return state.profile.kind in SHIMMED


def _no_to_way(state: State, about: Introduction) -> Out:
    if not _has_ways(state):
        return ask(state, words.NEAREST)
    way = about.way + 1
    if way < len(WAYS):
        return ask(replace(state, introduction=replace(about, way=way)))
    return ask(replace(state, introduction=replace(about, way=0)), words.NEAREST)


def _after_unit(state: State, *, inches: bool) -> Out:
    """What else is asked depends on the way of measuring."""
    match state.profile.method:
        case "indicator":
            return go(state, Phase.DIAL_FACE)
        case "square":
            usual = Length.of(6, "in") if inches else Length.of(150, "mm")
            return go(_with_instrument(state, square_height=usual), Phase.SQUARE_AT)
        case "gap":
            return go(state, Phase.SWEEP_SIZE)
        case "touch":
            # It ranks sides and measures nothing: no size or tolerance counts.
            return _made(state, state.introduction or Introduction())


def _with_instrument(
    state: State,
    *,
    face: Face | None = None,
    per_turn: int | None = None,
    square_height: Length | None = None,
) -> State:
    known = state.profile.instrument
    changed = replace(
        known,
        face=face or known.face,
        per_turn=per_turn or known.per_turn,
        square_height=square_height or known.square_height,
    )
    return replace(state, profile=replace(state.profile, instrument=changed))


def _dial_counts(state: State, largest: int) -> Out:
    """The largest number on a dial that counts both ways, or what a turn of another counts."""
    profile = state.profile
    told = words.taken(f"{number_words(Decimal(largest))} {count_name(profile.scale)}")
    if profile.instrument.face == "continuous":
        if largest < LEAST_TURN:
            return ask(state, prompts.TOO_SMALL)
        return go(_with_instrument(state, per_turn=largest), Phase.SWEEP_SIZE, told)
    changed = replace(profile, scale=replace(profile.scale, reach=largest))
    return go(replace(state, profile=changed), Phase.SWEEP_SIZE, told)


def _square_at(state: State, height: Length) -> Out:
    if height.mm > MOST_HEIGHT.mm:
        return ask(state, words.TOO_LARGE)
    told = words.taken(size_words(height, state.profile.scale))
    return go(_with_instrument(state, square_height=height), Phase.SWEEP_SIZE, told)


def _sweep(state: State, size: Length) -> Out:
    if size.mm > MOST_SWEEP.mm:
        return ask(state, words.TOO_LARGE)
    profile = replace(state.profile, sweep_diameter=size)
    told = words.taken(size_words(size, profile.scale))
    return go(replace(state, profile=profile), Phase.SQUARENESS, told)


def _made(state: State, about: Introduction, told: str = "") -> Out:
    """A new machine, under a name that none has yet."""
    plain, number = state.profile.name, 1
    name, taken = plain, {known.lower() for known in about.known}
    while name.lower() in taken:
        number += 1
        name = f"{plain} {number}"
    said = Say(f"{told} {words.kept(name)}".strip())
    return _chosen(state, name, replace(state.profile, name=name), said)


def _chosen(state: State, name: str, made: Profile | None, *effects: Effect) -> Out:
    # The turn is over: what is still being heard is no answer to what comes now.
    return replace(state, turn=state.turn + 1), (*effects, MachineChosen(name, made))
