"""The sweep by feeler leaves under a bent rod: setting it, and which leaf does not go."""

from dataclasses import replace
from decimal import Decimal

from assistant.dialogue import prompts
from assistant.dialogue.asking import FIRST, Out, ask, go
from assistant.dialogue.gauging import leaf_from, rod_leaf, usual_leaf
from assistant.dialogue.messages import Heard
from assistant.dialogue.other_heights import judge_here as judge
from assistant.dialogue.phases import Phase
from assistant.dialogue.prompts import gap
from assistant.dialogue.state import State, Taken, Undone
from assistant.dialogue.sweeping import Judge, carry_on, take
from assistant.metrology.gauges import gap_between
from grammar.meaning import Reading


def rod_set(state: State, heard: Heard, leaf: Decimal | None = None) -> Out:
    """The leaf just drags at the first station: that is the first gap of the sweep."""
    if leaf is not None and leaf <= 0:
        return ask(state, prompts.TOO_SMALL)
    told = state if leaf is None else replace(state, rod=leaf)
    first = Taken(
        told.sweep_number, FIRST, rod_leaf(told), heard.at, heard.source, heard.confidence,
        zeroed=True,
    )  # fmt: skip
    said = "" if leaf is None else f"{gap.rod_on(leaf)} "
    return go(told.begun_with(first), Phase.SWEEP, f"{said}{gap.CALL_THICKEST}")


def take_gap(state: State, called: Reading, heard: Heard) -> Out:
    """A called gap: one of nothing is no gap, the rod rests on the table there."""
    station = called.station or state.awaited() or FIRST
    if called.value == 0 and station != FIRST:
        thicker = leaf_from(state.profile, rod_leaf(state) + usual_leaf(state.profile))
        again = replace(state.begun_with(), rod=thicker, pending=None)
        undone = tuple(taken for taken in state.readings if not taken.zeroed)
        return go(_undone(again, undone, heard), Phase.ROD, gap.TOUCHES)
    return take(state, called, heard, judge)


def _undone(state: State, taken: tuple[Taken, ...], heard: Heard) -> State:
    gone = tuple(Undone(one, heard.at, "the rod touched") for one in taken)
    return replace(state, undone=gone)


def still_drags(state: State, heard: Heard) -> Out:
    """ "Yes": the leaf that the rod was set to drags as it did; the sweep closes without drift."""
    same = Reading(state.readings[0].value, True, FIRST)
    return take(state, same, heard, judge)


def no_go_called(state: State, go_taken: Taken, called: Reading, judge: Judge) -> Out:
    """The thinnest that does not go there; it must be thicker than what goes."""
    size = abs(go_taken.value)
    try:
        gap_between((size,), (called.value,))
    except ValueError:
        return ask(state, gap.goes_already(called.value))
    no_go = -called.value if go_taken.value < 0 else called.value
    kept = tuple(
        replace(taken, no_go=no_go) if taken is go_taken else taken for taken in state.readings
    )
    said = gap.between(size, called.value)
    return carry_on(replace(state, readings=kept, pending=None), said, judge)
