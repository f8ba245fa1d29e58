"""Sweeping the same table again: when it is offered, how it is made, what the mean says."""

from dataclasses import replace
from decimal import Decimal
from math import cos, sin

import pytest

from assistant.dialogue import planner, wording
from assistant.dialogue.facts import FormSweep
from assistant.dialogue.formatting import tolerance_words
from assistant.dialogue.machine import Profile
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures import repeat, sweep
from assistant.dialogue.procedures.close import Close, within
from assistant.dialogue.procedures.repeat import Repeat
from assistant.dialogue.procedures.shim import Bolt
from assistant.dialogue.procedures.sweep import LIFT_TIP, Sweeping, zero
from assistant.dialogue.weighing import MOST_SWEEPS
from assistant.metrology.lengths import Length
from assistant.metrology.problem import Problem, StationReading, Sweep
from assistant.metrology.solve import solve
from assistant.metrology.stations import BEARING_OF
from assistant.metrology.uncertainty import Budget, Component, Source
from assistant.simulation.bench import Bench, Machine, profile_for
from tests.dialogue.typed import (
    NEAR_LIMIT,
    NEAR_LIMIT_ON,
    NO_PLANE,
    READY,
    RIGHT_HIGH_SIX,
    WORN,
    TypedJob,
)

NEARLY_PROVEN = ("plus one", "plus two", "plus one", "zero")


def phase(job: TypedJob) -> Phase:
    """Where it is now; asked again each time."""
    return job.state.phase


def again(job: TypedJob) -> str:
    """Yes to another sweep, and the same readings in it."""
    return job.say("yes", "zeroed", *NEAR_LIMIT_ON)


def test_a_close_call_is_swept_again_once_four_more_stations_are_declined() -> None:
    job = TypedJob.begin(WORN)
    said = job.say(*READY, "zeroed", *NEAR_LIMIT)
    assert f"{planner.FOUR_MORE} Back right?" in said
    said = job.say("skip")
    assert said.endswith(f"{wording.UNDECIDED} {repeat.sweep_again('an inch')}")
    before = job.state.as_left
    # Nothing is unlocked: it is this table that is to be known better.
    job.say("yes")
    assert phase(job) is Sweeping.ZERO
    job.say("zeroed", "plus two", "plus five", "plus three and a half", "plus three")
    after = job.state.as_left
    assert before is not None
    assert after is not None
    # Three at the back, and three and a half an inch further round on a radius of five (derived).
    # Stations late in a drifting sweep weigh a little less.
    assert after.front_minus_back == pytest.approx((3 + 3.5 * cos(0.2)) / 2, abs=0.05)
    assert after == job.state.as_found
    drifts = [
        next(part.u for part in one.budget.front_minus_back.components if part.source == "drift")
        for one in (before, after)
    ]
    # Half its variance by the mean of two, and half again since the same drift twice is even.
    assert drifts[1] == pytest.approx(drifts[0] / 2, rel=0.02)
    surface = [
        next(part.u for part in one.budget.front_minus_back.components if part.source == "surface")
        for one in (before, after)
    ]
    assert surface[1] < 0.8 * surface[0], "an inch further round a third of a bump is the same"


def test_a_near_proof_is_swept_again_and_stands_for_whoever_declines() -> None:
    job = TypedJob.begin(WORN)
    said = job.say(*READY, "zeroed", *NEARLY_PROVEN)
    assert job.state.as_left is not None
    assert job.state.as_left.verdict == "within"
    assert f"{planner.FOUR_MORE} Back right?" in said
    said = job.say("skip")
    assert said.endswith(f"{planner.JUST_WITHIN} {repeat.sweep_again('an inch')}")
    said = job.say("no")
    assert within(tolerance_words(job.state.profile)) in said
    assert phase(job) is Close.DECIDE


def test_who_wants_no_repeat_is_not_asked_again_about_this_table() -> None:
    job = TypedJob.at(Repeat.AGAIN)
    job.say("no")
    assert phase(job) is Close.DECIDE
    assert planner.LIKELY in job.state.last_said


def test_the_second_repeat_is_offered_with_the_bar_half_a_turn_round() -> None:
    job = TypedJob.at(Repeat.AGAIN)
    assert again(job).endswith(repeat.refit_again("an inch"))
    assert job.say("yes") == repeat.REFIT
    job.say("done")
    assert phase(job) is Sweeping.ZERO
    job.say("zeroed", "plus two", "plus three", "plus three and a half", "plus three")
    answer = job.state.as_left
    assert answer is not None
    # Front three; then two and a half and right one higher, an inch round; then the bar turned, and
    # one and a half two inches round (derived).
    fitted = (3 + 2.5 * cos(0.2) + sin(0.2)) / 2
    turned = 1.5 * cos(0.4)
    assert answer.front_minus_back == pytest.approx((fitted + turned) / 2, abs=0.05)
    assert answer.axial_slip is not None
    assert abs(answer.axial_slip[0]) == pytest.approx((fitted - turned) / 2, abs=0.05)


def test_spots_that_read_as_before_are_told_before_the_next_sweep_and_at_the_end() -> None:
    job = TypedJob.begin(WORN)
    rough = ("plus two", "plus three", "plus one", "zero")
    said = job.say(*READY, "zeroed", *rough, "skip")
    while planner.SAME_SPOTS not in said:
        assert phase(job) is Repeat.AGAIN, said
        said = job.say("yes", "zeroed", *rough)
    assert said.endswith(f"{planner.SAME_SPOTS} {repeat.sweep_again('an inch')}")
    assert job.state.as_left is not None
    assert job.state.as_left.stayed >= planner.STAYED_LIKELY
    asked = job.state
    assert planner.OTHER_SPOTS_TELL in job.say("no")
    # Who moves on now is not told so again.
    beside = ("plus one and a half", "plus two", "plus one and a half", "zero")
    moved = TypedJob(asked, ())
    said = moved.say("yes", "zeroed", *beside)
    assert planner.SAME_SPOTS not in said
    assert moved.state.as_left is not None
    assert moved.state.as_left.stayed < 0.5


def test_on_a_rough_table_other_spots_tell_more_than_the_bar_turned() -> None:
    job = TypedJob.at(Repeat.AGAIN)
    again(job)
    assert job.state.refit_due
    assert job.state.as_left is not None
    for source in ("surface", "form"):
        rough = Budget((Component(source, 5.0), *job.state.as_left.budget.tilt.components))
        budget = replace(job.state.as_left.budget, tilt=rough)
        last = job.state.sweeps[-1]
        worn = replace(last, answer=replace(last.answer, budget=budget))
        assert not replace(job.state, sweeps=(*job.state.sweeps[:-1], worn)).refit_due


def test_skip_leaves_the_bar_as_it_is() -> None:
    job = TypedJob.at(Repeat.REFIT)
    job.say("skip")
    assert not job.state.again.refitted
    assert phase(job) is Sweeping.ZERO


def test_there_is_an_end_to_repeats() -> None:
    job = TypedJob.at(Repeat.AGAIN)
    while phase(job) in (Repeat.AGAIN, Repeat.REFIT):
        job.say("yes")
        if phase(job) is Repeat.REFIT:
            job.say("done")
        job.say("zeroed", *NEAR_LIMIT)
    assert 1 < len(job.state.same_table) <= MOST_SWEEPS
    assert phase(job) is Close.DECIDE


def test_taking_the_repeat_back_brings_back_what_was_known_before() -> None:
    job = TypedJob.at(Repeat.REFIT)
    job.say("done", "zeroed", *NEAR_LIMIT)
    assert job.state.again.refitted
    before = job.state
    job.say("disregard")
    assert job.values()["front"] == Decimal("4.5")
    job.say("plus three")
    assert job.state.as_left == before.as_left
    assert job.state.again == before.again


def test_after_a_correction_the_sweeps_of_before_do_not_count() -> None:
    job = TypedJob.at(Bolt.LOOSEN, WORN)
    job.say("done", "done", "locked", "zeroed", *NEAR_LIMIT)
    assert [sweep.number for sweep in job.state.same_table] == [2]
    assert job.state.as_found is not None
    assert job.state.as_found.front_minus_back == 6
    assert job.state.as_left is not None
    assert job.state.as_left.front_minus_back == pytest.approx(3.0)
    assert job.state.shims.trials[-1].after == pytest.approx(3.0)


def test_a_sweep_that_will_not_fit_may_be_taken_afresh_once() -> None:
    job = TypedJob.at(Repeat.AFRESH)
    job.say("yes")
    assert phase(job) is Sweeping.ZERO
    assert [sweep.refused for sweep in job.state.sweeps] == ["no fit"]
    job.say("zeroed", *NO_PLANE)
    said = ""
    while phase(job) is Sweeping.SWEEP:
        said = job.say("next")
    assert sweep.NOT_FLAT in said, "twice the same: it is the table"
    assert job.state.as_found is not None
    assert "form" in {part.source for part in job.state.as_found.budget.tilt.components}


def test_disregard_takes_the_last_reading_of_such_a_sweep_back() -> None:
    job = TypedJob.at(Repeat.AFRESH)
    assert job.say("disregard") == "Back taken back. Back again?"
    assert phase(job) is Sweeping.SWEEP


def test_the_refit_takes_the_spindle_out_of_the_table() -> None:
    """Half a turn round, axial slip once a turn is met upside down (from its definition)."""
    bench = Bench(Machine(profile_for().scale, 3.0, -1.0, axial_slip=(2.0, 4.0)))
    bench.lock_all()

    def swept_now(refitted: bool = False) -> Sweep:
        bench.zero("back")
        called = [(station, bench.read(station)) for station in BEARING_OF]
        heights = (StationReading.at(name, Length.of(value, "thou")) for name, value in called)
        return Sweep(tuple(heights), refitted=refitted)

    first = swept_now()
    bench.turn_bar()
    problem = Problem("thou", first.readings, repeats=(swept_now(True),))
    answer = solve(problem)
    assert (answer.front_minus_back, answer.right_minus_left) == pytest.approx((3, -1))
    assert answer.axial_slip == pytest.approx((2, 4))


def test_an_end_without_a_proof_says_what_would_tell() -> None:
    declined = TypedJob.at(Repeat.AGAIN)
    assert f"{planner.LIKELY} {planner.ANOTHER_MAY_TELL}" in declined.say("no")
    job = TypedJob.at(Repeat.AGAIN)
    answer = job.state.as_left
    assert answer is not None
    told = []
    sources: tuple[Source, ...] = ("surface", "drift", "resolution", "response")
    for source in sources:
        alone = replace(answer.budget, tilt=Budget((Component(source, 1.0),)))
        last = replace(job.state.sweeps[-1], answer=replace(answer, budget=alone))
        sure = replace(job.state, sweeps=(*job.state.sweeps[:-1], last), form=FormSweep())
        told.append(planner._would_tell(sure))
    assert told == [
        planner.ROUGH_HIDES,
        planner.STEADIER_WOULD_TELL,
        planner.FINER_WOULD_TELL,
        "",
    ]


def test_a_sweep_that_is_bent_otherwise_than_the_one_before_is_asked_about() -> None:
    """A front that stands alone may be the table's; a table that was flat before has none."""
    bent = ("zero", "plus three and a half", "zero", "zero")
    first = TypedJob.begin(Profile())
    assert "looks wrong" not in first.say(*READY, "zeroed", *bent)
    job = TypedJob.begin(Profile())
    job.say(*READY, "zeroed", "plus three", "zero", "minus three", "zero")
    job.say("done", "zero", "zero", "zeroed")
    said = job.say(*bent)
    assert "One reading looks wrong. Front: plus three and a half, or" in said
    # Read twice alike it stands.
    while "looks wrong" in said:
        said = job.say("plus three and a half" if "Front" in said.split("wrong.")[1] else "zero")
    assert job.state.sweeps[-1].number == 2
    assert job.state.sweeps[-1].usable
    assert [float(taken.value) for taken in job.state.sweeps[-1].readings] == [0, 0, 3.5, 0, 0]


def test_the_tip_is_lifted_in_every_sweep_that_may_prove_anew() -> None:
    """A dial that sticks hangs behind its tip alike each time: no repeat would show it."""
    job = TypedJob.begin(WORN)
    assert LIFT_TIP in job.say(*READY)
    # Nothing was moved: it is told once, and swept again as before.
    job.say("zeroed", *NEAR_LIMIT, "skip")
    assert job.say("yes") == zero("back")
    # What should leave it square is proven by the next sweep.
    job = TypedJob.begin()
    job.say(*READY, "zeroed", *RIGHT_HIGH_SIX, "plus three", "done", "zero")
    assert LIFT_TIP in job.say("zero")
