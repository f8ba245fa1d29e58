"""The checks of the spindle: asked for, skipped, taken back, weighed, kept, by voice and keys."""

from dataclasses import replace
from decimal import Decimal
from typing import Literal

import pytest

from assistant.dialogue.facts import SpindleChecks
from assistant.dialogue.machine import Profile
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures import spindle
from assistant.dialogue.procedures.setup import SetUp
from assistant.dialogue.procedures.spindle import Spindle, quill_leans
from assistant.metrology.spindle import travel_off_axis
from grammar.meaning import Reading
from grammar.scale import Scale
from tests.dialogue.typed import TypedJob


def test_all_checks_by_words() -> None:
    job = TypedJob.at(Spindle.SPINDLE)
    assert job.say("no") == f"{spindle.BEGIN} {spindle.NEAR_CHUCK}"
    assert job.say("two") == "Two. Four inches down the bar: full swing?"
    assert job.say("five") == f"Five. {spindle.SAME_SIDE}"
    assert job.say("yes").startswith("Runout two, lower five. The bar leans: clean chuck")
    assert job.say("three").startswith("Side shake three. Hands off for every reading.")
    assert job.say("four") == f"Four. {spindle.LET_GO}"
    said = job.say("one and a half")
    assert said.startswith("End play four. One and a half stays: counted in.")
    assert said.endswith("Quill down two inches?")
    assert job.say("two") == "Plus or minus two?"
    assert job.say("plus").startswith("Plus two. Square right of the tip")
    said = job.say("minus one")
    assert said.startswith("Quill runs two back and one left. Holes follow it")
    assert job.state.phase is SetUp.SETUP
    two, five, three, four = Decimal(2), Decimal(5), Decimal(3), Decimal(4)
    left = (Decimal("1.5"), two, Decimal(-1))
    assert job.state.spindle == SpindleChecks(two, five, True, three, four, *left)


def test_all_checks_by_keys() -> None:
    job = TypedJob.at(SetUp.SETUP)
    job.press("- / 4 / 4 -")
    job.press("2 enter 5 enter -")
    assert job.state.spindle.same_side is False
    job.press("0 enter 3 enter 0 enter")
    assert job.state.spindle.stays == 0
    job.press("+ 2 enter - . 5 enter")
    assert job.state.phase is SetUp.SETUP
    assert job.state.spindle.back == Decimal(2)
    assert job.state.spindle.right == Decimal("-0.5")
    assert "Dial to zero" in job.press("enter enter")


def test_a_voice_never_sure_of_bare_numbers_is_taken_at_its_word() -> None:
    """The ears ask about every number without a sign; here nothing else is meant."""
    job = TypedJob.at(Spindle.RUNOUT)
    job.hear("two", Reading(Decimal(2), False, None), outcome="ask", confidence=0.9)
    assert job.state.spindle.near == 2


@pytest.mark.parametrize(("scale", "swing"), [("thou", "twenty"), ("mm", "sixty")])
def test_a_bar_that_swings_far_is_no_matter_for_the_sweep_alone(
    scale: Literal["thou", "mm"], swing: str
) -> None:
    profile = Profile() if scale == "thou" else Profile(scale=Scale("mm", 80))
    job = TypedJob.at(Spindle.RUNOUT, profile)
    for lines in (("two", swing, "yes"), (swing, "two", "no"), (swing, swing, "skip")):
        job = TypedJob.at(Spindle.RUNOUT, profile)
        said = job.say(*lines)
        assert spindle.TOO_MUCH in said
        assert "Won't hurt" not in said
    job = TypedJob.at(Spindle.RUNOUT, profile)
    assert spindle.TOO_MUCH not in job.say("two", "nineteen", "yes")


def test_everything_skipped_is_nothing_checked() -> None:
    job = TypedJob.at(Spindle.RUNOUT)
    assert job.say("skip", "skip", "skip", "skip").startswith(spindle.NOT_CHECKED)
    assert job.state.spindle == SpindleChecks()


def test_taking_back_goes_one_number_at_a_time() -> None:
    job = TypedJob.at(Spindle.RUNOUT_SIDE)
    nothing, two, three = SpindleChecks(), Decimal(2), Decimal(3)

    def after(*lines: str) -> tuple[Phase, SpindleChecks]:
        job.say(*lines)
        return job.state.phase, job.state.spindle

    assert after("disregard") == (Spindle.RUNOUT, replace(nothing, near=two))
    assert after("disregard") == (Spindle.RUNOUT, nothing)
    sure = replace(nothing, shake=three)
    assert after("skip", "three", "four") == (Spindle.END_PLAY, replace(sure, lifted=Decimal(4)))
    assert after("disregard") == (Spindle.END_PLAY, sure)
    assert after("disregard") == (Spindle.SHAKE, nothing)
    assert after("skip", "skip", "plus one", "disregard") == (Spindle.QUILL, nothing)


@pytest.mark.parametrize(
    ("near", "far", "same", "expected"),
    [
        ("4", "4", True, False),
        ("4", "4", False, True),
        ("4", "4", None, None),
        ("1", "5", None, True),
        ("0.5", "1", True, False),
    ],
)
def test_leaning_is_told_from_off_centre(
    near: str, far: str, same: bool | None, expected: bool | None
) -> None:
    """Derived: an offset is half a swing; same sides take off, opposite ones add up."""
    done = SpindleChecks(Decimal(near), Decimal(far), same)
    assert quill_leans(done, Profile().scale) is expected


def test_shake_beyond_the_tolerance_sends_to_the_bearings() -> None:
    job = TypedJob.at(Spindle.SHAKE)
    assert spindle.LOOSE_BEARINGS in job.say("four and a half")
    assert spindle.NO_SHAKE in TypedJob.at(Spindle.SHAKE).say("half")


def _swept(*checks: str) -> TypedJob:
    job = TypedJob.at(Spindle.RUNOUT)
    job.say(*checks, "yes", "locked", "zeroed", "zero", "zero", "zero", "zero")
    return job


def test_a_spindle_that_stays_up_is_a_part_of_the_budget() -> None:
    """GUM 4.3.7: anywhere within a width w is w / sqrt 12, as rounding is within a step."""
    plain = _swept("skip", "skip", "skip", "skip")
    high = _swept("skip", "skip", "six", "three", "skip")
    assert plain.state.as_left is not None
    assert high.state.as_left is not None
    budget = high.state.as_left.budget.front_minus_back
    part = {component.source: component.u for component in budget.components}
    assert part["end_play"] / part["resolution"] == pytest.approx(3 / 0.5)
    assert all(c.source != "end_play" for c in plain.state.as_left.budget.tilt.components)
    hanging = _swept("skip", "skip", "six", "zero", "skip")
    assert hanging.state.as_left is not None
    assert hanging.state.as_left.budget == plain.state.as_left.budget


def test_a_spindle_known_to_stay_up_is_no_wrong_call() -> None:
    """The same sweep that is asked again of a good spindle is taken from a bad one."""
    called = ("plus two", "zero", "plus two", "zero")
    for stays, taken in (("zero", False), ("six", True)):
        job = TypedJob.at(Spindle.END_PLAY)
        job.say("six", stays, "skip", "yes", "locked", "zeroed", *called)
        assert bool(job.state.sweeps) is taken


def test_lifted_and_never_let_go_counts_whole() -> None:
    job = TypedJob.at(Spindle.END_PLAY)
    assert job.say("four", "skip").startswith("End play four. Four stays: counted in.")


def test_a_metric_dial_has_metric_places() -> None:
    job = TypedJob.begin(replace(Profile(), scale=Scale("mm", 50)))
    job.say("yes", "yes", "yes", "no", "skip", "skip", "no")
    assert job.say("two").startswith("Two. One hundred millimetres down the bar")
    assert "Quill down fifty millimetres?" in job.say("skip", "skip", "skip")


def test_travel_along_the_axis_leaves_it_by_nothing() -> None:
    """Derived: table z = ax + by under an upright spindle, square along (-a, -b, 1).

    Going down d the quill stays where it is, and the square's foot lies (a, b) d further than its
    place at height d: against the square the quill runs by -(a, b) d.
    """
    a, b, diameter, depth = 0.0004, -0.0007, 250.0, 50.0
    read = (-b * depth, -a * depth)
    differences = (-b * diameter, a * diameter)
    assert travel_off_axis(read, differences, depth / diameter) == pytest.approx((0, 0))


def test_a_face_that_counts_one_way_needs_no_sign_and_a_reversed_one_is_turned_about() -> None:
    counts_up = replace(Profile().instrument, face="continuous", per_turn=100)
    job = TypedJob.at(Spindle.QUILL, replace(Profile(), instrument=counts_up))
    job.say("ninety seven")
    assert job.state.spindle.back == -3
    reversed_one = replace(Profile().instrument, higher="minus")
    job = TypedJob.at(Spindle.QUILL, replace(Profile(), instrument=reversed_one))
    job.say("plus three")
    assert job.state.spindle.back == -3
