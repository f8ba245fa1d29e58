"""Bent tables and crooked columns on the bench: found by voice as they truly are."""

import pytest

from assistant.dialogue.procedures.form import Form
from assistant.dialogue.procedures.heights import Heights, survey_of
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.simulation.bench import BEARINGS, Machine, draw_machine
from grammar.say import signed_words
from grammar.vocabulary import Station
from tests.dialogue.typed import READY, USUAL, TypedJob
from tests.simulation.bent_bench import BentBench

LEVEL_TABLE = Machine(USUAL.scale, 0.0, 0.0, texture=0.1, touch=0.1)
CORNERS = (45.0, 135.0, 225.0, 315.0)
ROUND: tuple[Station, ...] = ("right", "front", "left", "back")


def _sweep(job: TypedJob, bench: BentBench) -> None:
    bench.lock_all()
    bench.zero("back")
    job.say("zeroed")
    while job.state.phase is Sweeping.SWEEP:
        station = job.state.awaited
        assert station is not None
        job.say(f"{station} {signed_words(bench.read(station))}")


@pytest.mark.parametrize(("saddle", "twist"), [(0.0, 0.0), (0.0, 5.0), (0.0, -6.0), (4.0, 3.0)])
def test_the_form_that_is_found_is_the_true_one(saddle: float, twist: float) -> None:
    bench = BentBench(LEVEL_TABLE, saddle=saddle, twist=twist)
    job = TypedJob.begin()
    job.say(*READY)
    _sweep(job, bench)
    while job.state.phase is not Form.FORM:
        job.say("no")
    job.say("yes", *(signed_words(bench.read_at(bearing)) for bearing in CORNERS))
    job.say(signed_words(bench.read("back")))
    found = job.state.form.found
    assert found is not None
    assert found.saddle == pytest.approx(saddle, abs=0.8)
    assert found.twist == pytest.approx(twist, abs=0.8)
    assert abs(found.front_minus_back - bench.front_minus_back) < 1.0
    assert abs(found.right_minus_left - bench.right_minus_left) < 1.0


@pytest.mark.parametrize("elsewhere", [(5.0, 0.0), (-3.0, 4.0)])
def test_what_another_height_adds_is_found(elsewhere: tuple[float, float]) -> None:
    bench = BentBench(LEVEL_TABLE, elsewhere=elsewhere)
    job = TypedJob.begin()
    job.say(*READY)
    _sweep(job, bench)
    job.say("no", "yes")
    bench.move_table()
    job.say("locked")
    _sweep(job, bench)
    assert job.state.phase is Heights.OTHER
    together = survey_of(job.state)
    assert together is not None
    # Derived: two places, one setting: half of what parts them is left at either.
    parted = (elsewhere[0] ** 2 + elsewhere[1] ** 2) ** 0.5
    assert together.best_tilt == pytest.approx(parted / 2, abs=0.6)
    assert "Not the same as at the first." in job.said


def test_a_flat_table_is_the_plain_bench() -> None:
    bent = BentBench(draw_machine(4))
    assert bent.height(BEARINGS["front"]) - bent.height(BEARINGS["back"]) == pytest.approx(
        bent.front_minus_back, abs=4 * bent.machine.texture
    )
