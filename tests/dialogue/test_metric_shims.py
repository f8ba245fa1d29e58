"""The shim that is really in, called in metric: in millimetres, in hundredths, or asked."""

from dataclasses import replace
from decimal import Decimal

import pytest

from assistant.dialogue.machine import Profile
from assistant.dialogue.procedures.packing import Feet
from assistant.dialogue.procedures.shim import Bolt
from grammar.scale import Scale
from tests.dialogue.typed import PACKED, READY, TypedJob

METRIC = Profile(scale=Scale("mm", 50, Decimal("0.5")))


def _asked_for_a_shim(profile: Profile = METRIC) -> TypedJob:
    job = TypedJob.begin(profile)
    job.say(*READY, "zeroed", "plus fifteen", "plus thirty", "plus fifteen", "zero", "done")
    assert job.state.phase is (Bolt.SHIM if profile.kind == "bolted" else Feet.PACK)
    return job


@pytest.mark.parametrize("words", ["shim point zero four above", "shim zero point zero four above",
                                   "shim four above", "shim 0.04 above"])  # fmt: skip
def test_from_the_point_on_it_is_millimetres(words: str) -> None:
    job = _asked_for_a_shim()
    assert job.say(words).startswith("Shim four above.")
    assert job.state.shims.total * job.state.profile.scale.count_mm == Decimal("0.04")
    assert job.state.phase is Bolt.TIGHTEN


def test_by_the_keypad_as_well() -> None:
    job = _asked_for_a_shim()
    assert job.press("- 0 . 0 4 enter").startswith("Shim four below.")
    assert job.state.shims.total == -4


def test_what_may_be_either_is_asked_as_both() -> None:
    hundredths = _asked_for_a_shim()
    assert hundredths.say("shim one point five below") == "Shim one and a half hundredths?"
    assert hundredths.state.phase is Bolt.SHIM
    assert hundredths.say("yes").startswith("Shim one and a half below.")
    assert hundredths.state.shims.total == Decimal("-1.5")
    millimetres = _asked_for_a_shim()
    millimetres.say("shim one point five below")
    assert millimetres.say("no") == "Shim one and a half millimetres?"
    millimetres.say("yes")
    assert millimetres.state.shims.total == -150


def test_neither_puts_the_question_again_and_another_shim_answers_it() -> None:
    job = _asked_for_a_shim()
    first = job.state.last_said
    job.say("shim one point five", "no")
    assert job.say("no") == first
    assert job.state.pending is None
    job.say("shim two point five")
    assert job.say("shim twenty above").startswith("Shim twenty above.")
    again = _asked_for_a_shim()
    again.say("shim two point five")
    assert again.say("disregard") == first
    assert again.say("shim two point five", "shim one point five") == (
        "Shim one and a half hundredths?"
    )


def test_by_the_keypad_it_is_asked_and_answered_too() -> None:
    job = _asked_for_a_shim()
    assert job.press("+ 1 . 5 enter") == "Shim one and a half hundredths?"
    assert job.press("-") == "Shim one and a half millimetres?"
    job.press("enter")
    assert job.state.shims.total == 150


def test_under_the_feet_as_above_the_bolt() -> None:
    packed = replace(PACKED, scale=METRIC.scale)
    job = _asked_for_a_shim(packed)
    assert job.say("shim zero point zero five").startswith("Shim five under")
    other = _asked_for_a_shim(packed)
    assert other.say("shim one point five") == "Shim one and a half hundredths?"
    assert other.say("yes").startswith("Shim one and a half under")


def test_in_inches_nothing_is_asked() -> None:
    job = TypedJob.at(Bolt.SHIM)
    assert job.say("shim one point five above").startswith("Shim one and a half above.")
