"""A tiny procedure of the tests' own: the table is wiped, and chips under the bar are counted."""

from typing import Final

from assistant.dialogue.messages import Heard, Step
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.safety import Safety
from assistant.dialogue.rows import Procedure, Row
from assistant.dialogue.spoken import spoken
from assistant.dialogue.state import State
from assistant.dialogue.turn import Outcome, Turn, ask, done
from grammar.meaning import Reading
from grammar.numerals import number_words


class Wiping(Phase):
    """Its only phase."""

    WIPE = "wipe"


WIPE: Final = "Wipe the table. Done?"
STILL_DIRTY: Final = "Wipe it first."


@spoken
def chips(count: str) -> str:
    """Read a count back."""
    return f"{count.capitalize()} chips."


def _counted(state: State, called: Reading, _: Heard) -> Turn:
    return done(state, Outcome.DONE, chips(number_words(called.value)))


PROCEDURE = Procedure(
    (
        Row(
            Wiping.WIPE,
            "WIPE",
            WIPE,
            {
                "done": Outcome.DONE,
                "no": lambda state, _: ask(state, STILL_DIRTY),
                "disregard": Safety.TABLE_HELD,
            },
            on_number=_counted,
            sizes=(9, 9),
            as_dial=False,
            step=Step("relock", what="rag"),
            shows=lambda _: ("9", "chips at most"),
        ),
    ),
    due=lambda state: state.profile.kind != "head",
)
