"""The sweep by feeler leaves under a bent rod: setting it, and which leaf does not go."""

from dataclasses import replace
from decimal import Decimal
from typing import Final

from assistant.dialogue.formatting import digits
from assistant.dialogue.gauging import leaf_from, rod_leaf, usual_leaf
from assistant.dialogue.messages import Heard, Step
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.lock import Lock
from assistant.dialogue.procedures.sweep import CALL_THICKEST, FIRST, Sweeping, carry_on
from assistant.dialogue.rows import Procedure, Row
from assistant.dialogue.spoken import spoken
from assistant.dialogue.state import State, Taken
from assistant.dialogue.turn import Outcome, Turn, ask, go
from assistant.dialogue.wording import NOT_ZEROED, TOO_SMALL
from assistant.metrology.gauges import gap_between
from grammar.meaning import Reading
from grammar.numerals import number_words
from grammar.vocabulary import Station


class Gap(Phase):
    """Setting the rod; the sweep is that of the dial."""

    ROD = "set rod"


# -- words -------------------------------------------------------------------------------


@spoken
def set_rod(station: Station, leaf: Decimal) -> str:
    """Set the rod at the first station, so that the leaf just drags; another leaf is called."""
    return f"Rod on leaf {number_words(leaf)} at the {station}. Done?"


@spoken
def rod_on(leaf: Decimal) -> str:
    """Another leaf was called than the one that was told."""
    return f"Rod on {number_words(leaf)}."


@spoken
def which_not(station: Station) -> str:
    """The next leaf is much thicker than the one that goes: something between may be known."""
    return f"{station.capitalize()}: which does not go? Or done."


@spoken
def goes_already(leaf: Decimal) -> str:
    """What is said not to go is not thicker than what goes."""
    return f"{number_words(leaf).capitalize()} goes already."


@spoken
def between(go: Decimal, no_go: Decimal) -> str:
    """Read the interval back."""
    return f"Between {number_words(go)} and {number_words(no_go)}."


TOUCHES: Final = "The rod touches. Set a thicker leaf."  # a gap of nothing cannot be measured

# -- what is done ------------------------------------------------------------------------


def _rod_set(state: State, heard: Heard) -> Turn:
    """The leaf just drags at the first station: that is the first gap of the sweep."""
    first = Taken(
        state.sweep_number, FIRST, rod_leaf(state), heard.at, heard.source, heard.confidence,
        zeroed=True,
    )  # fmt: skip
    return go(state.begun_with(first), Sweeping.SWEEP, CALL_THICKEST)


def _leaf_called(state: State, called: Reading, heard: Heard) -> Turn:
    """The rod is set to another leaf than the one that was told."""
    if called.correction or called.station:
        return ask(state, NOT_ZEROED)
    if called.value <= 0:
        return ask(state, TOO_SMALL)
    turn = _rod_set(replace(state, rod=called.value), heard)
    return replace(turn, said=f"{rod_on(called.value)} {turn.said}")


def touches(state: State) -> Turn:
    """A gap of nothing: the rod is set again, on a thicker leaf."""
    thicker = leaf_from(state.profile, rod_leaf(state) + usual_leaf(state.profile))
    return go(replace(state, rod=thicker), Gap.ROD, TOUCHES)


def no_go_called(state: State, go_taken: Taken, called: Reading) -> Turn:
    """The thinnest that does not go there; it must be thicker than what goes."""
    size = abs(go_taken.value)
    try:
        gap_between((size,), (called.value,))
    except ValueError:
        return ask(state, goes_already(called.value))
    no_go = -called.value if go_taken.value < 0 else called.value
    kept = tuple(
        replace(taken, no_go=no_go) if taken is go_taken else taken for taken in state.readings
    )
    said = between(size, called.value)
    return carry_on(replace(state, readings=kept, pending=None), said)


PROCEDURE = Procedure(
    (
        Row(
            Gap.ROD,
            "ROD",
            lambda state: set_rod(FIRST, rod_leaf(state)),
            {"done": _rod_set, "settle": Outcome.NOISE_WANTED, "disregard": Lock.LOCK},
            on_number=_leaf_called,
            readings=True,
            step=lambda state: Step("set", what="rod", station=FIRST, total=rod_leaf(state)),
            shows=lambda state: (digits(rod_leaf(state), state.profile), "leaf under the rod"),
            left="sweep",
            how="Move the rod until the leaf drags.",
        ),
    ),
    due=lambda state: state.profile.method == "gap",
)
