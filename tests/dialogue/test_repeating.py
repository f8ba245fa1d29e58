"""Sweeping the same table again: when it is offered, how it is made, what the mean says."""

from dataclasses import replace
from decimal import Decimal

import pytest

from assistant.dialogue import wording
from assistant.dialogue.machine import Profile
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures import repeat, sweep
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.repeat import MOST, Repeat
from assistant.dialogue.procedures.shim import Bolt
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.metrology.lengths import Length
from assistant.metrology.problem import Noise, Problem, Reading, Sweep
from assistant.metrology.solve import solve
from assistant.metrology.stations import BEARING_OF
from assistant.simulation.bench import Bench, Machine, profile_for
from tests.dialogue.typed import LEVEL, NEAR_LIMIT, NEARER, NO_PLANE, READY, TypedJob

AGAIN = ("yes", "locked", "zeroed")


def phase(job: TypedJob) -> Phase:
    """Where it is now; asked anew each time."""
    return job.state.phase


def thou(value: str) -> Length:
    return Length.of(Decimal(value), "thou")


def swept(values: str, refitted: bool = False) -> Sweep:
    """Back, right, front, left; the dial came back to zero."""
    called = zip(BEARING_OF, values.split(), strict=True)
    return Sweep(
        tuple(Reading.at(name, thou(value)) for name, value in called), thou("0"), refitted
    )


def problem(main: Sweep, *repeats: Sweep, relocked: bool) -> Problem:
    """The job's numbers, built without the dialogue."""
    half = thou("0.5")
    return Problem(
        unit="thou",
        readings=main.readings,
        closing=main.closing,
        sweep_diameter=Length.of(Decimal(10), "in"),
        tolerance=thou("4"),
        noise=Noise(resolution=half, reading_sd=half, relock_sd=half),
        repeats=repeats,
        relocked=relocked,
    )


def test_a_close_call_is_swept_again_beside_the_old_spots_and_locked_anew() -> None:
    job = TypedJob.begin()
    said = job.say(*READY, "zeroed", *NEAR_LIMIT)
    assert said.endswith(f"{wording.UNDECIDED} {repeat.SWEEP_AGAIN}")
    assert job.say("yes") == repeat.LOCK_AGAIN
    assert job.step is not None
    assert job.step.do == "relock"
    said = job.say("locked", "zeroed", "plus one and a half", "plus three", "plus half", "zero")
    assert "Plus or minus one, mostly a rough table." in said
    expected = solve(problem(swept("0 1.5 3 0.5"), swept("0 1.5 2.5 1"), relocked=True))
    for answer in (job.state.as_found, job.state.as_left):
        assert answer is not None
        assert answer.front_minus_back == pytest.approx(2.75)
        assert answer.right_minus_left == pytest.approx(0.75)
        assert answer.budget == expected.budget
        assert answer.verdict == expected.verdict


def test_without_a_loose_lock_the_repeat_goes_straight_to_the_zero() -> None:
    job = TypedJob.begin(Profile(relock_sd=Decimal("0.1"), reading_sd=Decimal("0.7")))
    job.say(*READY, "zeroed", *NEAR_LIMIT)
    assert phase(job) is Repeat.AGAIN
    job.say("yes")
    assert phase(job) is Sweeping.ZERO
    assert not job.state.again.relocked


def test_who_wants_no_repeat_is_not_asked_again_about_this_table() -> None:
    job = TypedJob.at(Repeat.AGAIN)
    job.say("no")
    assert phase(job) is Bolt.LOOSEN
    job.say("skip", "yes")
    assert phase(job) is Close.DECIDE


def test_the_second_repeat_is_offered_with_the_bar_half_a_turn_round() -> None:
    job = TypedJob.begin()
    said = job.say(*READY, "zeroed", *NEAR_LIMIT, *AGAIN, *NEARER)
    assert said.endswith(repeat.REFIT_AGAIN)
    assert job.say("yes") == repeat.REFIT
    assert job.say("done") == repeat.LOCK_AGAIN
    job.say("locked", "zeroed", "plus one", "plus two", "plus one", "zero")
    answer = job.state.as_left
    assert answer is not None
    expected = solve(
        problem(
            swept("0 1 2 1"), swept("0 1.5 2.5 1", True), swept("0 2 3.5 2", True), relocked=True
        )
    )
    # Three as first fitted, two turned round: two and a half, and half a thou of the spindle.
    assert answer.front_minus_back == pytest.approx(2.5)
    assert answer.axial_slip == pytest.approx((-0.5, -0.125))
    assert answer.budget == expected.budget


def test_skip_leaves_the_bar_as_it_is() -> None:
    job = TypedJob.at(Repeat.REFIT)
    job.say("skip")
    assert not job.state.again.refitted
    assert phase(job) is Repeat.LOCK_AGAIN


def test_what_barely_stands_out_is_looked_at_again_before_it_is_corrected() -> None:
    job = TypedJob.begin(Profile(tolerance=thou("1.5")))
    said = job.say(*READY, "zeroed", "plus one", "plus two", "plus one", "zero")
    assert said.endswith(f"{repeat.NEAR_NOISE} {repeat.SWEEP_AGAIN}")
    assert wording.BOTH_INSIDE_NOISE in job.say(*AGAIN, *LEVEL)


def test_there_is_an_end_to_repeats() -> None:
    job = TypedJob.begin()
    job.say(*READY, "zeroed", *NEAR_LIMIT)
    while phase(job) is Repeat.AGAIN:
        job.say("yes")
        if phase(job) is Repeat.REFIT:
            job.say("done")
        job.say("locked", "zeroed", *NEARER)
    assert 2 < len(job.state.same_table) <= MOST


def test_taking_the_repeat_back_brings_back_what_was_known_before() -> None:
    job = TypedJob.at(Repeat.REFIT)
    job.say("done", "locked", "zeroed", "plus one", "plus two", "plus one", "zero")
    assert job.state.again.refitted
    before = job.state
    job.say("disregard")
    assert job.values() == {"back": 0, "right": 1, "front": 2, "left": 1}
    job.say("zero")
    assert job.state.as_left == before.as_left
    assert job.state.again == before.again


def test_after_a_correction_the_sweeps_of_before_do_not_count() -> None:
    job = TypedJob.at(Bolt.LOOSEN)
    job.say("done", "done", "locked", "zeroed", *NEAR_LIMIT)
    assert [sweep.number for sweep in job.state.same_table] == [2]
    assert job.state.as_found is not None
    assert job.state.as_found.front_minus_back == 6
    assert phase(job) is Repeat.AGAIN
    assert job.state.shims.trials[-1].after == 2.5
    job.say(*AGAIN, *NEARER)
    assert job.state.as_left is not None
    assert job.state.as_left.front_minus_back == 3
    assert [trial.after for trial in job.state.shims.trials] == [3], (
        "the mean is the better witness"
    )


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

    def swept_now() -> Sweep:
        bench.zero("back")
        return swept(" ".join(str(bench.read(station)) for station in BEARING_OF))

    first = swept_now()
    bench.turn_bar()
    turned = replace(swept_now(), refitted=True)
    answer = solve(problem(first, turned, relocked=False))
    assert (answer.front_minus_back, answer.right_minus_left) == pytest.approx((3, -1))
    assert answer.axial_slip == pytest.approx((2, 4))
