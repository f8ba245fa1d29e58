"""A locating pin comes out before the first correction of a table that has one."""

from dataclasses import replace
from typing import Final

from assistant.dialogue.messages import Heard, Step
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.sweep import back_to_sweep
from assistant.dialogue.rows import Procedure, Row
from assistant.dialogue.state import State
from assistant.dialogue.turn import Outcome, Turn, done


class Pin(Phase):
    """The one step."""

    PIN = "locating pin"


# -- words -------------------------------------------------------------------------------

PIN_OUT: Final = "Support the table. Locating pin out. Done?"
"""A locating pin holds the table where it was made, not where the spindle needs it."""

# -- what is done ------------------------------------------------------------------------


def due(state: State) -> bool:
    """Whether there is a pin that still holds the table."""
    return state.profile.kind == "pinned" and not state.pin_out


def _out(state: State, _: Heard) -> Turn:
    return done(replace(state, pin_out=True), Outcome.PIN_OUT)


PROCEDURE = Procedure(
    (
        Row(
            Pin.PIN,
            "PIN",
            PIN_OUT,
            {"done": _out, "disregard": back_to_sweep},
            loose=True,
            step=Step("pull pin", what="locating pin"),
            left="correct",
            how="Turning its nut may draw it.",
        ),
    ),
)
