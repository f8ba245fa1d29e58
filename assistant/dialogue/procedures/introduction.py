"""The introduction: which machine this is, asked before its job begins, and a new one made.

Belongs here: the questions of somebody who named no machine, all to be answered by yes, no
or a number. Nothing of it is in the record of jobs; what comes of it is a machine's file.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Final

from assistant.dialogue.facts import Introduction
from assistant.dialogue.formatting import count_name, size_words, tolerance_words
from assistant.dialogue.machine import SHIMMED, Face, Method, Profile
from assistant.dialogue.messages import Effect, Heard, MachineChosen, Say
from assistant.dialogue.phases import Phase
from assistant.dialogue.rows import Procedure, Row
from assistant.dialogue.set_sizes import with_sweep, with_tolerance
from assistant.dialogue.spoken import spoken
from assistant.dialogue.state import State
from assistant.dialogue.turn import Turn, ask, go, quietly
from assistant.dialogue.wording import TOO_LARGE, TOO_SMALL
from assistant.metrology.lengths import Length
from grammar.meaning import Reading
from grammar.numerals import number_words


class Introducing(Phase):
    """The questions, in their order."""

    WHICH = "which machine"
    KIND = "kind of machine"
    WAY = "way of measuring"
    DIAL_UNIT = "dial unit"
    DIAL_FACE = "dial face"
    DIAL_REACH = "dial range"
    SQUARE_AT = "height of square"
    SWEEP_SIZE = "size of sweep"
    SQUARENESS = "squareness"


MOST_REACH = 100
"""Counts; a dial that counts further is written into the machine's file by hand."""

LEAST_TURN = 5
"""Counts in a turn of a dial."""

METHODS: tuple[Method, ...] = ("indicator", "gap", "square", "touch")
"""In the order in which they are asked about."""

MOST_HEIGHT = Length.of(40, "in")

# -- words -------------------------------------------------------------------------------
HELLO: Final = "Answer yes or no. By key: Enter or minus."  # nobody has used it here yet
NEW: Final = "A new machine, then."  # no to every machine that is known
NEAREST: Final = "The nearest one, then."  # no to every kind: asked round again

WAYS: Final = (
    "With a dial indicator?",
    "With feeler leaves under a rod?",
    "With a square and a leaf?",
    "With a rod, by touch alone?",
)
"""How the table is measured, in the order of the introduction."""

INCH: Final = "In thousandths of an inch?"  # no: hundredths of a millimetre
BOTH_WAYS: Final = "Does it count both ways from zero?"  # no: one way round
THE_NUMBER: Final = "Give the number, then."  # no to a usual figure
WHOLE: Final = "A whole number."  # a dial's range is counted in whole marks
ASK_STOP: Final = "Stop here? No machine is kept."  # nothing was made yet
STOPPED: Final = "Stopped. No machine was made."  # it begins again next time
STATUS: Final = "Choosing the machine."  # no job has begun yet


@spoken
def machine(name: str) -> str:
    """Is it this one, or a machine of this kind?"""
    return f"{name[:1].upper()}{name[1:]}?"


@spoken
def reach(number: str, count: str) -> str:
    """The largest number on the dial, the usual one to agree to."""
    return f"Dial reads to {number} {count}?"


@spoken
def turn(number: str) -> str:
    """What a dial that counts one way round counts in a turn."""
    return f"A turn counts {number}?"


@spoken
def square_at(size: str) -> str:
    """How far above its foot the square's blade meets the bar."""
    return f"Bar meets the square {size} up?"


@spoken
def sweep(size: str) -> str:
    """The circle that the dial goes round."""
    return f"Sweep {size} across?"


@spoken
def tolerance(size: str) -> str:
    """How square it should be, over the sweep."""
    return f"Square within {size}?"


@spoken
def taken(figure: str) -> str:
    """Read a figure back."""
    return f"{figure[:1].upper()}{figure[1:]}."


@spoken
def kept(name: str) -> str:
    """The machine has its file."""
    return f"Kept as {name}."


# -- which machine, and what kind --------------------------------------------------------


@dataclass(frozen=True, slots=True)
class StartingPoint:
    """A kind of machine to start from, with an inch dial and with a metric one."""

    inch: Profile
    metric: Profile


def begin(known: Sequence[str], kinds: Sequence[StartingPoint]) -> Turn:
    """The first question: one of the machines that are known, or a new one's kind."""
    starts = tuple((kind.inch, kind.metric) for kind in kinds)
    about, phase = Introduction(tuple(known), starts), Introducing.WHICH
    state = State("", starts[0][0], phase=phase, introduction=about, turn=0)
    if known:
        return go(state, Introducing.WHICH)
    return go(state, Introducing.KIND, HELLO)


def _about(state: State) -> Introduction:
    return state.introduction or Introduction()


def _known_asked(state: State) -> str:
    about = _about(state)
    return machine(about.known[about.at] if about.known else state.profile.name)


def _kind_asked(state: State) -> str:
    about = _about(state)
    return machine(about.kinds[about.at][0].name if about.kinds else state.profile.name)


def _this_machine(state: State, _: Heard) -> Turn:
    about = _about(state)
    return _chosen(state, about.known[about.at], None)


def _not_this_machine(state: State, _: Heard) -> Turn:
    about = _about(state)
    at = about.at + 1
    if at < len(about.known):
        return ask(replace(state, introduction=replace(about, at=at)))
    return go(replace(state, introduction=replace(about, at=0)), Introducing.KIND, NEW)


def _this_kind(state: State, _: Heard) -> Turn:
    about = _about(state)
    begun = replace(state, profile=about.kinds[about.at][0])
    return go(begun, Introducing.WAY if _has_ways(begun) else Introducing.DIAL_UNIT)


def _not_this_kind(state: State, _: Heard) -> Turn:
    about = _about(state)
    at = about.at + 1
    if at < len(about.kinds):
        return ask(replace(state, introduction=replace(about, at=at)))
    return ask(replace(state, introduction=replace(about, at=0)), NEAREST)


# -- how it is measured ------------------------------------------------------------------


def _has_ways(state: State) -> bool:
    """Whether a machine of this kind can be set by anything but a dial."""
    return state.profile.kind in SHIMMED


def _not_this_way(state: State, _: Heard) -> Turn:
    about = _about(state)
    if not _has_ways(state):
        return ask(state, NEAREST)
    way = about.way + 1
    if way < len(METHODS):
        return ask(replace(state, introduction=replace(about, way=way)))
    return ask(replace(state, introduction=replace(about, way=0)), NEAREST)


def _unit(state: State, *, inches: bool) -> Turn:
    """The unit is known; what else is asked depends on the way of measuring."""
    about = _about(state)
    inch, metric = about.kinds[about.at]
    profile = replace(inch if inches else metric, method=METHODS[about.way])
    known = replace(state, profile=profile)
    match profile.method:
        case "indicator":
            return go(known, Introducing.DIAL_FACE)
        case "square":
            usual = Length.of(6, "in") if inches else Length.of(150, "mm")
            return go(_with_instrument(known, square_height=usual), Introducing.SQUARE_AT)
        case "gap":
            return go(known, Introducing.SWEEP_SIZE)
        case "touch":
            # It ranks sides and measures nothing: no size or tolerance counts.
            return _made(known)


def _face(state: State, face: Face) -> Turn:
    return go(_with_instrument(state, face=face), Introducing.DIAL_REACH)


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


# -- numbers -----------------------------------------------------------------------------


def _the_number(state: State, _: Heard) -> Turn:
    """No to a usual figure: the right one is wanted."""
    return ask(state, THE_NUMBER)


def _reach_asked(state: State) -> str:
    profile = state.profile
    if profile.instrument.face == "continuous":
        return turn(number_words(Decimal(profile.instrument.per_turn)))
    return reach(number_words(Decimal(profile.scale.reach)), count_name(profile.scale))


def _dial_counts(state: State, called: Reading, _: Heard) -> Turn:
    """The largest number on a dial that counts both ways, or what a turn of another counts."""
    profile = state.profile
    if called.value <= 0:
        return ask(state, TOO_SMALL)
    if called.value != int(called.value):
        return ask(state, WHOLE)
    if called.value > MOST_REACH:
        return ask(state, TOO_LARGE)
    largest = int(called.value)
    told = taken(f"{number_words(Decimal(largest))} {count_name(profile.scale)}")
    if profile.instrument.face == "continuous":
        if largest < LEAST_TURN:
            return ask(state, TOO_SMALL)
        return go(_with_instrument(state, per_turn=largest), Introducing.SWEEP_SIZE, told)
    changed = replace(profile, scale=replace(profile.scale, reach=largest))
    return go(replace(state, profile=changed), Introducing.SWEEP_SIZE, told)


def _height_asked(state: State) -> str:
    height = state.profile.instrument.square_height or state.profile.sweep_diameter
    return square_at(size_words(height, state.profile.scale))


def _square_at(state: State, height: Length) -> Turn:
    if height.mm > MOST_HEIGHT.mm:
        return ask(state, TOO_LARGE)
    told = taken(size_words(height, state.profile.scale))
    return go(_with_instrument(state, square_height=height), Introducing.SWEEP_SIZE, told)


def _sweep(state: State, size: Length) -> Turn:
    profile = with_sweep(state.profile, size)
    if isinstance(profile, str):
        return ask(state, profile)
    told = taken(size_words(size, profile.scale))
    return go(replace(state, profile=profile), Introducing.SQUARENESS, told)


def _length(state: State, called: Reading) -> Length | None:
    """A called number as a length of the set-up; None for none at all."""
    inches = state.profile.scale.system == "thou"
    return Length.of(called.value, "in" if inches else "mm") if called.value > 0 else None


def _height_called(state: State, called: Reading, _: Heard) -> Turn:
    height = _length(state, called)
    return ask(state, TOO_SMALL) if height is None else _square_at(state, height)


def _sweep_called(state: State, called: Reading, _: Heard) -> Turn:
    size = _length(state, called)
    return ask(state, TOO_SMALL) if size is None else _sweep(state, size)


def _tolerance_called(state: State, called: Reading, _: Heard) -> Turn:
    profile = with_tolerance(state.profile, called.value)
    if isinstance(profile, str):
        return ask(state, profile)
    return _made(replace(state, profile=profile), taken(tolerance_words(profile)))


# -- the machine -------------------------------------------------------------------------


def _made(state: State, told: str = "") -> Turn:
    """A new machine, under a name that none has yet."""
    plain, number = state.profile.name, 1
    name, used = plain, {known.lower() for known in _about(state).known}
    while name.lower() in used:
        number += 1
        name = f"{plain} {number}"
    said = Say(f"{told} {kept(name)}".strip())
    return _chosen(state, name, replace(state.profile, name=name), said)


def _chosen(state: State, name: str, made: Profile | None, *effects: Effect) -> Turn:
    # The turn is over: what is still being heard is not an answer to what comes now.
    return quietly(replace(state, turn=state.turn + 1), *effects, MachineChosen(name, made))


# -- what the screen shows ---------------------------------------------------------------


def _height_shown(state: State) -> tuple[str, str]:
    profile = state.profile
    inches = profile.scale.system == "thou"
    if profile.instrument.square_height is None:
        return "", ""
    up = round(profile.instrument.square_height.to("in" if inches else "mm"), 2)
    return f"{up.normalize():f}", "inches up" if inches else "mm up"


def _reach_shown(state: State) -> tuple[str, str]:
    profile = state.profile
    count = count_name(profile.scale)
    if profile.instrument.face == "continuous":
        return str(profile.instrument.per_turn), f"{count} in a turn"
    return str(profile.scale.reach), f"largest number on the dial, {count}"


def _sweep_shown(state: State) -> tuple[str, str]:
    inches = state.profile.scale.system == "thou"
    across = round(state.profile.sweep_diameter.to("in" if inches else "mm"), 2)
    return f"{across.normalize():f}", "inches across" if inches else "mm across"


def _tolerance_shown(state: State) -> tuple[str, str]:
    profile = state.profile
    limit = round(profile.tolerance.mm / profile.scale.count_mm, 2)
    return f"{limit.normalize():f}", f"{count_name(profile.scale)} over the sweep"


PROCEDURE = Procedure(
    (
        Row(
            Introducing.WHICH,
            "THIS?",
            _known_asked,
            {"yes": _this_machine, "no": _not_this_machine},
            how="Yes takes it, no offers the next.",
        ),
        Row(
            Introducing.KIND,
            "NEW",
            _kind_asked,
            {"yes": _this_kind, "no": _not_this_kind},
            how="Yes for the nearest, no for the next.",
        ),
        Row(
            Introducing.WAY,
            "HOW?",
            lambda state: WAYS[_about(state).way],
            {
                "yes": Introducing.DIAL_UNIT,
                "no": _not_this_way,
                "disregard": Introducing.KIND,
            },
            how="How you will measure. No offers the next.",
        ),
        Row(
            Introducing.DIAL_UNIT,
            "UNIT",
            INCH,
            {
                "yes": lambda state, _: _unit(state, inches=True),
                "no": lambda state, _: _unit(state, inches=False),
                "disregard": Introducing.WAY,
            },
            how="It stands on the dial's face.",
        ),
        Row(
            Introducing.DIAL_FACE,
            "DIAL",
            BOTH_WAYS,
            {
                "yes": lambda state, _: _face(state, "balanced"),
                "no": lambda state, _: _face(state, "continuous"),
                "disregard": Introducing.DIAL_UNIT,
            },
            how="Yes if its numbers run both ways up.",
        ),
        Row(
            Introducing.DIAL_REACH,
            "DIAL",
            _reach_asked,
            {
                "yes": Introducing.SWEEP_SIZE,
                "no": _the_number,
                "disregard": Introducing.DIAL_FACE,
            },
            on_number=_dial_counts,
            sizes=(100, 100),
            shows=_reach_shown,
            how="The largest number printed on the dial.",
        ),
        Row(
            Introducing.SQUARE_AT,
            "BLADE",
            _height_asked,
            {
                "yes": Introducing.SWEEP_SIZE,
                "no": _the_number,
                "disregard": Introducing.DIAL_UNIT,
            },
            on_number=_height_called,
            on_size=lambda state, size: _square_at(state, Length.of(size.value, size.unit)),
            sizes=(40, 600),
            shows=_height_shown,
            how="From the table to where blade meets bar.",
        ),
        Row(
            Introducing.SWEEP_SIZE,
            "SWEEP",
            lambda state: sweep(size_words(state.profile.sweep_diameter, state.profile.scale)),
            {
                "yes": Introducing.SQUARENESS,
                "no": _the_number,
                "disregard": Introducing.DIAL_UNIT,
            },
            on_number=_sweep_called,
            on_size=lambda state, size: _sweep(state, Length.of(size.value, size.unit)),
            sizes=(40, 600),
            named="sweep",
            shows=_sweep_shown,
            how="Across the circle that the tip goes round.",
        ),
        Row(
            Introducing.SQUARENESS,
            "LIMIT",
            lambda state: tolerance(tolerance_words(state.profile)),
            {
                "yes": lambda state, _: _made(state),
                "no": _the_number,
                "disregard": Introducing.SWEEP_SIZE,
            },
            on_number=_tolerance_called,
            named="tolerance",
            readings=True,
            stations=False,
            shows=_tolerance_shown,
            how="How much one side may stand higher.",
        ),
    ),
)
