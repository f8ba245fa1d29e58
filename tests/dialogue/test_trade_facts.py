"""Facts of the trade as whole jobs. All of them: common practice, no source."""

from decimal import Decimal

from assistant.dialogue.phases import Phase
from assistant.simulation.bench import Bench, Machine, profile_for
from assistant.simulation.caller import Operator
from assistant.simulation.clock import SimulatedClock
from assistant.simulation.rehearsal import Rehearsal, TextCarrier, rehearse
from grammar.vocabulary import STATIONS
from tests.dialogue.typed import READY, TypedJob


def _plain(front_minus_back: float, right_minus_left: float) -> Machine:
    """A table without any roughness, on which a leaf does twice itself."""
    return Machine(profile_for().scale, front_minus_back, right_minus_left, response=2.0)


def _played(machine: Machine) -> tuple[Bench, Rehearsal]:
    bench = Bench(machine)
    clock = SimulatedClock()
    operator = Operator(bench, profile_for())
    return bench, rehearse(operator, TextCarrier(clock), clock)


def test_one_and_a_half_above_brings_six_high_to_three_and_twice_as_much_to_none() -> None:
    # Common practice, no source.
    bench, played = _played(_plain(6.0, 0.0))
    fitted = [(sweep.answer.front_minus_back) for sweep in played.state.usable_sweeps]
    assert [round(value, 1) for value in fitted] == [6.0, 3.0, 0.0]
    assert [(trial.shim_before, trial.shim_after) for trial in played.state.trials] == [
        (Decimal(0), Decimal("1.5")), (Decimal("1.5"), Decimal(3)),
    ]  # fmt: skip
    assert bench.shim == 3


def test_six_high_on_the_right_means_that_each_side_moves_three() -> None:
    # Common practice, no source.
    job = TypedJob.begin()
    job.say(*READY, "zeroed", "plus three", "zero", "minus three", "zero")
    assert job.state.as_found is not None
    assert job.state.as_found.right_minus_left == 6
    assert job.state.phase is Phase.EASE
    assert job.say("done") == "Tap right down to zero."
    assert job.step is not None
    assert job.step.change == -3
    bench, played = _played(_plain(0.0, 6.0))
    assert not played.tally.ended
    # What the right came down, the left went up.
    assert abs(bench.height(90.0) - bench.height(270.0)) < 1.0
    assert abs(bench.height(90.0) + bench.height(270.0)) < 1e-9


def test_a_finished_table_has_all_four_stations_within_two_thou() -> None:
    # Common practice, no source.
    bench, played = _played(_plain(11.0, -7.0))
    assert not played.tally.ended
    last = played.state.usable_sweeps[-1].readings
    assert {taken.station for taken in last} == set(STATIONS)
    values = [taken.value for taken in last]
    assert max(values) - min(values) <= 2
    assert bench.tilt <= 2


def test_the_front_low_is_shimmed_below_the_bolt() -> None:
    # Common practice, no source: a table hung on a vertical face in front of its arm.
    bench, played = _played(_plain(-8.0, 0.0))
    assert not played.tally.ended
    assert bench.shim < 0
    job = TypedJob.begin()
    job.say(*READY, "zeroed", "minus four", "minus eight", "minus four", "zero")
    assert "below the bolt" in job.say("done")
