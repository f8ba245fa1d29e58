"""Making the machine safe: the first questions of every job."""

from typing import Final

from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Heard
from assistant.dialogue.phases import Phase
from assistant.dialogue.rows import Procedure, Row
from assistant.dialogue.state import State
from assistant.dialogue.turn import Outcome, Turn, ask, done


class Safety(Phase):
    """The three questions, or all of it in one."""

    ALL = "all safe"
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

BY_HAND_ONLY: Final = "Spindle by hand only. Manual, codes, licensed practice come first."
"""Said once the machine is safe: the machine's manual, local codes, who may do the work."""

HAND_ONLY: Final = "Spindle by hand only."  # the same in the short form

ALL_SAFE: Final = "Unplugged, key out, glasses on, table held?"
ALL_SAFE_HEAD: Final = "Unplugged, key out, glasses on, head supported?"
"""The three in one sentence, for who knows them; no leads to each by itself."""

HEAD_HELD: Final = "Is the head supported?"  # a head may swing when its bolts are loosened
HOLD_HEAD_FIRST: Final = "Support the head first. Bolts snug, never off."  # no to that question

# -- what is done ------------------------------------------------------------------------


def _head(profile: Profile) -> bool:
    return profile.kind == "head"


def _all_safe(state: State, _: Heard) -> Turn:
    return done(state, Outcome.DONE, HAND_ONLY if state.short else BY_HAND_ONLY)


def _not_held(state: State, _: Heard) -> Turn:
    return ask(state, HOLD_HEAD_FIRST if _head(state.profile) else HOLD_TABLE_FIRST)


PROCEDURE = Procedure(
    (
        Row(
            Safety.UNPLUGGED,
            "SAFE?",
            UNPLUGGED,
            {"yes": Safety.KEY_OUT, "no": lambda state, _: ask(state, UNPLUG_FIRST)},
            instead=("done",),
            wishes=("short",),
            how="Plug out, where you can see it.",
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
            instead=("done",),
            how="The key hangs up. The glasses stay on.",
        ),
        Row(
            Safety.TABLE_HELD,
            "SAFE?",
            lambda state: HEAD_HELD if _head(state.profile) else TABLE_HELD,
            {
                "yes": _all_safe,
                "no": _not_held,
                "disregard": Safety.KEY_OUT,
            },
            instead=("done",),
            how="A jack or a block under it.",
        ),
    ),
    due=lambda state: not state.short,
)

IN_ONE = Procedure(
    (
        Row(
            Safety.ALL,
            "SAFE?",
            lambda state: ALL_SAFE_HEAD if _head(state.profile) else ALL_SAFE,
            {"yes": _all_safe, "no": Safety.UNPLUGGED},
            instead=("done",),
            wishes=("long",),
            how="No asks them one by one.",
        ),
    ),
    due=lambda state: state.short,
)
