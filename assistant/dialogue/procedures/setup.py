"""The set-up: what stands in the chuck, the sweep diameter and the tolerance of this job."""

from dataclasses import replace
from typing import Final

from assistant.dialogue.dial_setting import sign_unknown
from assistant.dialogue.formatting import count_name, size_words, tolerance_words
from assistant.dialogue.messages import Heard, Step
from assistant.dialogue.methods import BAR_IN, method_of
from assistant.dialogue.phases import Phase
from assistant.dialogue.rows import Procedure, Row
from assistant.dialogue.set_sizes import with_sweep, with_tolerance
from assistant.dialogue.spoken import spoken
from assistant.dialogue.state import State
from assistant.dialogue.turn import Outcome, Turn, ask, done, go
from assistant.metrology.lengths import Length
from grammar.meaning import Reading, Size


class SetUp(Phase):
    """The set-up and what can be changed of it."""

    SETUP = "set up"
    DIAMETER = "sweep diameter"
    TOLERANCE = "tolerance"


# -- words -------------------------------------------------------------------------------


@spoken
def set_up(diameter: str, tolerance: str, ready: str = BAR_IN, agreed: str = "Yes?") -> str:
    """Read the set-up back; the person chucks the bar and gets the dial ready."""
    return f"{ready} Sweep {diameter}, within {tolerance}. {agreed}"


@spoken
def diameter(unit: str) -> str:
    """Ask for the sweep diameter."""
    return f"Sweep diameter, in {unit}?"


@spoken
def tolerance(unit: str) -> str:
    """Ask for the tolerance."""
    return f"Tolerance over the sweep, in {unit}?"


ALL_LOCKED: Final = "All locked?"  # in the short form, with the set-up or by itself


@spoken
def brief(diameter: str, tolerance: str) -> str:
    """The same and the locks in few words, before "locked"."""
    return f"Bar tight, key out. {diameter.capitalize()}, {tolerance}. {ALL_LOCKED}"


BY_NAME_TOO: Final = "To change: sweep or tolerance, and a number."
"""Help at the set-up: either is changed by its name, but not by key."""

NO_CHANGES: Final = "No changes sweep or tolerance."  # the same by key

BY_TOUCH: Final = "Bent rod in tight, key out. Yes?"  # by touch no size or tolerance counts

# -- what is done ------------------------------------------------------------------------


def _set_up(state: State, agreed: str = "Yes?") -> str:
    profile = state.profile
    if profile.method == "touch":
        return BY_TOUCH
    across = size_words(profile.sweep_diameter, profile.scale)
    return set_up(across, tolerance_words(profile), method_of(profile).ready, agreed)


def _in_full(state: State) -> str:
    """What was asked in few words is still answered by "locked"."""
    return _set_up(state, ALL_LOCKED) if _locks_next(state) else _set_up(state)


def _brief(state: State) -> str:
    if not _locks_next(state):
        return _set_up(state)
    profile = state.profile
    return brief(size_words(profile.sweep_diameter, profile.scale), tolerance_words(profile))


def _locks_next(state: State) -> bool:
    """Whether the locks are agreed to with the set-up: in few words, with nothing between."""
    short = state.short and state.profile.method != "touch"
    return short and not sign_unknown(state.profile)


def _locked(state: State, _: Heard) -> Turn:
    return done(state, Outcome.MEASURE, "", Step("tighten", what="table, column and quill"))


def _across(state: State, size: Length) -> Turn:
    """The sweep diameter of this job."""
    profile = with_sweep(state.profile, size)
    if isinstance(profile, str):
        return ask(state, profile)
    return go(replace(state, profile=profile), SetUp.TOLERANCE)


def _across_size(state: State, size: Size) -> Turn:
    return _across(state, Length.of(size.value, size.unit))


def _across_number(state: State, called: Reading, _: Heard) -> Turn:
    return _across(state, Length.of(called.value, "in" if _inches(state) else "mm"))


def _within(state: State, called: Reading, _: Heard) -> Turn:
    """The tolerance of this job, over its sweep."""
    profile = with_tolerance(state.profile, called.value)
    if isinstance(profile, str):
        return ask(state, profile)
    return done(replace(state, profile=profile), Outcome.SET_UP_CHANGED)


def _how(state: State) -> str:
    changed = NO_CHANGES if state.by == "keypad" else BY_NAME_TOO
    return f"{method_of(state.profile).how_ready} {changed}"


def _inches(state: State) -> bool:
    return state.profile.scale.system == "thou"


PROCEDURE = Procedure(
    (
        Row(
            SetUp.SETUP,
            "SET UP",
            _set_up,
            {"yes": Outcome.DONE, "no": SetUp.DIAMETER, "disregard": Outcome.BEFORE_SET_UP},
            at_times={"locked": _locked},
            when=_locks_next,
            withheld=lambda state: ("yes",) if _locks_next(state) else (),
            instead=("done",),
            short=_brief,
            in_full=_in_full,
            changes=(40, 600),
            wishes=("short", "louder", "softer", "slower", "faster", "quiet"),
            how=_how,
        ),
        Row(
            SetUp.DIAMETER,
            "SET UP",
            lambda state: diameter("inches" if _inches(state) else "millimetres"),
            {"skip": SetUp.TOLERANCE, "disregard": SetUp.SETUP},
            on_number=_across_number,
            on_size=_across_size,
            sizes=(40, 600),
            named="sweep",
            as_dial=False,
            how="Twice from spindle to tip. Skip keeps it.",
        ),
        Row(
            SetUp.TOLERANCE,
            "SET UP",
            lambda state: tolerance(count_name(state.profile.scale)),
            {"skip": Outcome.SET_UP_CHANGED, "disregard": SetUp.DIAMETER},
            on_number=_within,
            named="tolerance",
            readings=True,
            stations=False,
            as_dial=False,
            how="How much one side may stand higher. Skip keeps it.",
        ),
    ),
    due=lambda _: True,
)
