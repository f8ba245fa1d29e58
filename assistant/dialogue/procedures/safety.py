"""Making the machine safe: the first questions of every job."""

from typing import Final

from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Heard
from assistant.dialogue.phases import Phase
from assistant.dialogue.rows import Procedure, Row
from assistant.dialogue.state import State
from assistant.dialogue.turn import Outcome, Turn, ask, done


class Safety(Phase):
    """The three questions."""

    UNPLUGGED = "unplugged"
    KEY_OUT = "key out"
    TABLE_HELD = "table held"


# -- words -------------------------------------------------------------------------------

UNPLUGGED: Final = "Is the machine unplugged?"  # the first question of every job
UNPLUG_FIRST: Final = "Unplug it first. Hard-wired: lock it out."  # no to the first question

KEY_OUT: Final = "Chuck key out, glasses on?"
"""The chuck key flies when a spindle starts; eye protection belongs to it."""

KEY_OUT_FIRST: Final = "Key out and glasses on first."  # no to the second question
TABLE_HELD: Final = "Is the table held from dropping?"  # a table may drop when its lock is loosened
HOLD_TABLE_FIRST: Final = "Block or jack the table first."  # no to the third question

BY_HAND_ONLY: Final = "Spindle by hand only. Follow the machine's manual."
"""Said once the machine is safe."""
HEAD_HELD: Final = "Is the head supported?"  # a head may swing when its bolts are loosened
HOLD_HEAD_FIRST: Final = "Support the head first. Bolts snug, never off."  # no to that question

# -- what is done ------------------------------------------------------------------------


def _head(profile: Profile) -> bool:
    return profile.kind == "head"


def _not_held(state: State, _: Heard) -> Turn:
    return ask(state, HOLD_HEAD_FIRST if _head(state.profile) else HOLD_TABLE_FIRST)


PROCEDURE = Procedure(
    (
        Row(
            Safety.UNPLUGGED,
            "SAFE?",
            UNPLUGGED,
            {"yes": Safety.KEY_OUT, "no": lambda state, _: ask(state, UNPLUG_FIRST)},
        ),
        Row(
            Safety.KEY_OUT,
            "SAFE?",
            KEY_OUT,
            {
                "yes": Safety.TABLE_HELD,
                "no": lambda state, _: ask(state, KEY_OUT_FIRST),
                "disregard": Safety.UNPLUGGED,
            },
        ),
        Row(
            Safety.TABLE_HELD,
            "SAFE?",
            lambda state: HEAD_HELD if _head(state.profile) else TABLE_HELD,
            {
                "yes": lambda state, _: done(state, Outcome.DONE, BY_HAND_ONLY),
                "no": _not_held,
                "disregard": Safety.KEY_OUT,
            },
        ),
    ),
    due=lambda _: True,
)
