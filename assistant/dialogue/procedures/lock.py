"""Everything is locked before the dial means anything."""

from typing import Final

from assistant.dialogue.messages import Heard, Step
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.setup import ALL_LOCKED, SetUp
from assistant.dialogue.rows import Procedure, Row
from assistant.dialogue.state import State
from assistant.dialogue.turn import Outcome, Turn, done, go


class Lock(Phase):
    """The one step."""

    LOCK = "lock"


# -- words -------------------------------------------------------------------------------

LOCK: Final = "Lock table, column and quill. Say locked."
LOCK_HEAD: Final = "Lock knee, saddle, table, quill, head. Say locked."
LOCK_PACKED: Final = "All bolted down and locked. Say locked."  # what stands on plain feet


# -- what is done ------------------------------------------------------------------------


def _lock(state: State) -> str:
    match state.profile.kind:
        case "head":
            return LOCK_HEAD
        case "packed":
            return LOCK_PACKED
        case "bolted" | "pinned" | "free":
            return LOCK


def _before(state: State, _: Heard) -> Turn:
    """Back to the set-up; after a shim, to the shim: nothing is known yet of what it did."""
    shimmed = state.plan is not None and state.plan.kind == "shim" and state.shim_unswept
    return done(state, Outcome.SHIM_IN_DOUBT) if shimmed else go(state, SetUp.SETUP)


def _step(state: State) -> Step:
    what = "knee, saddle, table, quill and head" if state.profile.kind == "head" else ""
    return Step("tighten", what=what or "table, column and quill")


PROCEDURE = Procedure(
    (
        Row(
            Lock.LOCK,
            "LOCK",
            _lock,
            {"locked": Outcome.DONE, "settle": Outcome.NOISE_WANTED, "disregard": _before},
            readings=True,
            loose=True,
            step=_step,
            short=ALL_LOCKED,
            left="sweep",
            how="Each as tight as for drilling.",
        ),
    ),
    due=lambda _: True,
)
