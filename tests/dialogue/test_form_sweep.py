"""The table's form: a warp is told from a tilt, and a dish that eight stations cannot see asked."""

from dataclasses import replace
from decimal import Decimal
from math import cos, radians

import pytest

from assistant.dialogue import wording
from assistant.dialogue.facts import FormFound, FormSweep
from assistant.dialogue.machine import Profile
from assistant.dialogue.procedures import form, sweep
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.form import Form, offer_form
from assistant.dialogue.procedures.heights import Heights
from assistant.dialogue.procedures.repeat import Repeat
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.questions import offer_now
from assistant.metrology.form import Spot, fit_form
from grammar.meaning import Reading
from grammar.numerals import number_words
from grammar.scale import Scale
from tests.dialogue.typed import LEVEL, READY, TypedJob


def _bent(*corners: str) -> TypedJob:
    """A table whose sides stand five over front and back, as called before and again."""
    job = TypedJob.at(Repeat.AFRESH)
    job.say("no")
    assert job.state.phase is Form.FORM
    job.say("yes", *corners)
    return job


def test_it_is_offered_where_the_readings_are_no_plane() -> None:
    job = TypedJob.at(Repeat.AFRESH)
    said = job.say("no")
    assert sweep.NOT_FLAT in said
    assert said.endswith(form.FORM)
    assert job.result is not None


def test_a_saddle_is_told_from_a_tilt() -> None:
    # Derived: five at right and left over front and back is 5/2 (1 - cos 2b), so that every
    # corner lies in the middle at 2.5 and there is no tilt.
    job = _bent(*["plus two and a half"] * 4)
    assert job.said == "Back left plus two and a half. Back again?"
    assert job.say("zero") == f"Back zero. {form.HOLLOW}"
    found = job.state.form.found
    assert found is not None
    assert found.saddle == pytest.approx(-5.0)
    assert found.twist == pytest.approx(0.0, abs=1e-9)
    assert found.front_minus_back == pytest.approx(0.0, abs=1e-9)
    said = job.say("one")
    assert said.startswith("Warped: right and left five high. Hollow one. ")
    assert form.NOT_BY_SETTING in said


def test_a_twist_that_four_stations_do_not_see_is_found() -> None:
    job = TypedJob.at(Form.CORNERS)
    job.say("plus four", "minus four", "plus four", "minus four", "zero")
    found = job.state.form.found
    assert found is not None
    # Derived: 4 sin 2b, the corners back right and front left eight over the others.
    assert found.twist == pytest.approx(8.0)
    assert found.saddle == pytest.approx(0.0, abs=1e-9)
    assert "Warped: back right and front left eight high." in job.say("skip")


def test_three_lobes_pass_for_a_tilt_at_four_stations_and_not_at_eight() -> None:
    # Derived: 4 cos 3b is 4 at the back, -4 at the front, 0 at the sides: front minus back -8.
    # At the corners it is against what such a tilt would be there, and all eight cancel.
    around = [Spot(float(b), 1.0, 4 * cos(radians(3 * b))) for b in range(0, 360, 45)]
    assert fit_form(around[::2]).front_minus_back == pytest.approx(-8.0)
    assert fit_form(around).front_minus_back == pytest.approx(0.0, abs=1e-9)


def test_a_flat_table_is_said_to_show_no_warp() -> None:
    job = TypedJob.at(Form.CORNERS)
    job.say(*LEVEL, "zero")
    assert form.NO_WARP in job.say("skip")


def test_a_gap_alone_is_said() -> None:
    job = TypedJob.at(Form.HOLLOW)
    assert job.say("three").startswith("Hollow three.")


@pytest.mark.parametrize(("gap", "hollow"), [("3", False), ("3.5", True)])
def test_a_gap_that_roughness_alone_may_make_is_not_called_hollow(gap: str, hollow: bool) -> None:
    """Derived: two spots under the edge and one between, of one thou each, make 1.22, once in a
    hundred 3.15."""
    found = FormFound(0.0, 0.0, 0.0, 0.0, 1.0, Decimal(gap))
    words = number_words(Decimal(gap))
    rough = f"{form.NO_WARP} {form.gap_is_rough(words)}"
    bent = f"{form.hollow(words)} {form.NOT_BY_SETTING}"
    assert form.form_words(found) == (bent if hollow else rough)


def test_a_dial_that_did_not_stay_gives_no_form() -> None:
    job = TypedJob.at(Form.CORNERS)
    said = job.say(*LEVEL, "plus six")
    assert said.startswith("Back plus six. Back moved. No form from this.")
    assert job.state.form.found is None


def test_corners_are_read_back_asked_and_taken_back() -> None:
    job = TypedJob.at(Form.CORNERS)
    assert job.said == "Back right?"
    assert job.say("two") == "Plus or minus two?"
    assert job.say("minus") == "Back right minus two. Front right?"
    assert job.say("disregard") == "Back right taken back. Back right?"
    assert job.state.form.corners == ()


def test_taking_the_sweep_back_takes_its_form_along() -> None:
    job = _bent(*["plus two and a half"] * 4, "zero", "skip")
    assert job.state.form.found is not None
    job.say("disregard")
    assert job.state.form.found is None


def test_it_is_offered_once_and_only_by_a_dial() -> None:
    job = TypedJob.at(Heights.OTHER)
    by_gaps = replace(job.state, profile=replace(job.state.profile, method="gap"))
    assert offer_form(by_gaps) is None
    assert offer_form(job.state) is not None
    job.say("no", "no")
    assert job.state.form.declined
    assert offer_form(job.state) is None
    assert job.state.phase is Close.DECIDE


def test_the_form_by_keypad_alone() -> None:
    job = TypedJob.at(Form.FORM)
    job.press("enter")
    assert job.state.phase is Form.CORNERS
    job.press("+ 2 enter - 2 enter + 2 enter - 2 enter 0 enter 1 enter")
    found = job.state.form.found
    assert found is not None
    assert found.hollow == 1
    assert found.twist == pytest.approx(4.0)


def test_an_even_drift_is_taken_out_in_the_order_in_which_the_stations_were_read() -> None:
    """Derived: a flat table on a dial that creeps a tenth a station; the right was read last."""
    fine = replace(
        Profile(),
        scale=Scale("thou", 30, Decimal("0.1")),
        surface=tuple(map(Decimal, ["0", "0.1", "-0.1", "0.2", "-0.2", "0.1", "0", "-0.1"])),
        relock=tuple(map(Decimal, ["0", "0.1", "-0.1", "0.1", "0", "-0.1"])),
    )
    job = TypedJob.begin(fine)
    job.say(*READY, "zeroed", "right plus one", "plus point one", "plus point two")
    job.say("correction right plus point three", "plus point four")
    for _ in range(6):
        if job.state.phase is not Form.FORM:
            job.say("no")
    job.say("yes", *["plus point four"] * 4, "plus point four")
    found = job.state.form.found
    assert found is not None
    assert found.front_minus_back == pytest.approx(0, abs=1e-9)
    assert found.right_minus_left == pytest.approx(0, abs=1e-9)
    assert (found.saddle, found.twist) == pytest.approx((0, 0), abs=1e-9)


def test_a_doubtful_corner_is_asked_for_again_since_no_station_names_it() -> None:
    job = TypedJob.at(Form.CORNERS)
    said = job.hear("plus three", Reading(Decimal(3), True), outcome="ask", confidence=0.5)
    assert said == wording.MISSED
    assert job.state.pending is None


def test_a_warp_that_is_known_is_no_misfit_any_more_and_no_part_of_the_doubt() -> None:
    job = _bent(*["plus two and a half"] * 4)
    job.say("zero")
    before = job.state.as_left
    said = job.say("zero")
    assert form.NOT_BY_SETTING in said
    after = job.state.as_left
    assert before is not None
    assert after is not None
    # Eight stations tell the tilt, and what bends the table is taken out of them.
    assert "form" in {part.source for part in before.budget.tilt.components}
    assert "form" not in {part.source for part in after.budget.tilt.components}
    assert after.budget.tilt.u < before.budget.tilt.u / 3
    assert after.verdict == "within"
    # The same table read once more, tilted by two: nothing of it looks wrong.
    again = TypedJob(replace(job.state, phase=Sweeping.ZERO, pending=None), ())
    said = again.say("zeroed", "plus six", "plus two", "plus six", "zero")
    assert sweep.MISFIT not in said
    assert again.result is not None
    other = TypedJob(replace(job.state, phase=Sweeping.ZERO, form=FormSweep()), ())
    assert sweep.MISFIT in other.say("zeroed", "plus six", "plus two", "plus six", "zero")


def test_a_warp_is_told_from_the_noise_by_how_well_that_is_known() -> None:
    """A guess of few degrees of freedom is passed by four times itself, a measured one by less."""
    for dof, told in ((3.0, False), (30.0, True)):
        found = FormFound(0.0, 0.0, saddle=4.0, twist=-0.5, u=1.0, dof=dof)
        assert bool(form.warps(found)) == told


def test_a_correction_replaces_the_last_corner() -> None:
    job = TypedJob.at(Form.CORNERS)
    assert "correction" not in offer_now(job.state).commands
    job.say("plus one")
    assert job.say("correction plus two") == "Back right plus two. Front right?"
    assert job.state.form.corners == (Decimal(2),)
    job.say("plus one", "zero", "zero")
    assert job.say("correction plus one").endswith("Back again?")
    assert list(job.state.form.corners) == [2, 1, 0, 1]
    assert "correction" in offer_now(job.state).commands
