"""The same table at other heights and swings, after the job at the first one.

Square at one height is not square at another: column, arm and quill have their own errors.
A short sweep at another place is compared with the first and kept apart from as found and
as left; nothing is corrected by it.
"""

from dataclasses import replace
from typing import Final

from assistant.dialogue.answer_words import axes_words
from assistant.dialogue.formatting import amount, spoken_step
from assistant.dialogue.messages import Heard, Result, Step
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.sweep import take_back_sweep
from assistant.dialogue.rows import Procedure, Row
from assistant.dialogue.spoken import spoken
from assistant.dialogue.state import CompletedSweep, State
from assistant.dialogue.sweep_answer import answer_of
from assistant.dialogue.turn import Outcome, Turn, done, go
from assistant.metrology.answer import Answer
from assistant.metrology.judgement import as_expected
from assistant.metrology.positions import Position, Survey, survey


class Heights(Phase):
    """The offer, and moving the table there."""

    OTHER = "other height"
    MOVE_TABLE = "move table"


# -- words -------------------------------------------------------------------------------
OTHER: Final = "Check another height or swing?"  # square at one height is not square at another
MOVE_TABLE: Final = "Hold the table, move it, lock all. Say locked."  # to the other height or swing
SAME_HERE: Final = "Same as at the first."  # the two places cannot be told apart


@spoken
def differs(best: str) -> str:
    """The places differ; what the best setting for all of them leaves at the worst."""
    return f"Not the same as at the first. Best for all leaves {best}."


MOVED_SINCE: Final = "Table back to its first place."  # before correcting after another place

# -- what is done ------------------------------------------------------------------------


def _no(state: State, _: Heard) -> Turn:
    if state.heights.moved:
        return go(state, Close.DECIDE)
    return done(state, Outcome.NO_OTHER_HEIGHT)


def _back(state: State, heard: Heard) -> Turn:
    """ "Disregard": the last sweep elsewhere is taken up again, if there is one."""
    last = state.sweeps[-1] if state.sweeps else None
    if last is not None and last.place and not last.refused:
        reopened = replace(state, heights=replace(state.heights, under_way=True))
        return take_back_sweep(reopened, heard.at)
    return go(state, Close.DECIDE)


def _locked(state: State, _: Heard) -> Turn:
    away = replace(state.heights, under_way=True, moved=True)
    return done(replace(state, heights=away), Outcome.MEASURE)


def place_back(state: State) -> Turn:
    """ "Disregard" before the sweep at another place: the table is still being moved."""
    here = replace(state.heights, under_way=False)
    return go(replace(state, heights=here), Heights.MOVE_TABLE)


def judge_place(state: State, said: str) -> Turn:
    """A sweep at another place is complete: kept apart, compared, and another one offered."""
    answer = answer_of(state, state.readings, alone=True)
    sweep = state.as_sweep(answer)
    kept = replace(state.kept(sweep), heights=replace(state.heights, under_way=False))
    words = f"{said} {axes_words(answer, state.profile)} {_compared(kept, answer)}"
    return go(kept, Heights.OTHER, words.strip(), Result(sweep.number, answer))


def _compared(state: State, here: Answer) -> str:
    first, all_places = state.as_left, survey_of(state)
    if first is None or all_places is None:
        return ""
    if not differ(first, here):
        return SAME_HERE
    return differs(amount(all_places.best_tilt, spoken_step(state.profile)))


def differ(first: Answer, here: Answer) -> bool:
    """Whether two places differ by more than their uncertainties together."""
    pairs = (
        (here.front_minus_back, first.front_minus_back,
         here.budget.front_minus_back.u, first.budget.front_minus_back.u),
        (here.right_minus_left, first.right_minus_left,
         here.budget.right_minus_left.u, first.budget.right_minus_left.u),
    )  # fmt: skip
    return not all(as_expected(now, was, u, v) for now, was, u, v in pairs)


def places_of(state: State) -> tuple[CompletedSweep, ...]:
    """The sweeps at other places that count, in order."""
    return tuple(sweep for sweep in state.sweeps if sweep.place and not sweep.refused)


def survey_of(state: State) -> Survey | None:
    """What the first place, as left, and all others say together; None without another."""
    first, others = state.as_left, places_of(state)
    if first is None or not others:
        return None
    named = (("first", first), *((sweep.place, sweep.answer) for sweep in others))
    return survey(
        [Position(name, each.front_minus_back, each.right_minus_left) for name, each in named]
    )


PROCEDURE = Procedure(
    (
        Row(
            Heights.OTHER,
            "ELSE?",
            OTHER,
            {"yes": Heights.MOVE_TABLE, "no": _no, "disregard": _back},
            how="Square here may not be square there.",
        ),
        Row(
            Heights.MOVE_TABLE,
            "MOVE",
            MOVE_TABLE,
            {"locked": _locked, "disregard": Heights.OTHER},
            readings=True,
            loose=True,
            step=Step("tighten", what="table, at another height or swing"),
            how="Jack under it before you unlock.",
        ),
    ),
)
