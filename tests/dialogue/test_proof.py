"""What an answer proves of the calls before it, and what the ears are told of them."""

import pytest

from assistant.dialogue.messages import Confirmed, Decision, Effect, TakenBack
from assistant.dialogue.procedures.safety import Safety
from assistant.dialogue.procedures.sweep import Sweeping
from grammar.meaning import Unclear
from grammar.parse import parse
from tests.dialogue.typed import TypedJob

OUTCOMES: dict[str, tuple[Decision, float]] = {
    "!": ("accept", 0.97), "?": ("ask", 0.75), "~": ("ask", 0.6),
}  # fmt: skip


def _heard(job: TypedJob, *said: str) -> list[str]:
    """What is told of calls that end with how sure they are: "yes ?", "talk x", "six" typed.

    "+3" for the third call of these that is confirmed, "-3" for one that is taken back.
    """
    turns: dict[int, int] = {}
    told: list[str] = []
    for number, line in enumerate(said, 1):
        words, _, sure = line.rpartition(" ")
        turns[job.state.turn] = number
        if sure == "x":
            job.hear(words, Unclear(words), outcome="reject", confidence=0.01)
        elif sure in OUTCOMES:
            outcome, confidence = OUTCOMES[sure]
            meaning = parse(words, job.state.profile.scale)
            job.hear(words, meaning, outcome=outcome, confidence=confidence)
        else:
            job.say(line)
        told += [sign + str(turns[turn]) for sign, turn in _proofs(job.effects)]
    return told


def _proofs(effects: tuple[Effect, ...]) -> list[tuple[str, int]]:
    return [
        ("+" if isinstance(effect, Confirmed) else "-", turn)
        for effect in effects
        if isinstance(effect, Confirmed | TakenBack)
        for turn in effect.turns
    ]


@pytest.mark.parametrize(
    ("said", "told"),
    [
        # What is taken was meant.
        ("right plus three !", "+1"),
        ("right plus three !, front plus six !", "+1 +2"),
        # What is asked was meant if it is said again, as sure together as one clear call.
        ("right plus six ?, right plus six ?", "+1 +2"),
        ("right plus six ?, right plus six !", "+1 +2"),
        ("right plus six ~, right plus six ~", ""),
        ("right plus six ~, right plus six ~, right plus six ~", "+1 +2 +3"),
        # A station that goes without saying is the same as one that is said.
        ("right plus six ?, plus six ?", "+1 +2"),
        # Something else proves that it was not.
        ("right plus six ?, right plus eight !", "-1 +2"),
        ("right plus six ?, right plus eight ?", ""),
        # It is affirmed or denied, by voice, by keys or in writing.
        ("right plus six ?, yes !", "+1 +2"),
        ("right plus six ?, no !", "-1 +2"),
        ("right plus six ?, yes", "+1"),
        ("right plus six ?, no", "-1"),
        ("right plus six ?, disregard !", "-1 +2"),
        ("right plus six ?, yes ?, affirm ?", "+1 +2 +3"),
        ("right plus six ?, yes ?", ""),
        ("right plus six ?, say again !, yes !", "+2 +1 +3"),
        # A number without its sign is asked about, and so is its sign.
        ("right six ?, minus !", "+1 +2"),
        # Where others talk nothing is proved by repeating or affirming it.
        ("right plus six ?, so he said x, right plus six ?", ""),
        ("right plus six ?, so he said x, yes !", "+3"),
        # What is taken back was not meant, and is not taken back twice.
        ("right plus six !, disregard !", "+1 -1 +2"),
        ("right plus six !, disregard !, disregard !", "+1 -1 +2 +3"),
        ("right plus six !, status !, disregard !", "+1 +2 -1 +3"),
        ("right plus six !, disregard", "+1 -1"),
        ("right plus six !, correction plus eight !", "+1 -1 +2"),
        ("right plus six !, front plus one, disregard !", "+1 +3"),
        ("right plus six ?, yes !, disregard !", "+1 +2 -1 -2 +3"),
        # An earlier reading is put right: the last call is not the one that was wrong.
        ("right plus six !, front plus one !, correction right plus eight !", "+1 +2 +3"),
        # Typed calls teach nothing.
        ("right plus six, disregard", ""),
    ],
)
def test_what_is_proved_in_a_sweep(said: str, told: str) -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    assert _heard(job, *said.split(", ")) == told.split()


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("yes ?, affirm ?", "+1 +2"),
        ("no ?, yes !", "+2"),
        ("no ?, negative ?", "+1 +2"),
        # The first yes belongs to a question that is answered: the next one begins redrawn.
        ("yes !, yes ?, yes !", "+1 +2 +3"),
        ("yes !, disregard !", "+1 -1 +2"),
    ],
)
def test_what_is_proved_by_plain_answers(said: str, told: str) -> None:
    job = TypedJob.at(Safety.UNPLUGGED)
    assert _heard(job, *said.split(", ")) == told.split()
