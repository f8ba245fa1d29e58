"""The sign test: a leaf under the tip tells what a higher table does to the number."""

from assistant.dialogue.asking import Out, go
from assistant.dialogue.dial_setting import sign_found
from assistant.dialogue.messages import Learned
from assistant.dialogue.phases import Phase
from assistant.dialogue.prompts import dial
from assistant.dialogue.state import State
from grammar.meaning import Reading, Sign, SignName


def sign_told(state: State, told: Sign | Reading) -> Out | None:
    """The sign by itself or with the number that the dial went; None for a number without."""
    if isinstance(told, Sign):
        return _known(state, told.name)
    if not told.signed or not told.value:
        return None
    return _known(state, "plus" if told.value > 0 else "minus")


def sign_skipped(state: State) -> Out:
    """As usual: a higher table pushes the plunger in and counts up. It is asked another time."""
    return go(sign_found(state, "plus"), Phase.LOCK)


def _known(state: State, sign: SignName) -> Out:
    tested = sign_found(state, sign)
    return go(tested, Phase.LOCK, dial.higher_is(sign), Learned(tested.profile))
