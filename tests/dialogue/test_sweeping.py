"""Taking a sweep by typed words: read-back, correction, disregard, signs, doubt, misfit, drift."""

from dataclasses import fields, replace
from decimal import Decimal
from typing import Any, get_type_hints

import pytest

from assistant.dialogue import pending, wording
from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Confirmed, Tone
from assistant.dialogue.procedures import repeat
from assistant.dialogue.procedures import sweep as sweeping
from assistant.dialogue.procedures.shim import Bolt
from assistant.dialogue.procedures.sweep import Sweeping, take_back_sweep
from assistant.dialogue.state import AskReading, AskSign, Before, State
from grammar.meaning import Hypothesis, OffScale, Reading, Unclear
from grammar.parse import parse
from grammar.scale import Scale
from tests.dialogue.typed import AT, FRONT_HIGH_SIX, READY, TypedJob


@pytest.fixture
def sweep() -> TypedJob:
    """A job whose dial has just been zeroed at the back."""
    return TypedJob.at(Sweeping.SWEEP)


def test_every_reading_is_read_back_and_the_next_station_asked(sweep: TypedJob) -> None:
    assert sweep.say("plus three") == "Right plus three. Front?"
    assert sweep.say("front plus six and a half") == "Front plus six and a half. Left?"
    assert sweep.say("minus point five") == "Left minus half. Back again?"
    assert sweep.values() == {
        "back": 0, "right": 3, "front": Decimal("6.5"), "left": Decimal("-0.5"),
    }  # fmt: skip


def test_a_named_station_may_be_called_out_of_order(sweep: TypedJob) -> None:
    assert sweep.say("left plus two") == "Left plus two. Right?"
    assert sweep.say("rear plus one") == f"{sweeping.CLOSED_FIRST} Right?"
    assert sweep.say("plus three") == "Right plus three. Front?"
    assert sweep.say("plus five") == "Front plus five. Back again?"


def test_a_number_without_a_sign_is_asked(sweep: TypedJob) -> None:
    assert sweep.say("six") == "Right: plus or minus six?"
    assert sweep.values() == {"back": 0}
    assert sweep.say("minus") == "Right minus six. Front?"
    assert sweep.say("zero") == "Front zero. Left?"


def test_instead_of_the_sign_the_reading_may_be_called_anew(sweep: TypedJob) -> None:
    sweep.say("six")
    assert sweep.say("right minus nine") == "Right minus nine. Front?"
    sweep.say("five")
    assert sweep.say("disregard") == "Front?"


def test_correction_replaces_the_last_or_the_named_one(sweep: TypedJob) -> None:
    sweep.say("plus three", "plus six")
    assert sweep.say("correction plus five") == "Front now plus five. Left?"
    assert [undone.taken.value for undone in sweep.state.undone] == [6]
    assert sweep.say("correction right minus three") == "Right now minus three. Left?"
    assert sweep.values() == {"back": 0, "right": -3, "front": 5}
    assert [undone.taken.value for undone in sweep.state.undone] == [3]
    assert {undone.reason for undone in sweep.state.undone} == {"correction"}


def test_correction_alone_asks_for_the_last_one_and_keeps_it_until_then(sweep: TypedJob) -> None:
    sweep.say("plus three")
    assert sweep.say("correction") == "Right again?"
    assert sweep.values()["right"] == 3
    assert sweep.say("plus four") == "Right now plus four. Front?"


def test_a_correction_with_another_station_moves_the_last_reading(sweep: TypedJob) -> None:
    # "Right plus three" was put down at the left; the person names the right place.
    sweep.say("left plus three")
    assert sweep.say("correction right plus three") == "Right plus three. Front?"
    assert sweep.values() == {"back": 0, "right": 3}
    assert sweep.state.undone[-1].taken.station == "left"


def test_a_correction_of_what_is_asked_about_replaces_nothing_else(sweep: TypedJob) -> None:
    sweep.say("plus three", "six")
    assert sweep.say("correction minus six") == "Front minus six. Left?"
    assert sweep.values() == {"back": 0, "right": 3, "front": -6}


def test_disregard_takes_back_one_by_one_down_to_the_zero(sweep: TypedJob) -> None:
    sweep.say("plus three", "plus six")
    assert sweep.say("disregard") == "Front taken back. Front?"
    assert sweep.say("disregard") == "Right taken back. Right?"
    assert sweep.say("disregard") == f"{sweeping.LIFT_TIP} {sweeping.zero('back')}"
    assert sweep.state.phase is Sweeping.ZERO


def test_disregard_takes_the_newest_one_wherever_it_stands(sweep: TypedJob) -> None:
    sweep.say("plus three", "plus six", "correction right plus four")
    assert sweep.say("disregard") == "Right taken back. Right?"
    assert sweep.values() == {"back": 0, "front": 6}


def test_disregard_after_the_answer_reopens_the_sweep(sweep: TypedJob) -> None:
    sweep.say(*FRONT_HIGH_SIX)
    assert sweep.state.phase is Bolt.LOOSEN
    assert sweep.say("disregard") == "Back taken back. Back again?"
    assert sweep.state.sweeps == ()
    assert sweep.values() == {"back": 0, "right": 3, "front": 6, "left": 3}
    sweep.say("zero")
    assert sweep.state.phase is Bolt.LOOSEN
    assert len(sweep.state.sweeps) == 1


def test_a_second_call_of_a_station_is_asked_before_it_replaces(sweep: TypedJob) -> None:
    sweep.say("plus three")
    assert sweep.say("right plus nine") == "Right plus nine?"
    assert sweep.values()["right"] == 3
    assert sweep.say("no") == "Front?"
    sweep.say("right plus nine")
    assert sweep.say("yes") == "Right now plus nine. Front?"


def test_the_same_call_twice_is_only_read_back_again(sweep: TypedJob) -> None:
    sweep.say("plus three")
    assert sweep.say("right plus three") == "Right plus three. Front?"
    assert sweep.state.undone == ()


def test_say_again_repeats_and_changes_nothing(sweep: TypedJob) -> None:
    first = sweep.say("plus three")
    before = sweep.state.readings
    assert sweep.say("say again") == first
    assert sweep.say("say again") == first
    assert sweep.state.readings == before


def test_a_doubtful_reading_is_asked_with_its_alternatives_in_turn(sweep: TypedJob) -> None:
    fifty = Hypothesis("plus five", Reading(Decimal(5), True), 0.4)
    fifteen = Reading(Decimal(15), True)
    said = sweep.hear("plus fifteen", fifteen, outcome="ask", alternatives=(fifty,))
    assert said == "Right plus one five?"
    assert sweep.values() == {"back": 0}
    assert sweep.say("no") == "Right plus five?"
    assert sweep.say("affirm") == "Right plus five. Front?"


def test_a_doubtful_reading_may_be_called_over(sweep: TypedJob) -> None:
    sweep.hear("plus fifteen", Reading(Decimal(15), True), outcome="ask")
    assert isinstance(sweep.state.pending, AskReading)
    assert sweep.say("minus four") == "Right minus four. Front?"


def test_what_is_not_understood_is_asked_and_the_keypad_offered_at_the_second(
    sweep: TypedJob,
) -> None:
    unclear = Unclear("")
    assert sweep.hear("nice weather today", unclear, outcome="reject") == wording.MISSED
    assert sweep.hear("is it not", unclear, outcome="reject") == wording.MISSED_TWICE
    assert sweep.say("plus three") == "Right plus three. Front?"
    assert sweep.hear("what", unclear, outcome="reject") == wording.MISSED


def test_a_number_off_the_dial_is_told_as_such_and_called_again(sweep: TypedJob) -> None:
    finer = OffScale(Decimal("1.2"), "finer", True, "right")
    said = sweep.hear("right plus one point two", finer, outcome="reject")
    assert said == "Finer than the dial: plus one point two. Nearest mark?"
    assert Tone("asked") in sweep.effects
    beyond = OffScale(Decimal(-70), "beyond", True)
    assert sweep.hear("minus seventy", beyond, outcome="reject") == wording.BEYOND_DIAL
    assert sweep.state.hearing.misses == 0
    assert sweep.values() == {"back": 0}
    assert sweep.say("plus one") == "Right plus one. Front?"


def test_a_number_called_twice_beyond_the_dial_is_asked_about_and_a_yes_takes_it(
    sweep: TypedJob,
) -> None:
    beyond = OffScale(Decimal(-70), "beyond", True)
    other = OffScale(Decimal(-80), "beyond", True)
    for called in (beyond, other):
        assert sweep.hear("beyond", called, outcome="reject") == wording.BEYOND_DIAL
    asked = "Beyond this dial. Right minus seven zero?"
    assert sweep.hear("minus seventy", beyond, outcome="reject") == wording.BEYOND_DIAL
    assert sweep.hear("minus seventy", beyond, outcome="reject") == asked
    assert sweep.values() == {"back": 0}
    assert sweep.say("no") == "Once more, then."
    for _ in range(2):
        sweep.hear("minus seventy", beyond, outcome="reject")
    assert sweep.say("yes") == "Right minus seventy. Front?"
    assert sweep.values() == {"back": 0, "right": -70}


def test_what_is_asked_about_beyond_the_dial_may_be_called_once_more_for_a_yes(
    sweep: TypedJob,
) -> None:
    beyond = OffScale(Decimal(-70), "beyond", True)
    for _ in range(2):
        sweep.hear("minus seventy", beyond, outcome="reject")
    assert sweep.hear("minus seventy", beyond, outcome="reject") == "Right minus seventy. Front?"


def test_another_number_beyond_the_dial_neither_answers_nor_proves_what_is_asked(
    sweep: TypedJob,
) -> None:
    sweep.hear("minus four", Reading(Decimal(-4), True), outcome="ask")
    asked = sweep.state.pending
    assert isinstance(asked, AskReading)
    beyond = OffScale(Decimal(-70), "beyond", True)
    for _ in range(2):
        assert sweep.hear("minus seventy", beyond, outcome="reject") == wording.BEYOND_DIAL
        assert not any(isinstance(effect, Confirmed) for effect in sweep.effects)
        assert sweep.state.pending == asked
    assert sweep.say("yes") == "Right minus four. Front?"


def test_without_its_sign_a_number_called_twice_beyond_the_dial_is_asked_for_it(
    sweep: TypedJob,
) -> None:
    beyond = OffScale(Decimal(70), "beyond", signed=False)
    assert sweep.hear("seventy", beyond, outcome="reject") == wording.BEYOND_DIAL
    assert sweep.hear("seventy", beyond, outcome="reject") == "Right: plus or minus seventy?"
    assert isinstance(sweep.state.pending, AskSign)


def test_standing_by_hears_nothing_until_go_ahead(sweep: TypedJob) -> None:
    assert sweep.say("stand by") == wording.STANDING_BY
    assert sweep.listening is not None
    assert sweep.listening.offer.commands == ("go ahead", "stop")
    before = sweep.state
    for line in ("plus three", "disregard", "yes", "talk of the town", "help"):
        assert sweep.say(line) == ""
    assert sweep.state.readings == before.readings
    assert sweep.say("go ahead") == f"{wording.GOING_AHEAD} Right?"
    assert sweep.say("plus three") == "Right plus three. Front?"


def test_what_was_known_before_a_sweep_is_what_the_state_knows_by_the_same_names() -> None:
    known, state = get_type_hints(Before), get_type_hints(State)
    assert known == {name: state[name] for name in known}
    start = State("job", Profile(), Sweeping.ZERO)
    assert Before.of(start) == Before()


@pytest.mark.parametrize("name", [each.name for each in fields(Before)])
def test_taking_back_the_last_reading_of_a_sweep_restores_all_that_was_known(name: str) -> None:
    """Whatever the sweep taught: here every single thing is forged after it."""
    job = TypedJob.at(Sweeping.SWEEP)
    before = Before.of(job.state)
    job.say(*FRONT_HIGH_SIX)
    forged: dict[str, Any] = {name: object()}
    job.state = replace(job.state, **forged)
    assert Before.of(job.state) != before
    reopened = take_back_sweep(job.state, AT).state
    assert Before.of(reopened) == before
    assert reopened.sweeps == ()
    assert [taken.closing for taken in reopened.readings] == [False] * 4


def test_tenths_are_asked_in_full() -> None:
    job = TypedJob.begin(Profile(scale=Scale("thou", 30, Decimal("0.1"))))
    job.say(*READY, "zeroed")
    assert job.say("plus two tenths") == "Right plus two tenths of a thou?"
    assert job.say("yes").endswith("Front?")
    assert job.values()["right"] == Decimal("0.2")


def test_tenths_that_the_dial_does_not_show_are_typed_only_and_asked_as_that() -> None:
    job = TypedJob.begin(Profile(scale=Scale("thou", 30, Decimal("0.5"))))
    job.say(*READY, "zeroed")
    assert job.listening is not None
    assert not job.listening.offer.allows(parse("plus two tenths", job.listening.offer.scale))
    asked = "Finer than the dial. Right plus two tenths of a thou?"
    assert job.say("plus two tenths") == asked
    assert job.say("yes").endswith("Front?")
    assert job.values()["right"] == Decimal("0.2")
    # Also in place of a number that is asked about, and without the word where it shows them.
    assert job.say("six") == "Front: plus or minus six?"
    assert job.say("plus five tenths") == "Front plus five tenths of a thou?"
    assert job.say("plus two tenths") == asked.replace("Right", "Front")
    assert job.say("no") == pending.NO_MATCH
    assert "front" not in job.values()


def test_readings_that_are_no_plane_bring_a_question_about_the_likeliest() -> None:
    # Sixteen at the right was heard as sixty: no plane holds 0, 60, 6, -10; with 16 it fits.
    job = TypedJob.begin(Profile(scale=Scale("thou", 70, Decimal("0.5"))))
    job.say(*READY, "zeroed")
    said = job.say("plus sixty", "plus six", "minus ten", "zero")
    assert sweeping.MISFIT in said
    assert job.state.doubts.again == "right"
    assert job.state.doubts.instead == 16
    assert said.endswith("Right: plus six zero, or plus one six?")
    said = job.say("plus sixteen")
    assert said.startswith("Right now plus sixteen.")
    assert job.state.sweeps[0].answer.saddle == 0


def test_a_dropped_sign_shows_in_the_fit(sweep: TypedJob) -> None:
    # True heights: back 0, right 6, front 0, left -6; "minus" was lost at the left.
    said = sweep.say("plus six", "zero", "plus six", "zero")
    assert sweeping.MISFIT in said
    assert sweep.state.doubts.again == "left"
    assert sweep.state.doubts.instead == -6
    assert sweep.say("minus six").startswith("Left now minus six.")


def test_a_reading_that_is_said_to_be_right_is_left_and_the_fit_is_doubted(
    sweep: TypedJob,
) -> None:
    said = sweep.say("plus six", "zero", "plus six", "zero")
    while sweep.state.phase is Sweeping.SWEEP:
        assert sweeping.MISFIT in said
        said = sweep.say("next")
    assert said == f"{sweeping.STILL_NO_FIT} {repeat.SWEEP_AFRESH}"
    assert sweeping.NOT_FLAT in sweep.say("no")
    assert len(sweep.state.sweeps) == 1


def test_a_first_station_that_does_not_repeat_refuses_the_sweep(sweep: TypedJob) -> None:
    # The dial slipped by four: nothing that was heard explains it.
    sweep.say("plus four", "plus five", "plus six")
    said = sweep.say("plus four")
    while sweep.state.phase is Sweeping.SWEEP:
        station = sweep.state.awaited
        values = {"right": "plus four", "front": "plus five", "left": "plus six"}
        said = sweep.say(values.get(station or "", "plus four"))
    assert sweeping.drifted("back", "four") in said
    assert sweep.state.phase is Sweeping.ZERO
    assert [one.refused for one in sweep.state.sweeps] == ["drift"]
    assert sweep.state.as_found is None


def test_drifting_on_and_on_sends_the_person_to_look_for_play(sweep: TypedJob) -> None:
    said = ""
    for _ in range(2):
        if sweep.state.phase is Sweeping.ZERO:
            sweep.say("zeroed")
        sweep.say("plus four", "plus five", "plus six")
        while sweep.state.phase is Sweeping.SWEEP:
            values = {"right": "plus four", "front": "plus five", "left": "plus six"}
            said = sweep.say(values.get(sweep.state.awaited or "", "plus four"))
    assert sweeping.DRIFTING_ON in said


def test_what_was_said_before_the_question_is_dropped(sweep: TypedJob) -> None:
    sweep.say("plus three")
    before = sweep.state
    late = Reading(Decimal(9), True)
    sweep.hear("plus nine", late, turn=before.turn - 1)
    assert sweep.state == before
    assert sweep.effects == ()


def test_a_slip_corrected_on_the_way_can_still_be_asked_again(sweep: TypedJob) -> None:
    # True heights: back 0, right 6, front 0, left -6; the right is corrected, then wrong again.
    sweep.say("plus seven", "correction", "plus six", "zero", "minus six")
    sweep.say("correction right minus six")
    assert sweep.say("zero").startswith(f"Back zero. {sweeping.MISFIT} Left:")
    assert sweep.say("next") == f"{sweeping.MISFIT} Right: minus six, or plus six?"


def test_a_correction_of_the_first_station_before_it_closes_takes_nothing_away(
    sweep: TypedJob,
) -> None:
    sweep.say("plus three", "zero", "minus three")
    sweep.say("correction back plus half")
    assert len(sweep.state.sweeps) == 1
    assert len(sweep.state.sweeps[0].readings) == 5
    assert sweep.state.undone == ()


def test_disregard_takes_the_newest_one_after_an_earlier_one_was_corrected(
    sweep: TypedJob,
) -> None:
    # Two readings are there twice as long as the sweep: their number is not their place.
    sweep.say("plus three", "plus six", "correction right plus four")
    assert sweep.say("plus two") == "Left plus two. Back again?"
    assert sweep.say("disregard") == "Left taken back. Left?"
    assert sweep.say("disregard") == "Right taken back. Right?"
    assert sweep.say("disregard") == "Front taken back. Right?"


def test_a_sweep_that_neither_returns_nor_fits_is_asked_at_its_closing_first() -> None:
    """The tip still stands there, and it tells a dial that moved from a wrong call."""
    job = TypedJob.at(Sweeping.SWEEP)
    said = job.say("plus two", "plus fifteen", "plus three", "plus seven")
    assert said == f"Back plus seven. {sweeping.MISFIT} Back again?"
