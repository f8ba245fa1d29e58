"""Whole jobs by feeler leaves under a bent rod, typed and by keys (invented readings)."""

from dataclasses import replace
from decimal import Decimal

import pytest

from assistant.dialogue import methods, wording
from assistant.dialogue.machine import METRIC_STOCK, Instrument, Profile
from assistant.dialogue.messages import Closed
from assistant.dialogue.procedures import gap, sweep
from assistant.dialogue.procedures.gap import Gap
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.questions import offer_now
from assistant.dialogue.state import AskNoGo
from assistant.metrology.lengths import Length
from assistant.simulation.bench import profile_for
from grammar.meaning import Reading
from grammar.sentences import sentences
from tests.dialogue.typed import GAP, READY, TypedJob
from tests.grammar.languages import accepts


def _sweeping(profile: Profile = GAP) -> TypedJob:
    job = TypedJob.begin(profile)
    job.say(*READY, "done")
    assert job.state.phase is Sweeping.SWEEP
    return job


def test_a_whole_job_front_to_back_by_leaves() -> None:
    job = TypedJob.begin(GAP)
    assert methods.BENT_ROD_IN in job.say("yes", "yes", "yes")
    assert job.say("yes", "locked") == "Rod on leaf ten at the back. Done?"
    assert job.step is not None
    assert (job.step.do, job.step.total) == ("set", Decimal(10))
    assert job.say("done") == f"{sweep.CALL_THICKEST} Right?"
    assert job.say("seven") == "Right seven. Front?"
    assert job.say("four") == "Front four. Left?"
    assert job.say("seven") == "Left seven. Back: does ten still drag?"
    said = job.say("yes")
    # From four to five in front, ten just so at the back: five and a half, smaller gap higher.
    assert "Back ten. Front high five and a half." in said
    assert job.result is not None
    assert job.result.answer.drift == 0
    assert job.say("done").startswith("Shim one and a half above the bolt.")
    job.say("shim three above", "locked", "done")
    said = job.say("nine", "nine", "nine", "yes")
    assert "Square within four thou." in said
    job.say("yes", "done")
    assert Closed(finished=True) in job.effects
    assert job.state.shims.trials[0].before - job.state.shims.trials[0].after == pytest.approx(
        5, abs=0.2
    )


def test_the_same_by_keys_alone() -> None:
    job = TypedJob.begin(GAP)
    job.press("enter enter enter enter enter enter")
    assert job.said.endswith("Right?")
    job.press("7 enter 4 enter 7 enter enter")
    assert "Front high five and a half." in job.said
    assert job.press("enter enter enter").endswith("Rod on leaf ten at the back. Done?")
    assert job.press("2 5 enter") == f"Rod on twenty five. {sweep.CALL_THICKEST} Right?"


def test_a_gap_has_no_sign_and_none_is_listened_for() -> None:
    job = _sweeping()
    offer = offer_now(job.state)
    assert not accepts(sentences(offer), "right minus seven")
    assert accepts(sentences(offer), "right seven and a half")
    assert job.say("minus seven") == f"{wording.NO_SIGN} Right?"
    assert job.say("plus seven") == "Right seven. Front?"
    assert "plus or minus" not in job.say("help")


def test_a_rod_that_touches_is_set_to_a_thicker_leaf_and_nothing_is_lost() -> None:
    job = _sweeping()
    job.say("seven")
    said = job.say("zero")
    assert said == f"{gap.TOUCHES} Rod on leaf twenty at the back. Done?"
    assert [undone.taken.value for undone in job.state.undone] == [7]
    job.say("done")
    assert job.values() == {"back": Decimal(20)}


def test_a_wide_step_between_leaves_is_asked_about_once() -> None:
    job = _sweeping()
    said = job.say("fifteen")
    assert said == "Right fifteen. Right: which does not go? Or done."
    assert isinstance(job.state.pending, AskNoGo)
    assert job.say("twelve") == f"Twelve goes already. {gap.which_not('right')}"
    assert job.say("sixteen and a half") == "Between fifteen and sixteen and a half. Front?"
    assert job.state.taken("right").no_go == Decimal("16.5")  # type: ignore[union-attr]
    # What is not known reaches to the next leaf; Enter says so, and so does the next reading.
    job.say("fifteen")
    assert job.press("enter") == "Left?"
    assert job.state.taken("front").no_go == 20  # type: ignore[union-attr]
    job.say("fifteen")
    assert job.say("front twelve").startswith("Front one two?")
    assert offer_now(job.state).commands[:2] == ("yes", "no")


def test_a_wide_step_is_more_uncertain_than_a_told_one() -> None:
    def sure(*lines: str) -> float:
        job = _sweeping()
        job.say("twelve", "done", *lines, "twelve", "done", "yes")
        assert job.result is not None
        return job.result.answer.budget.front_minus_back.u

    assert sure("fifteen", "sixteen") < sure("fifteen", "done")


def test_taking_back_while_the_leaf_is_asked_takes_the_gap_back() -> None:
    job = _sweeping()
    job.say("fifteen", "disregard")
    assert job.state.pending is None
    assert job.said.endswith("Front?")
    job.say("disregard")
    assert job.values() == {"back": Decimal(10)}


def test_a_rod_that_moved_is_found_when_the_leaf_drags_no_more() -> None:
    job = _sweeping()
    job.say("ten", "ten", "ten")
    assert job.say("no") == sweep.CALL_THICKEST
    said = job.say("five", "five")
    assert "Back moved five. Sweep again." in said
    assert job.state.phase is Gap.ROD


def test_no_flip_of_a_sign_is_offered_for_a_gap_that_does_not_fit() -> None:
    job = _sweeping(replace(GAP, scale=replace(GAP.scale, reach=60)))
    said = job.say("four", "nine", "nine", "yes")
    assert "One reading looks wrong." in said
    assert "minus" not in said


def test_tapping_is_coached_in_gaps() -> None:
    job = _sweeping()
    said = job.say("six", "ten", "fourteen", "yes")
    assert "Right high eight." in said
    assert said.endswith("Rod at the right. Hold the table. Slack the lock, keep some drag. Done?")
    assert job.say("done") == "Soft mallet. Tap right down to ten."
    # A smaller gap than wanted: still high. A larger one: too far down.
    assert job.say("eight") == "Right eight. Two more down."
    assert job.say("thirteen") == "Right thirteen. Too far. Back up three."
    assert "On target." in job.say("ten")
    said = job.say("locked", "done", "ten", "ten", "ten", "done", "yes")
    assert wording.AS_EXPECTED in said
    assert job.state.taps.pull == 0
    assert [tap.change for tap in job.state.taps.done] == [-4]


def test_a_doubtful_gap_is_asked_and_a_clear_one_is_not() -> None:
    job = _sweeping()
    seven = Reading(Decimal(7), False)
    assert job.hear("seven", seven, outcome="ask", confidence=0.97) == "Right seven. Front?"
    assert job.hear("seven", seven, outcome="ask", confidence=0.6) == "Front seven?"
    assert job.say("yes") == "Front seven. Left?"


def test_metric_leaves_and_a_leaf_of_ones_own() -> None:
    own = Instrument(gauges=METRIC_STOCK, set_to=Decimal(30))
    job = TypedJob.begin(replace(profile_for("mm"), method="gap", instrument=own))
    assert job.say(*READY) == "Rod on leaf thirty at the back. Done?"
    job.say("done")
    assert job.say("point three zero").startswith("Right thirty. Right: which does not go?")


def test_roughness_is_measured_in_gaps() -> None:
    job = TypedJob.begin(GAP)
    assert job.say(*READY, "settle") == methods.spots_apart("Rod", "an inch")
    assert job.say("ten") == "Ten."
    job.say("nine", "ten", "done")
    assert job.state.profile.surface == tuple(map(Decimal, (10, 9, 10)))


def test_the_answer_does_not_depend_on_the_leaf_that_the_rod_is_set_to() -> None:
    answers: list[float] = []
    for leaf, gaps in (("seven", ("eight", "nine", "eight")), ("five", ("six", "seven", "six"))):
        job = TypedJob.begin(replace(GAP, sweep_diameter=Length.of(8, "in")))
        job.say(*READY, leaf, *gaps, "yes")
        assert job.result is not None
        answers.append(job.result.answer.front_minus_back)
    assert answers == pytest.approx([-2.5, -2.5])
