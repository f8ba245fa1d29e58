"""The sweep with a square held against the bar: nothing is zeroed, so it begins at once.

Readings are taken as in any sweep; an open end, bottom or top, is what a sign is elsewhere.
"""

from decimal import Decimal

from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.rows import Procedure
from assistant.dialogue.spoken import spoken
from grammar.numerals import number_words

# -- words -------------------------------------------------------------------------------


@spoken
def which_end(value: Decimal) -> str:
    """A leaf goes: at the foot of the blade or at its upper end?"""
    return f"{number_words(value).capitalize()}: open at the bottom?"


PROCEDURE = Procedure((), due=lambda state: state.profile.method == "square", first=Sweeping.SWEEP)
