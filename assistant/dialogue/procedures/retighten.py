"""A correction that was begun and is given up: what the hands have loosened is tightened first.

The table has moved by then, if only by what its lock scatters, so that the readings that were
taken before stay as they are, and a new sweep follows.
"""

from dataclasses import replace
from typing import Final

from assistant.dialogue.messages import Step
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures import packing
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.rows import Procedure, Row
from assistant.dialogue.state import Plan, State
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
    given_up = replace(
        before if before.plan is None else _given_up(before, before.plan),
        axis_left_out=turn.state.axis_left_out,
        pending=None,
    )
    return go(given_up, Retighten.RETIGHTEN)


def _given_up(state: State, plan: Plan) -> State:
    """The plan was not made: the shims that it may have changed are as they were."""
    left = replace(state, plan=replace(plan, given_up=True))
    if plan.kind in packing.PACKS:
        return packing.fitted_with(left, plan.kind, plan.shim_before)
    return replace(left, shims=replace(left.shims, total=plan.shim_before))


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
