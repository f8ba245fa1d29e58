"""Sweeping the same table again: when another sweep pays, and how it is made.

Belongs here: the offer of a repeat, relocking and the half-turn refit before it, and the new
sweep in place of one that would not fit. What several sweeps come to is the metrology's.
"""

from dataclasses import replace
from typing import Final

from assistant.dialogue.facts import Again
from assistant.dialogue.machine import SHIMMED
from assistant.dialogue.messages import Heard, Step
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.sweep import back_to_sweep, last_taken_back, set_aside, stands
from assistant.dialogue.rows import Procedure, Row
from assistant.dialogue.state import NOD, PACK_LENGTHWISE, Plan, State
from assistant.dialogue.sweep_answer import region_here
from assistant.dialogue.turn import Outcome, Turn, done, go
from assistant.dialogue.wording import UNDECIDED
from assistant.metrology.answer import Answer
from assistant.metrology.judgement import sweeps_to_decide
from assistant.metrology.uncertainty import Budget


class Repeat(Phase):
    """The offers of another sweep, and what comes before it."""

    AFRESH = "afresh"
    AGAIN = "again"
    REFIT = "refit"
    LOCK_AGAIN = "lock again"


MOST = 4
"""Sweeps of one state of the table: beyond it a mean gains too little for the work."""

CLEAR = 1.5
"""A difference this many times its expanded uncertainty is corrected without a second look: of
smaller ones too many are half noise (judgement; the study of many machines shows it)."""

LOCK_SHARE = 0.1
"""Part of the variance from which the lock is worth unlocking for a repeat (judgement)."""

# -- words -------------------------------------------------------------------------------

SWEEP_AFRESH: Final = "Sweep again from the start?"  # a new sweep in place of one that does not fit

NEAR_NOISE: Final = "Barely readable."
"""What would be corrected may be noise for the most part: look again first."""

SWEEP_AGAIN: Final = "Sweep again, beside the old spots?"
"""The mean of both is surer; on the same spots the surface would be off the same way again."""

REFIT_AGAIN: Final = "Bar half round in the chuck, sweep again?"
"""The spindle's own rise and fall once a turn is then met upside down, and cancels."""

REFIT: Final = "Turn the bar half round. Chuck key out. Done?"  # before such a sweep

LOCK_AGAIN: Final = "Hold the table. Unlock, lock to the mark. Say locked."
"""Before a repeat where the lock is a part of the noise."""

ONCE_MORE: Final = "Sweep again?"  # the short form of the offer
LOCKED_AGAIN: Final = "Hold, unlock, lock. Locked?"  # and of what comes before it

# -- when it pays ------------------------------------------------------------------------


def why_again(state: State, answer: Answer, plan: Plan | None) -> str:
    """The reason for another sweep of this table before anything else; empty when none pays.

    One pays when it should settle the verdict, or when what would be corrected barely stands
    out of the noise. ``plan`` is the correction that would be made otherwise.
    """
    made = len(state.same_table)
    if state.again.declined or made >= MOST:
        return ""
    if answer.verdict == "undecided" and _settles(state, answer, plan, made):
        return UNDECIDED
    if plan is not None and made <= 2 and not _clear(answer, plan):
        return NEAR_NOISE
    return ""


def _settles(state: State, answer: Answer, plan: Plan | None, made: int) -> bool:
    """Whether more sweeps should settle the verdict, and sooner than the correction would.

    Nothing is gained by proving a table beyond that can be corrected.
    """
    probability = answer.judgement.probability or 0.0
    hope, most = 1.0, MOST
    if plan is None:
        # Nothing to correct: it is hoped that chance made one standard uncertainty of it.
        hope = max(0.0, 1 - answer.budget.tilt.u / answer.tilt) if answer.tilt else 1.0
    elif probability < 0.5:
        return False
    else:
        most = made + 1
    needed = sweeps_to_decide(
        (hope * answer.front_minus_back, hope * answer.right_minus_left),
        answer.budget,
        region_here(state.profile),
        made,
        most,
        state.again.relocked if made > 1 else lock_counts(state, answer),
    )
    return needed is not None


def _clear(answer: Answer, plan: Plan) -> bool:
    """Whether what the plan corrects is well out of the noise."""
    if plan.kind in ("shim", NOD, PACK_LENGTHWISE):
        return _size(answer.front_minus_back, answer.budget.front_minus_back) > CLEAR
    return _size(answer.right_minus_left, answer.budget.right_minus_left) > CLEAR


def _size(difference: float, budget: Budget) -> float:
    return abs(difference) / budget.expanded()


def lock_counts(state: State, answer: Answer) -> bool:
    """Whether the lock is a part of the uncertainty that a repeat should not carry along.

    Bolts that hold a head or a free table where it was set are not loosened for it.
    """
    if state.profile.kind not in SHIMMED:
        return False
    budget = answer.budget.tilt
    return sum(budget.share(c) for c in budget.components if c.source == "relock") > LOCK_SHARE


# -- how it is made ----------------------------------------------------------------------


def _begin_again(state: State, _: Heard) -> Turn:
    """Yes to another sweep: refit first if that is due, else go to the lock or to the zero."""
    return go(state, Repeat.REFIT) if state.refit_due else _to_the_dial(state)


def _refitted(state: State, _: Heard) -> Turn:
    """The bar sits half a turn round now."""
    turned = replace(state.again, refitted=not state.again.refitted)
    return _to_the_dial(replace(state, again=turned))


def _to_the_dial(state: State) -> Turn:
    """Unlock and lock first where the lock counts, and the same way for every repeat."""
    made, last = state.same_table, state.as_left
    if len(made) == 1 and last is not None:
        state = replace(state, again=replace(state.again, relocked=lock_counts(state, last)))
    return go(state, Repeat.LOCK_AGAIN) if state.again.relocked else done(state, Outcome.MEASURE)


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
        ),
        Row(
            Repeat.AGAIN,
            "AGAIN?",
            lambda state: REFIT_AGAIN if state.refit_due else SWEEP_AGAIN,
            {"yes": _begin_again, "no": _declined, "disregard": back_to_sweep},
            short=lambda state: REFIT_AGAIN if state.refit_due else ONCE_MORE,
        ),
        Row(
            Repeat.REFIT,
            "REFIT",
            REFIT,
            {
                "done": _refitted,
                "skip": lambda state, _: _to_the_dial(state),
                "disregard": Repeat.AGAIN,
            },
            step=Step("refit", what="bar, half a turn round in the chuck"),
        ),
        Row(
            Repeat.LOCK_AGAIN,
            "LOCK",
            LOCK_AGAIN,
            {"locked": Outcome.MEASURE, "disregard": Repeat.AGAIN},
            readings=True,
            loose=True,
            step=Step("relock", what="table and column"),
            short=LOCKED_AGAIN,
        ),
    ),
)
