"""The end of a job: whether to finish, and what is done before power comes back."""

from dataclasses import replace
from typing import Final

from assistant.dialogue.answer_words import tilt_words
from assistant.dialogue.messages import Closed, Effect, Heard, Say, Step
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures import touch
from assistant.dialogue.procedures.sweep import back_to_sweep
from assistant.dialogue.rows import Procedure, Row
from assistant.dialogue.spoken import spoken
from assistant.dialogue.state import State
from assistant.dialogue.turn import Outcome, Turn, done, go, quietly
from assistant.dialogue.work_words import lean_words


class Close(Phase):
    """The offer, the last step, the end."""

    DECIDE = "decide"
    CLOSE = "close"
    CLOSED = "closed"


# -- words -------------------------------------------------------------------------------


@spoken
def within(tolerance_words: str) -> str:
    """The verdict that ends a job."""
    return f"Square within {tolerance_words}."


BEYOND: Final = "Out of tolerance."  # proven out of tolerance

NOT_WORTH_CHASING: Final = "Leave it. The rest is too small to read."
"""What is left is inside the noise."""

FINISH_QUESTION: Final = "Finish?"  # offer the end
CLOSE: Final = "Lock all, bar out, key out. Done?"  # before power comes back


@spoken
def closed(found: str, left: str) -> str:
    """The last words of a job."""
    return f"Was {found}, and still is." if found == left else f"Was {found}, now {left}."


ALL_OUT: Final = "All locked, bar and key out?"  # the same in the short form
CLOSED_UNMEASURED: Final = "Closed without a sweep."  # closed before a whole sweep was taken

# -- what is done ------------------------------------------------------------------------


def _back_from_decide(state: State, heard: Heard) -> Turn:
    if state.heights.moved:
        return done(state, Outcome.ANOTHER_HEIGHT)
    return back_to_sweep(state, heard)


def _back_from_close(state: State, heard: Heard) -> Turn:
    offered_first = state.short and state.as_left is not None and state.as_left.verdict == "within"
    if state.heights.moved or offered_first:
        return go(state, Close.DECIDE)
    if state.as_left is not None:
        return done(state, Outcome.ADVISE)
    return back_to_sweep(state, heard)


def _close(state: State, _: Heard) -> Turn:
    ended = replace(state, phase=Close.CLOSED, pending=None, turn=state.turn + 1)
    found, left = (tilt_words(one, state.profile) for one in (state.as_found, state.as_left))
    words = touch.closing_words(state) if state.touch.rounds else CLOSED_UNMEASURED
    if found:
        lean = "" if state.short else lean_words(state.as_left, state.profile)
        words = f"{closed(found, left)} {lean}".strip()
    effects: tuple[Effect, ...] = (Say(words), Closed(finished=True))
    return quietly(replace(ended, last_said=words, to_repeat=words), *effects)


PROCEDURE = Procedure(
    (
        Row(
            Close.DECIDE,
            "END?",
            FINISH_QUESTION,
            {
                "yes": Close.CLOSE,
                "no": Outcome.NOT_FINISHED,
                "finish": Close.CLOSE,
                "disregard": _back_from_decide,
            },
            instead=("done",),
            wishes=("how far off", "which way", "read back"),
            how="Yes ends it, no goes on.",
        ),
        Row(
            Close.CLOSE,
            "CLOSE",
            CLOSE,
            {"done": _close, "disregard": _back_from_close},
            instead=("locked",),
            step=Step("close", what="locks; bar out; chuck key out"),
            short=ALL_OUT,
            how="Leave nothing in the chuck.",
        ),
        Row(Close.CLOSED, "DONE", ""),
    ),
)
