"""The judgement: what the gates look at, and what always is asked."""

from dataclasses import replace

import pytest

from assistant.devices.ears.endpoint import Cut
from assistant.devices.ears.fallback.acoustics.evidence import Candidate, Evidence, Measures
from assistant.devices.ears.fallback.acoustics.person import Person
from assistant.devices.ears.fallback.gates import (
    ASK,
    OURS,
    OURS_WEIGHTS,
    RIGHT,
    RIGHT_WEIGHTS,
    WORD_WEIGHTS,
    is_word,
    judged,
    meanings,
    ours_features,
    right_features,
)
from assistant.devices.ears.verify import verify
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.questions import offer as phase_offer
from grammar.meaning import Command
from grammar.numerals import PAIRS, number_value
from grammar.offer import Offer, everything
from grammar.scale import Scale
from tests.ears.sounds import quiet

OFFER = everything(Scale())
NO_LESSON = Person().lessons
GOOD = Measures(
    fit=2.0, worst=1.5, outside=0.0, slowest=2.5, fastest=2.2, words=3, phones=9, frames=100,
    contrast_db=40.0, warp=1.0, over_talk=60.0, sound_over_talk=100.0, sound_over_doubles=90.0,
    longest=3.2, shortest=1.6, length=2.3, unevenness=0.4,
)  # fmt: skip
TALK = Measures(
    fit=-0.5, worst=-3.0, outside=0.3, slowest=3.0, fastest=1.2, words=3, phones=9, frames=80,
    contrast_db=40.0, warp=1.0, over_talk=-250.0, sound_over_talk=-150.0,
    sound_over_doubles=-100.0, longest=3.8, shortest=1.1, length=1.9, unevenness=0.9,
)  # fmt: skip


def heard(
    *sentences: tuple[str, float], measures: Measures = GOOD, offer: Offer = OFFER
) -> tuple[str, float]:
    """Outcome and confidence for sentences with their distance from the best, in nats."""
    best, *others = [Candidate(words, -1000.0 - behind) for words, behind in sentences]
    decoded = judged(Evidence(best, tuple(others), measures, NO_LESSON), offer)
    outcome = verify(decoded, Cut("final", 0.0, 1.0, quiet(1.0), 60.0, 20.0, 40.0))
    return outcome, decoded.hypotheses[0].confidence if decoded.hypotheses else 0.0


def test_a_clear_call_is_accepted_and_talk_is_not() -> None:
    assert heard(("front plus six", 0), ("front plus eight", 140))[0] == "accept"
    assert heard(("front plus six", 0), ("front plus eight", 140), measures=TALK)[0] == "talk"


def test_a_single_command_is_weighed_as_such_and_nearly_that_is_doubted() -> None:
    word = replace(GOOD, words=1, phones=4)
    for words, alone in (("skip", True), ("zero", False), ("say again", False)):
        measures = word if len(words.split()) == 1 else replace(word, words=2)
        found = meanings(Evidence(Candidate(words, 0), (), measures, NO_LESSON), OFFER)
        assert is_word(found, measures) == alone
    sure = [
        judged(
            Evidence(Candidate("skip", 0), (), replace(word, sound_over_doubles=nats), NO_LESSON),
            OFFER,
        ).ours
        for nats in (-30.0, 0.0, 30.0)
    ]
    assert sure == sorted(sure)
    assert sure[0] < sure[-1]


def test_the_nearer_the_rival_the_less_sure() -> None:
    sure = [heard(("plus six", 0), ("plus eight", gap))[1] for gap in (1, 10, 40, 140)]
    assert sure == sorted(sure)
    assert heard(("plus six", 0), ("plus eight", 1))[0] == "ask"


def test_rivals_of_the_same_meaning_are_no_rivals() -> None:
    assert heard(("back plus six", 0), ("rear plus six", 2))[0] == "accept"
    found = meanings(
        Evidence(Candidate("plus six", 0), (Candidate("six plus", -5),), GOOD, NO_LESSON), OFFER
    )
    assert [one.words for one in found] == ["plus six"]


@pytest.mark.parametrize("words", ["six", "front twelve", "plus two tenths", "half"])
def test_bare_numbers_and_tenths_are_asked_however_sure(words: str) -> None:
    assert heard((words, 0))[0] == "ask"


@pytest.mark.parametrize("words", ["front zero", "say again", "minus a quarter"])
def test_zero_and_commands_need_no_sign(words: str) -> None:
    assert heard((words, 0))[0] == "accept"


def test_a_teen_that_may_be_a_ty_is_asked_where_both_can_be_shown() -> None:
    wide = everything(Scale("thou", 99))
    near = ("plus fifteen", 0), ("plus nine", 90)
    assert heard(*near)[0] == "accept"
    assert heard(*near, offer=wide)[0] == "ask"
    assert heard(("plus thirty", 0), ("plus three", 90))[0] == "ask"
    assert heard(("plus fifteen", 0), ("plus nine", 120), offer=wide)[0] == "accept"
    assert heard(("plus one five", 0), ("plus nine", 90), offer=wide)[0] == "accept"


def test_zero_and_zeroed_are_asked_where_both_are_offered() -> None:
    assert heard(("zeroed", 0), ("zero", 60))[0] == "ask"
    assert heard(("zero thou", 0), ("zeroed", 60))[0] == "ask"
    alone = Offer(Scale(), ("zeroed", "stop"))
    assert heard(("zeroed", 0), ("stop", 60), offer=alone)[0] == "accept"


@pytest.mark.parametrize(("said", "double"), [("zeroed", "zero"), ("zero", "zeroed")])
def test_while_the_dial_is_set_zero_and_zeroed_are_one(said: str, double: str) -> None:
    now = phase_offer(Sweeping.ZERO, Scale())
    assert heard((said, 0), (double, 2), ("front zero", 80), offer=now)[0] == "accept"
    assert heard((said, 0), ("front zero", 2), offer=now)[0] == "ask"
    found = judged(Evidence(Candidate(said, 0), (), GOOD, NO_LESSON), now)
    assert found.hypotheses[0].meaning == Command("zeroed")


def test_the_pairs_are_three_to_nine_both_ways() -> None:
    """Against the numbers themselves: a teen is ten more than the tenth part of its ty."""
    assert len(PAIRS) == 14
    for word, other in PAIRS.items():
        low, high = sorted(value for w in (word, other) if (value := number_value(w)) is not None)
        assert high / 10 == low - 10


def test_a_meaning_that_is_not_offered_is_none() -> None:
    assert heard(("done", 0), offer=Offer(Scale(), ("stop",)))[0] == "talk"


def test_there_is_a_weight_for_every_feature() -> None:
    found = meanings(Evidence(Candidate("plus six", 0), (), GOOD, NO_LESSON), OFFER)
    assert len(ours_features(found, GOOD)) == len(OURS_WEIGHTS) == len(WORD_WEIGHTS)
    assert len(right_features(found, GOOD)) == len(RIGHT_WEIGHTS)
    assert ASK < 0.5 < RIGHT < OURS < 1
