"""A correction that was begun and is given up: what the hands have loosened is tightened first.

The table has moved by then, if only by what its lock scatters, so that the readings that were
taken before stay as they are, and a new sweep follows.
"""

from dataclasses import replace
from typing import Final

from assistant.dialogue.messages import Step
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.rows import Procedure, Row
from assistant.dialogue.state import State
from assistant.dialogue.turn import Outcome, Turn, go


class Retighten(Phase):
    """The one step."""

    RETIGHTEN = "tighten again"


# -- words -------------------------------------------------------------------------------

RETIGHTEN: Final = "Tighten it all again. Say locked."  # given up with something loose
SHIM_BACK: Final = "Shim back as it was. Tighten it all again. Say locked."
"""The same where shims may have been changed."""

# -- what is done ------------------------------------------------------------------------


def held_back(before: State, turn: Turn, row: Row) -> Turn:
    """The turn, unless it leaves something loose for a ``row`` that takes it to be tight.

    ``before``: the state that was answered. To close the job asks for the locks itself.
    """
    loose = before.loosened and turn.state.loosened
    if not loose or row.phase == before.phase or row.loose or row.phase is Close.CLOSE:
        return turn
    plan = before.plan
    shims = before.shims
    if plan is not None:
        shims = replace(shims, total=plan.shim_before)
    given_up = replace(
        before,
        plan=replace(plan, given_up=True) if plan else None,
        shims=shims,
        axis_left_out=turn.state.axis_left_out,
        pending=None,
    )
    return go(given_up, Retighten.RETIGHTEN)


def _asked(state: State) -> str:
    shimmed = state.plan is not None and state.plan.step.do == "shim"
    return SHIM_BACK if shimmed else RETIGHTEN


PROCEDURE = Procedure(
    (
        Row(
            Retighten.RETIGHTEN,
            "LOCK",
            _asked,
            {"locked": Outcome.MEASURE},
            readings=True,
            loose=True,
            step=Step("tighten", what="everything that was loosened"),
            left="tighten",
            how="As it stood before you loosened it.",
        ),
    ),
)
