"""A further job of the same machine: what is said of the last one, asked of its shims, built on."""

from dataclasses import replace
from decimal import Decimal

import pytest

from assistant.dialogue.facts import LastJob, Learnt, Packing, Shims
from assistant.dialogue.machine import Profile
from assistant.dialogue.phases import Phase
from assistant.dialogue.planner import AS_LAST_TIME, TRIAL_SHIM
from assistant.dialogue.procedures import last_time
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.last_time import LastTime
from assistant.dialogue.procedures.safety import Safety
from assistant.dialogue.procedures.setup import SetUp
from assistant.dialogue.procedures.shim import Bolt
from assistant.dialogue.state import PACK_LENGTHWISE, PACK_SIDES
from assistant.dialogue.step import fold
from assistant.dialogue.wording import AS_EXPECTED
from assistant.metrology.lengths import Length
from grammar.meaning import Shim
from tests.dialogue.typed import AT, FRONT_HIGH_SIX, HEAD, LEVEL, PACKED, SAFE, USUAL, TypedJob

TEN, FOUR = Length.of(10, "in"), Length.of(4, "thou")
TWO_FOR_ONE = Learnt("shim", 2.0, 0.2, TEN, 21.0, AT)
"""Half as much as the geometry of the usual machine lets expect (invented)."""

SQUARE = LastJob(AT, "three weeks ago", within=FOUR, tilt=2.0, shim=Decimal(3))
LEARNT = replace(SQUARE, learnt=(TWO_FOR_ONE,))


def _begun(last: LastJob | None, profile: Profile = USUAL, *, short: bool = False) -> TypedJob:
    return TypedJob.begin(replace(profile, name="old drill"), short=short, last=last)


def _phase(job: TypedJob) -> Phase:
    return job.state.phase


@pytest.mark.parametrize(
    ("last", "told"),
    [
        (SQUARE, "Old drill, three weeks ago: square within four thou."),
        (replace(SQUARE, shim=Decimal(0)),
         "Old drill, three weeks ago: square within four thou. No shim in."),
        (replace(SQUARE, within=None, tilt=6.2, square_day="five months ago"),
         "Old drill, three weeks ago: left six out. Last square five months ago."),
        (replace(SQUARE, within=None, tilt=None),
         "Old drill, three weeks ago: too close to call."),
        (replace(SQUARE, finished=False, day="today"), "Old drill, today: not finished."),
        (replace(SQUARE, day=""), "Old drill: square within four thou."),
    ],
)  # fmt: skip
def test_a_job_begins_with_how_the_machine_was_left(last: LastJob, told: str) -> None:
    assert _begun(last).said == f"{told} Is the machine unplugged?"
    assert _begun(last, short=True).said.startswith(told)


def test_a_first_job_is_told_and_asked_nothing_of_it() -> None:
    job = _begun(None)
    assert job.said == "Is the machine unplugged?"
    job.say(*SAFE)
    assert _phase(job) is SetUp.SETUP


def test_what_is_said_of_other_dials_is_in_their_counts() -> None:
    metric = replace(USUAL, scale=replace(USUAL.scale, system="mm", step=Decimal(1)))
    said = _begun(replace(SQUARE, within=Length.of(Decimal("0.06"), "mm")), metric).said
    assert "square within six hundredths" in said


@pytest.mark.parametrize(
    ("answer", "total", "told"),
    [
        ("yes", "3", ""),
        ("no", "0", last_time.NONE_THEN),
        ("shim five", "5", "Shim five above."),
        ("shim two below", "-2", "Shim two below."),
        ("shim zero", "0", "No shim."),
        ("shim one and a half above", "1.5", "Shim one and a half above."),
    ],
)
def test_which_shim_is_in_is_asked_once_the_machine_is_safe(
    answer: str, total: str, told: str
) -> None:
    job = _begun(LEARNT)
    asked = job.say(*SAFE)
    assert _phase(job) is LastTime.STILL_IN
    assert asked.endswith("Shim three above the bolt still in? Or say which.")
    said = job.say(answer)
    assert said.startswith(told)
    assert _phase(job) is SetUp.SETUP
    assert job.state.shims == Shims(total=Decimal(total))
    assert job.state.last == LEARNT


def test_a_shim_by_key_is_where_the_last_one_was_unless_it_has_a_sign() -> None:
    for keys, total in (("5 enter", "-5"), ("+ 2 enter", "2"), ("0 enter", "0"), ("-", "0")):
        job = _begun(replace(SQUARE, shim=Decimal(-3)))
        job.say(*SAFE)
        job.press(keys)
        assert job.state.shims.total == Decimal(total), keys
        assert _phase(job) is SetUp.SETUP, keys


def test_skip_wants_its_yes_and_then_the_machine_is_as_new() -> None:
    job = _begun(LEARNT)
    job.say(*SAFE, "skip", "no")
    assert _phase(job) is LastTime.STILL_IN
    job.say("skip", "yes")
    assert (job.state.last, job.state.shims) == (None, Shims())
    job.say("yes", "locked", "zeroed", *FRONT_HIGH_SIX)
    assert TRIAL_SHIM in job.said


def test_what_else_is_said_there_changes_nothing() -> None:
    job = _begun(LEARNT)
    job.say(*SAFE)
    before = job.state
    for line in ("plus three", "done", "locked", "above", "front", "shim", "five", "finish"):
        job.say(line)
        assert _phase(job) is LastTime.STILL_IN, line
        assert (job.state.shims, job.state.last) == (before.shims, before.last), line
    assert "shim" in job.say("help")
    job.say("disregard")
    assert _phase(job) is Safety.TABLE_HELD


def test_disregard_asks_for_the_shim_again_but_not_once_something_is_swept() -> None:
    job = _begun(LEARNT)
    job.say(*SAFE, "yes", "disregard")
    assert _phase(job) is LastTime.STILL_IN
    assert job.state.shims == Shims()
    job.say("shim four above", "yes", "locked", "disregard", "disregard", "disregard")
    assert _phase(job) is LastTime.STILL_IN
    job.say("shim four above", "yes", "locked", "zeroed", *FRONT_HIGH_SIX)
    job.say("done", "shim four above", "locked", "disregard", "disregard", "disregard")
    assert _phase(job) is Safety.TABLE_HELD
    assert job.state.shims.total == 4
    job.say("yes")
    assert _phase(job) is SetUp.SETUP
    assert job.state.shims.total == 4


def test_the_shim_that_is_in_is_built_on_and_so_is_what_it_did() -> None:
    job = _begun(LEARNT)
    said = job.say(*SAFE, "yes", "yes", "locked", "zeroed", *FRONT_HIGH_SIX)
    assert f"{AS_LAST_TIME} Should leave about zero." in said
    assert TRIAL_SHIM not in said
    # Two for one: three more take six away. Geometry alone would have asked for two or so.
    assert job.say("done").startswith("Six in all above the bolt. Add three.")
    said = job.say("done", "locked", "zeroed", *LEVEL)
    assert AS_EXPECTED in said
    assert [trial.shim_before for trial in job.state.shims.trials] == [Decimal(3)]


def test_it_is_what_this_job_shows_that_counts_when_it_is_otherwise() -> None:
    job = _begun(LEARNT)
    job.say(*SAFE, "yes", "yes", "locked", "zeroed", "plus ten", "plus twenty", "plus ten", "zero")
    assert job.say("done").startswith("Thirteen in all above the bolt")
    # A quarter of what it did last time.
    said = job.say("done", "locked", "zeroed", "plus seven and a half", "plus fifteen",
                   "plus seven and a half", "zero")  # fmt: skip
    assert "Expected zero, got plus fifteen." in said
    left = job.state.as_left
    assert left is not None
    assert left.shim.response.value == pytest.approx(0.57, abs=0.05)


def test_years_later_a_trial_shows_it_again() -> None:
    old = replace(LEARNT, learnt=(replace(TWO_FOR_ONE, days=3000.0),), day="eight years ago")
    job = _begun(old)
    said = job.say(*SAFE, "yes", "yes", "locked", "zeroed", *FRONT_HIGH_SIX)
    assert TRIAL_SHIM in said
    assert AS_LAST_TIME not in said


def test_another_sweep_diameter_takes_the_response_in_proportion() -> None:
    job = _begun(LEARNT)
    job.say(*SAFE, "yes", "no", "twenty", "skip", "yes", "yes", "locked", "zeroed")
    job.say(*FRONT_HIGH_SIX)
    left = job.state.as_left
    assert left is not None
    assert left.shim.response.value == pytest.approx(4.0)


def test_shims_under_the_feet_are_asked_about_one_by_one() -> None:
    last = replace(
        SQUARE, shim=Decimal(9), under_back=Decimal(2), under_left=Decimal(-4),
        learnt=(replace(TWO_FOR_ONE, kind=PACK_LENGTHWISE, value=1.0, uncertainty=0.1),),
    )  # fmt: skip
    job = _begun(last, PACKED)
    assert job.say(*SAFE).endswith("Shim two under the back still in? Or say which.")
    assert job.say("yes").endswith("Shim four under the right still in? Or say which.")
    job.say("disregard")
    assert job.said.endswith("Shim two under the back still in? Or say which.")
    said = job.say("no", "shim three")
    assert said.startswith("Shim three under the right.")
    assert job.state.shims_told == (PACK_LENGTHWISE, PACK_SIDES)
    assert job.state.packing == Packing(under_left=Decimal(-3))
    assert job.state.shims == Shims()
    said = job.say("yes", "locked", "zeroed", *FRONT_HIGH_SIX)
    assert AS_LAST_TIME in said


def test_a_machine_without_shims_is_asked_nothing() -> None:
    # Its file says now that it is a head: what was in at a bolt says nothing any more.
    job = _begun(LEARNT, HEAD)
    assert "shim" not in job.said.lower()
    job.say(*SAFE)
    assert _phase(job) is SetUp.SETUP


def test_a_shim_that_is_not_there_after_all_is_told_at_the_bolt() -> None:
    job = _begun(LEARNT)
    job.say(*SAFE, "yes", "yes", "locked", "zeroed", *FRONT_HIGH_SIX, "done")
    assert _phase(job) is Bolt.SHIM
    # It said yes to a shim that is gone, and puts three in: that is what is in now.
    job.say("shim three above", "locked", "zeroed", *LEVEL)
    assert job.state.shims.total == 3
    assert job.state.shims.trials == ()


def test_the_short_form_asks_it_too_and_in_as_few_answers() -> None:
    job = _begun(LEARNT, short=True)
    job.say("yes")
    assert _phase(job) is LastTime.STILL_IN
    job.say("disregard")
    assert _phase(job) is Safety.ALL
    lines = ("yes", "yes", "locked", "zeroed", *FRONT_HIGH_SIX, "done", "locked", "zeroed",
             *LEVEL, "done")  # fmt: skip
    job.say(*lines)
    assert _phase(job) is Close.CLOSED


def test_such_a_job_replays_to_the_same_state() -> None:
    job = _begun(LEARNT)
    job.hear("shim five above", Shim(Decimal(5), "above"))
    job.say(*SAFE, "shim five above", "yes", "locked", "zeroed", *FRONT_HIGH_SIX, "status")
    assert fold(job.events) == job.state
