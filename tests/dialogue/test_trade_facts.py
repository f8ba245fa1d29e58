"""Facts of the trade as whole jobs. All of them: common practice, no source."""

from dataclasses import replace
from decimal import Decimal

from assistant.dialogue.machine import Profile
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.form import Form
from assistant.dialogue.procedures.noise import Settling
from assistant.dialogue.procedures.shim import Bolt
from assistant.dialogue.procedures.tap import HOLD_AND_SLACK, Tap
from assistant.metrology.lengths import Length
from assistant.simulation.bench import Bench, Machine, profile_for
from assistant.simulation.caller import Operator
from assistant.simulation.clock import SimulatedClock
from assistant.simulation.rehearsal import Rehearsal, rehearse
from grammar.vocabulary import STATIONS
from tests.dialogue.typed import READY, TypedJob
from tests.simulation.text_carrier import TextCarrier


def _plain(front_minus_back: float, right_minus_left: float) -> Machine:
    """A table without any roughness, on which a leaf does twice itself."""
    return Machine(profile_for().scale, front_minus_back, right_minus_left, response=2.0)


def _played(machine: Machine, tolerance: str = "4") -> tuple[Bench, Rehearsal]:
    bench = Bench(machine)
    clock = SimulatedClock()
    operator = Operator(bench, replace(profile_for(), tolerance=Length.of(tolerance, "thou")))
    return bench, rehearse(operator, TextCarrier(clock), clock)


def test_one_and_a_half_above_brings_six_high_to_three_and_twice_as_much_to_none() -> None:
    # Common practice, no source.
    bench, played = _played(_plain(6.0, 0.0), tolerance="2")
    fitted = [(sweep.answer.front_minus_back) for sweep in played.state.usable_sweeps]
    assert [round(value, 1) for value in fitted[:3]] == [6.0, 3.0, 0.0]
    # What is left may be swept once more, to prove it.
    assert [round(value, 1) for value in fitted[3:]] in ([], [0.0])
    assert [(trial.shim_before, trial.shim_after) for trial in played.state.shims.trials] == [
        (Decimal(0), Decimal("1.5")), (Decimal("1.5"), Decimal(3)),
    ]  # fmt: skip
    assert bench.shim == 3


def test_six_high_on_the_right_means_that_each_side_moves_three() -> None:
    # Common practice, no source.
    job = TypedJob.begin()
    job.say(*READY, "zeroed", "plus three", "zero", "minus three", "zero")
    assert job.state.as_found is not None
    assert job.state.as_found.right_minus_left == 6
    assert job.state.phase is Tap.EASE
    assert job.say("done") == f"{HOLD_AND_SLACK} Soft mallet. Tap right down to zero."
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


ROUGH = Profile(
    # Roughness alone moves the dial three, the lock a couple.
    surface=tuple(Decimal(text) for text in ("0", "3", "1", "0.5", "2")),
    relock=tuple(Decimal(text) for text in ("0", "2", "1", "0", "1")),
)


def _front_high(right: str, front: str, left: str) -> TypedJob:
    """One sweep; the stations miss a plane by two and a half, as such roughness makes them."""
    job = TypedJob.begin(ROUGH)
    job.say(*READY, "zeroed", f"plus {right}", f"plus {front}", f"plus {left}", "zero")
    return job


def test_an_ordinary_drill_press_is_not_worth_chasing_below_about_ten_thou() -> None:
    # Common practice, no source.
    small = _front_high("one", "four", "half")
    assert small.state.as_found is not None
    assert small.state.as_found.inside_noise
    assert not small.state.as_found.judgement.front_matters
    assert small.state.phase in (Form.CORNERS, Close.DECIDE), "no bolt is loosened for it"
    job = _front_high("five", "twelve", "four and a half")
    assert job.state.as_found is not None
    assert job.state.as_found.judgement.front_matters
    assert job.state.phase is Bolt.LOOSEN
    noise = job.state.as_found.budget.front_minus_back.expanded()
    assert 4 < noise < 10


def test_pulling_the_lock_harder_adds_one_or_two_thou_to_eight() -> None:
    # Common practice, no source: it is measured and named as the lock's.
    job = TypedJob.at(Settling.SNUG)
    said = job.say("plus eight", "plus ten")
    assert "lock pull two." in said.lower()
    assert job.state.profile.lock_pull == 2
    job.say("locked", "zeroed", "plus four", "plus eight", "plus four", "zero")
    assert job.state.as_found is not None
    found = {part.source for part in job.state.as_found.budget.tilt.components}
    assert "lock_pull" not in found, "as it is locked now, it is where it was pulled to"
