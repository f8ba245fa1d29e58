"""What is known of machine, indicator and leaves reaches the answer of a job."""

from dataclasses import replace
from decimal import Decimal
from math import sqrt

import pytest

from assistant.dialogue.machine import Instrument, Profile
from assistant.dialogue.messages import Result
from assistant.dialogue.procedures.close import Close
from assistant.metrology.answer import Answer
from assistant.metrology.lengths import Length
from assistant.simulation.bench import Bench, Machine, profile_for
from assistant.simulation.caller import Operator
from assistant.simulation.clock import SimulatedClock
from assistant.simulation.rehearsal import rehearse
from tests.dialogue.typed import FRONT_HIGH_SIX, LEVEL, READY, USUAL, TypedJob
from tests.simulation.text_carrier import TextCarrier


def answer_with(profile: Profile, readings: tuple[str, ...] = FRONT_HIGH_SIX) -> Answer:
    job = TypedJob.begin(profile)
    job.say(*READY, "zeroed", *readings)
    assert job.state.as_left is not None
    return job.state.as_left


def sources(answer: Answer) -> dict[str, float]:
    return {part.source: part.u for part in answer.budget.front_minus_back.components}


def test_error_limits_of_the_indicator_are_in_the_budget() -> None:
    """Equally likely anywhere within its limits: limit / sqrt 3 (GUM 4.3.7)."""
    assert "indicator" not in sources(answer_with(Profile()))
    told = answer_with(Profile(instrument=Instrument(limit=Decimal("0.6"))))
    assert sources(told)["indicator"] == pytest.approx(0.6 / sqrt(3))


def test_every_source_that_is_known_is_in_the_budget() -> None:
    measured = Profile(
        surface=tuple(map(Decimal, ("0", "1", "-1", "0.5"))),
        relock=tuple(map(Decimal, ("0", "1.5", "-1"))),
        lock_pull=Decimal(2),
        instrument=Instrument(limit=Decimal("0.5")),
    )
    answer = answer_with(measured, ("plus three", "plus six", "plus three", "plus half"))
    found = sources(answer)
    assert {"surface", "resolution", "indicator"} <= set(found)
    # The table is judged as it is locked now: another locking counts in forecasts only.
    assert not {"relock", "lock_pull"} & set(found)
    # Three relockings and four readings of one spot are few: t is well above two.
    assert answer.degrees_of_freedom < 20
    assert answer.coverage_factor > 2.05
    assert answer.standard_uncertainty**2 == pytest.approx(
        sum(part.u**2 for part in answer.budget.tilt.components)
    )


def test_leaf_tolerance_widens_what_is_expected_to_be_left() -> None:
    exact = answer_with(Profile())
    loose = answer_with(Profile(leaf_tolerance=Decimal("0.5")))
    assert exact.shim.left_uncertainty is not None
    assert loose.shim.left_uncertainty is not None
    more = loose.shim.left_uncertainty**2 - exact.shim.left_uncertainty**2
    stack = sqrt(len(loose.shim.leaves)) * 0.5 / sqrt(3)
    assert more == pytest.approx((loose.shim.response.value * stack) ** 2)


def test_a_fitted_shim_is_replaced_by_one_leaf_where_one_is_as_good() -> None:
    """Four is in stock: it is fitted for one and a half and two and a half more."""
    stock = tuple(map(Decimal, ("1.5", "2.5", "4")))
    job = TypedJob.begin(Profile(stock=stock, span=Length.of(Decimal(5), "in")))
    job.say(*READY, "zeroed", "plus four", "plus eight", "plus four", "zero", "done")
    said = job.say("shim one and a half above", "locked", "zeroed")
    said = job.say("plus two and a half", "plus five", "plus two and a half", "zero", "done")
    assert "Four in all above the bolt. Add two and a half. Done?" in said


def test_no_more_leaves_than_the_person_allows() -> None:
    stock = tuple(map(Decimal, ("1", "1", "1", "1", "1")))
    for most in (1, 2, 3):
        answer = answer_with(Profile(stock=stock, max_leaves=most))
        # By the geometry of the machine two and a half of them would do.
        assert len(answer.shim.leaves) == min(most, 2)


def test_the_front_may_be_high_but_not_low() -> None:
    """Two and a half high at the front, four allowed that way and none the other."""
    high = ("plus one and a half", "plus two", "plus one", "zero")
    low = ("minus one and a half", "minus two", "minus one", "zero")
    quiet = replace(USUAL, front_may_be="high")
    job = TypedJob.begin(quiet)
    assert "Square within four thou." in job.say(*READY, "zeroed", *high)
    job = TypedJob.begin(quiet)
    assert "Square" not in job.say(*READY, "zeroed", *low)
    assert job.state.as_left is not None
    assert job.state.as_left.verdict == "beyond"
    # Out of it by so little that a shim of unknown response would not surely help.
    assert job.state.phase is Close.DECIDE
    either = TypedJob.begin(replace(quiet, front_may_be="either"))
    assert "Square within four thou." in either.say(*READY, "zeroed", *low)


def test_a_tolerance_over_another_length_counts_in_proportion() -> None:
    """Four in twelve inches are three and a third in ten (similar triangles, derived)."""
    over = replace(USUAL, tolerance_over=Length.of(Decimal(12), "in"))
    job = TypedJob.begin(over)
    said = job.say(*READY, "zeroed", *LEVEL)
    assert "Square within three point three three thou." in said
    limit = answer_with(over).judgement
    assert limit.accept_up_to is not None
    assert limit.guard_band is not None
    assert limit.accept_up_to + limit.guard_band == pytest.approx(10 / 3, abs=0.01)


def test_a_level_table_is_inside_the_noise_and_never_zero() -> None:
    job = TypedJob.begin()
    said = job.say(*READY, "zeroed", *LEVEL)
    assert "Both ways too small to read." in said
    closed = job.say("yes", "done")
    assert "Was too small to read, and still is." in closed
    assert job.state.as_left is not None
    assert job.state.as_left.judgement.probability == pytest.approx(1.0, abs=0.02)


def test_a_shim_that_tips_the_table_is_learnt_and_predicted() -> None:
    """A table whose sides rise by six tenths of each shim: later steps foretell both axes."""
    machine = Machine(
        profile_for().scale, 18.0, 0.0, touch=0.1, relock=0.05, response=2.0, coupling=0.6
    )
    profile = replace(
        profile_for(),
        reading_sd=Decimal("0.1"),
        relock_sd=Decimal("0.1"),
        tolerance=Length.of(1, "thou"),
    )
    bench, clock, answers = Bench(machine), SimulatedClock(), list[Answer]()

    def note(effect: object) -> None:
        if isinstance(effect, Result):
            answers.append(effect.answer)

    played = rehearse(Operator(bench, profile), TextCarrier(clock), clock, notice=note)
    assert not played.tally.ended
    shown = [answer.coupling.shim_on_sides for answer in answers if answer.coupling]
    assert shown[0] == 0.0, "nothing is claimed before the data show it"
    assert shown[-1] == pytest.approx(0.6, abs=0.15)
    assert "coupled" in {notice.code for notice in answers[-1].warnings}
    foretold = 0
    for last, sweep in zip(played.state.sweeps[1:], played.state.sweeps[2:], strict=False):
        plan, got = sweep.before.plan, sweep.answer.right_minus_left
        moved = abs(last.answer.right_minus_left - got) > 1
        if plan is not None and plan.kind == "shim" and moved:
            foretold += 1
            assert abs(plan.expected_rl - got) < abs(last.answer.right_minus_left - got) / 2
    assert foretold
