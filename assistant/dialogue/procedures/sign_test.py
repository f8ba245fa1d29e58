"""The sign test: a leaf under the tip tells what a higher table does to the number."""

from assistant.dialogue.dial_setting import sign_found, sign_unknown
from assistant.dialogue.messages import Heard, Learned
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.setup import SetUp
from assistant.dialogue.rows import Procedure, Row
from assistant.dialogue.spoken import spoken
from assistant.dialogue.state import State
from assistant.dialogue.turn import Outcome, Turn, ask, done
from grammar.meaning import Reading, Sign, SignName


class SignTest(Phase):
    """The one question."""

    SIGN = "sign test"


# -- words -------------------------------------------------------------------------------


@spoken
def sign_test(one_way: bool) -> str:
    """What a leaf under the tip does to the number is what a higher table does."""
    hint = " Plus is up." if one_way else ""
    return f"Leaf under the tip: plus or minus?{hint}"


@spoken
def higher_is(sign: str) -> str:
    """What the leaf did, read back."""
    return f"Table high reads {sign}."


# -- what is done ------------------------------------------------------------------------


def _number(state: State, called: Reading, _: Heard) -> Turn:
    """The number that the dial went, with its sign; one without tells nothing."""
    if not called.signed or not called.value:
        return ask(state)
    return _known(state, "plus" if called.value > 0 else "minus")


def _skipped(state: State, _: Heard) -> Turn:
    """As usual: a higher table pushes the plunger in and counts up. It is asked another time."""
    return done(sign_found(state, "plus"), Outcome.DONE)


def _known(state: State, sign: SignName) -> Turn:
    tested = sign_found(state, sign)
    return done(tested, Outcome.DONE, higher_is(sign), Learned(tested.profile))


def _sign(state: State, told: Sign) -> Turn:
    return _known(state, told.name)


PROCEDURE = Procedure(
    (
        Row(
            SignTest.SIGN,
            "SIGN?",
            lambda state: sign_test(state.profile.instrument.face == "continuous"),
            {"skip": _skipped, "disregard": SetUp.SETUP},
            on_number=_number,
            on_sign=_sign,
            readings=True,
            stations=False,
            as_dial=False,
            how="Slip a leaf under. Which way goes the hand?",
        ),
    ),
    due=lambda state: sign_unknown(state.profile),
)
