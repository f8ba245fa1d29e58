"""A procedure is one file and one line: here one that no job has is put between two that it has."""

from dataclasses import replace
from types import ModuleType

import pytest

from assistant.dialogue import job as jobs
from assistant.dialogue import spoken
from assistant.dialogue.job import PROCEDURES, Job
from assistant.dialogue.messages import Step
from assistant.dialogue.procedures import safety
from assistant.dialogue.procedures.safety import Safety
from assistant.dialogue.procedures.setup import SetUp
from assistant.dialogue.questions import offer, offer_now
from assistant.dialogue.state import State
from assistant.dialogue.view import view
from assistant.records.journal.codec import decode, encode
from grammar.scale import Scale
from tests.dialogue import wiping
from tests.dialogue.typed import HEAD, SAFE, TypedJob
from tests.dialogue.wiping import STILL_DIRTY, WIPE, Wiping


@pytest.fixture
def wiped(monkeypatch: pytest.MonkeyPatch) -> TypedJob:
    """A job of somebody who has just agreed that the machine is safe."""
    at = PROCEDURES.index(safety.PROCEDURE) + 1
    # The one line.
    with_it = (*PROCEDURES[:at], wiping.PROCEDURE, *PROCEDURES[at:])
    monkeypatch.setattr(jobs, "JOB", Job(with_it))
    job = TypedJob.begin()
    job.say(*SAFE)
    return job


def test_the_job_comes_to_it_in_its_order_and_goes_on(wiped: TypedJob) -> None:
    assert str(wiped.state.phase) == "wipe"
    assert wiped.said == f"{safety.BY_HAND_ONLY} {WIPE}"
    assert wiped.step == Step("relock", what="rag")
    wiped.say("done")
    assert wiped.state.phase is SetUp.SETUP


def test_its_row_is_what_is_offered_shown_and_told(wiped: TypedJob) -> None:
    now = offer_now(wiped.state)
    assert now.commands[:3] == ("done", "no", "disregard")
    assert now.sizes == offer(Wiping.WIPE, Scale()).sizes == 9
    assert wiped.listening is not None
    assert wiped.listening.offer == now
    shown = view(wiped.state)
    assert (shown.headline, shown.step, shown.number) == ("WIPE", WIPE, "9")
    assert wiped.say("help").startswith("Type a number, done, no, disregard")


SAY_DONE = "Type done when it is."


def test_what_its_row_does_not_list_is_refused_by_the_door(wiped: TypedJob) -> None:
    for line in ("locked", "shim three above", "plus", "left", "yes", "skip"):
        instead = line in ("locked", "yes")
        assert wiped.say(line) == (SAY_DONE if instead else f"Not now: {line}. {WIPE}")
        assert wiped.state.phase is Wiping.WIPE


def test_its_answers_do_what_its_file_says(wiped: TypedJob) -> None:
    assert wiped.say("no") == f"{STILL_DIRTY} {WIPE}"
    assert wiped.say("three").startswith("Three chips. Bar in")
    assert wiped.state.phase is SetUp.SETUP


def test_disregard_goes_where_its_row_says(wiped: TypedJob) -> None:
    wiped.say("disregard")
    assert wiped.state.phase is Safety.TABLE_HELD


def test_a_job_passes_it_by_where_it_is_not_due(wiped: TypedJob) -> None:
    assert wiped.state.phase is Wiping.WIPE
    job = TypedJob.begin(replace(HEAD))
    job.say(*SAFE)
    assert job.state.phase is SetUp.SETUP


def test_its_words_can_be_listed_and_its_state_be_kept(wiped: TypedJob) -> None:
    module: ModuleType = wiping
    assert spoken.fixed(module) == {"WIPE": WIPE, "STILL_DIRTY": STILL_DIRTY}
    assert list(spoken.made(module)) == ["chips"]
    kept = decode(encode(wiped.state, State), State)
    assert kept == wiped.state
    assert kept.phase is Wiping.WIPE
