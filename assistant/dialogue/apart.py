"""What is asked beside the squaring itself: about other heights of the table and its form."""

from assistant.dialogue import prompts
from assistant.dialogue.phases import Phase
from assistant.dialogue.prompts import heights
from assistant.dialogue.state import State
from grammar.vocabulary import STATIONS


def apart_question(state: State) -> str:
    """The question of a phase of other heights or of the form."""
    match state.phase:
        case Phase.OTHER:
            return heights.OTHER
        case Phase.MOVE_TABLE:
            return heights.MOVE_TABLE
        case Phase.FORM:
            return heights.FORM
        case Phase.HOLLOW:
            return heights.HOLLOW
        case _:
            read = len(state.form.corners)
            if read < len(heights.CORNERS):
                return heights.corner(heights.CORNERS[read])
            return prompts.call_again(STATIONS[0])
