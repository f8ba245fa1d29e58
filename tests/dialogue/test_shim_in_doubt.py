"""A shim that was put in is looked at again before the sweep that is to show what it did."""

from decimal import Decimal

import pytest

from assistant.dialogue.procedures.shim import Bolt
from assistant.dialogue.procedures.sweep import Sweeping
from tests.dialogue.typed import FRONT_HIGH_SIX, READY, TypedJob

SHIMMED = (*READY, "zeroed", *FRONT_HIGH_SIX, "done", "done", "locked")


@pytest.fixture
def shimmed() -> TypedJob:
    job = TypedJob.begin()
    job.say(*SHIMMED)
    assert job.state.phase is Sweeping.ZERO
    assert job.state.shims.total == Decimal("1.5")
    return job


def test_it_comes_out_again_by_saying_so_and_teaches_nothing(shimmed: TypedJob) -> None:
    assert shimmed.say("disregard", "disregard") == "Hold the table. Loosen the tilt bolt. Done?"
    assert shimmed.say("done") == "One and a half is in above the bolt. Done? Or call another."
    shimmed.say("shim zero", "locked", "zeroed", *FRONT_HIGH_SIX)
    assert shimmed.state.shims.total == 0
    assert shimmed.state.shims.trials == ()
    assert shimmed.state.shims.did_nothing == 0
    assert shimmed.state.phase is Bolt.LOOSEN


def test_another_is_what_the_sweep_is_weighed_by(shimmed: TypedJob) -> None:
    shimmed.say("disregard", "disregard", "done", "shim three", "locked", "zeroed")
    shimmed.say("plus one", "plus two", "plus one", "zero")
    trial = shimmed.state.shims.trials[-1]
    assert [trial.shim_before, trial.shim_after, trial.before, trial.after] == [0, 3, 6, 2]


def test_done_leaves_it_as_it_is(shimmed: TypedJob) -> None:
    shimmed.say("disregard", "disregard", "done", "done", "locked")
    assert shimmed.state.phase is Sweeping.ZERO
    assert shimmed.state.shims.total == Decimal("1.5")


def test_nothing_leads_past_the_sweep_while_another_shim_is_in(shimmed: TypedJob) -> None:
    """Skipped there, the job would go on by a sweep from before the shim."""
    shimmed.say("disregard", "disregard")
    assert shimmed.listening is not None
    assert not {"skip", "finish"} & set(shimmed.listening.offer.commands)
    for line in ("skip", "finish"):
        shimmed.say(line)
        assert shimmed.state.phase is Bolt.LOOSEN
    assert shimmed.say("disregard").endswith("Dial to zero at the back. Say zeroed.")
    assert len(shimmed.state.sweeps) == 1


def test_in_few_words_as_well() -> None:
    job = TypedJob.begin(short=True)
    job.say("yes", "yes", "locked", "zeroed", *FRONT_HIGH_SIX, "done", "locked")
    assert (job.state.phase, job.state.shims.total) == (Sweeping.ZERO, Decimal("1.5"))
    said = job.say("disregard", "disregard")
    assert said.startswith("Hold the table. Loosen the bolt. One and a half is in above")
    assert job.listening is not None
    assert not {"skip", "finish"} & set(job.listening.offer.commands)


def test_where_the_same_shim_was_left_in_it_is_the_set_up_that_is_meant() -> None:
    job = TypedJob.begin()
    job.say(*READY, "zeroed", *FRONT_HIGH_SIX, "done", "shim zero", "locked")
    assert job.state.phase is Sweeping.ZERO
    assert "Sweep ten inches" in job.say("disregard", "disregard")
