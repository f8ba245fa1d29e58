"""Which check is being made, and its question: what asking and checking both need.

Belongs here: questions only. What the answers do is in a module for each procedure.
"""

from assistant.dialogue.amounts import size_words
from assistant.dialogue.findings import SpindleChecks
from assistant.dialogue.machine import Profile
from assistant.dialogue.phases import Phase
from assistant.dialogue.prompts import spindle_checks as words
from assistant.dialogue.state import State

SPINDLE_CHECKS: tuple[Phase, ...] = (
    Phase.SPINDLE,
    Phase.RUNOUT,
    Phase.RUNOUT_SIDE,
    Phase.SHAKE,
    Phase.END_PLAY,
    Phase.QUILL,
)
"""The question whether it was checked, then the checks in the order made."""


def spindle_question(state: State) -> str:
    """The question of the check that is being made."""
    done, profile = state.spindle, state.profile
    match state.phase:
        case Phase.SPINDLE:
            return words.ASK
        case Phase.RUNOUT:
            return words.NEAR_CHUCK if done.near is None else words.lower(_size(profile, "apart"))
        case Phase.RUNOUT_SIDE:
            return words.SAME_SIDE
        case Phase.SHAKE:
            return words.SHAKE
        case Phase.END_PLAY:
            return words.LIFT if done.lifted is None else words.LET_GO
        case _:
            depth = _size(profile, "depth")
            return words.quill_back(depth) if done.back is None else words.quill_right(depth)


def _size(profile: Profile, which: str) -> str:
    size = SpindleChecks.apart(profile.scale)
    if which == "depth":
        size = SpindleChecks.depth(profile.scale)
    return size_words(size, profile.scale)
