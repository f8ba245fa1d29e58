"""Sweeping the same table again: when another sweep pays, and how it is made.

Belongs here: the offer of a repeat, the half-turn refit before it, and the new sweep in place of
one that would not fit. When one pays is the planner's, what several come to the metrology's.
"""

from dataclasses import replace
from typing import Final

from assistant.dialogue.facts import Again
from assistant.dialogue.messages import Heard, Step
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.sweep import back_to_sweep, last_taken_back, set_aside, stands
from assistant.dialogue.rows import Procedure, Row
from assistant.dialogue.spoken import spoken
from assistant.dialogue.spots import further_words
from assistant.dialogue.state import State
from assistant.dialogue.turn import Outcome, Turn, done, go


class Repeat(Phase):
    """The offers of another sweep, and what comes before it."""

    AFRESH = "afresh"
    AGAIN = "again"
    REFIT = "refit"


# -- words -------------------------------------------------------------------------------

SWEEP_AFRESH: Final = "Sweep again from the start?"  # a new sweep in place of one that does not fit


@spoken
def sweep_again(far: str) -> str:
    """The mean of both is surer; on the same spots the surface would be off the same way again."""
    return f"Sweep again, every spot {far} clockwise?" if far else ONCE_MORE


@spoken
def refit_again(far: str) -> str:
    """The spindle's own rise and fall once a turn is then met upside down, and cancels."""
    spots = f", spots {far} clockwise" if far else ""
    return f"Bar half round{spots}. Sweep again?"


REFIT: Final = "Turn the bar half round. Chuck key out. Done?"  # before such a sweep


ONCE_MORE: Final = "Sweep again?"  # where the spots stay

# -- how it is made ----------------------------------------------------------------------


def _begin_again(state: State, _: Heard) -> Turn:
    """Yes to another sweep: refit first if that is due, else go to the lock or to the zero."""
    return go(state, Repeat.REFIT) if state.refit_due else _to_the_dial(_further(state))


def _refitted(state: State, _: Heard) -> Turn:
    """The bar sits half a turn round now."""
    turned = replace(state.again, refitted=not state.again.refitted)
    return _to_the_dial(_further(replace(state, again=turned)))


def _further(state: State) -> State:
    """Every spot of the next sweep lies beside where it lay."""
    again = state.again
    return replace(state, again=replace(again, further=again.further + 1))


def _asked(state: State) -> str:
    far = further_words(state.profile)
    return refit_again(far) if state.refit_due else sweep_again(far)


def _to_the_dial(state: State) -> Turn:
    """Everything stays locked: it is the table as it stands that is to be known better."""
    return done(state, Outcome.MEASURE)


def _declined(state: State, _: Heard) -> Turn:
    """No repeat of this table is wanted."""
    return done(replace(state, again=replace(state.again, declined=True)), Outcome.ADVISE)


def moved_on(again: Again, moved: bool) -> Again:
    """What is kept of it after a sweep: only how the bar sits, once the table was moved."""
    if moved:
        return Again(refitted=again.refitted)
    return replace(again, afresh=False)


def _afresh(state: State, _: Heard) -> Turn:
    """Yes to a new sweep in place of the one that would not fit."""
    thrown = set_aside(state, "no fit")
    return done(replace(thrown, again=replace(thrown.again, afresh=True)), Outcome.MEASURE)


PROCEDURE = Procedure(
    (
        Row(
            Repeat.AFRESH,
            "REDO?",
            SWEEP_AFRESH,
            {
                "yes": _afresh,
                "no": lambda state, _: stands(state, ""),
                "disregard": last_taken_back,
            },
            left="sweep",
            how="From zero, each station once more.",
        ),
        Row(
            Repeat.AGAIN,
            "AGAIN?",
            _asked,
            {"yes": _begin_again, "no": _declined, "disregard": back_to_sweep},
            left="repeat",
            how="Each spot a little further round.",
        ),
        Row(
            Repeat.REFIT,
            "REFIT",
            REFIT,
            {
                "done": _refitted,
                "skip": lambda state, _: _to_the_dial(_further(state)),
                "disregard": Repeat.AGAIN,
            },
            step=Step("refit", what="bar, half a turn round in the chuck"),
            left="repeat",
            how="Loosen, half a turn, tighten, key out.",
        ),
    ),
)
