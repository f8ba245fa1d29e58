"""Whole jobs by typed words and by keys: what is advised, what it learns, how it ends."""

from dataclasses import replace
from decimal import Decimal
from functools import cache

import pytest

from assistant.dialogue import pending, wording
from assistant.dialogue.messages import Closed, NewJob, Resumed, Say
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures import close, lock, safety, setup, shim, sweep, tap
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.safety import Safety
from assistant.dialogue.procedures.shim import Bolt
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.procedures.tap import HOLD_AND_SLACK, Tap
from assistant.dialogue.step import NotStarted, fold, step
from assistant.metrology.lengths import parse_length
from tests.dialogue.typed import AT, FRONT_HIGH_SIX, LEVEL, READY, SAFE, USUAL, TypedJob

JOB = (
    *READY, "zeroed", *FRONT_HIGH_SIX,
    "done", "done", "locked", "zeroed", "plus two", "plus four", "plus two", "zero",
    "done", "done", "locked", "zeroed", *LEVEL, "yes", "done",
)  # fmt: skip


def _told(job: TypedJob) -> str:
    step_ = job.step
    assert step_ is not None
    return step_.do


def test_a_job_front_to_back_from_unplugging_to_the_last_word() -> None:
    job = TypedJob.begin()
    assert job.said == safety.UNPLUGGED
    assert job.say("yes") == safety.KEY_OUT
    assert job.say("yes") == safety.TABLE_HELD
    assert safety.BY_HAND_ONLY in job.say("yes")
    assert job.say("yes") == lock.LOCK
    assert _told(job) == "tighten"
    assert job.say("locked") == f"{sweep.LIFT_TIP} {sweep.zero('back')}"
    assert _told(job) == "zero"
    said = job.say("zeroed", *FRONT_HIGH_SIX)
    assert "Front high six." in said
    assert _told(job) == "loosen"
    job.say("done")
    assert job.step is not None
    assert (job.step.do, job.step.place, job.step.total) == ("shim", "above", Decimal("1.5"))
    job.say("done", "locked", "zeroed")
    said = job.say("plus two", "plus four", "plus two", "zero")
    assert "Front high four." in said
    job.say("done")
    assert job.step is not None
    assert (job.step.place, job.step.total) == ("above", Decimal("4.5"))
    said = job.say("done", "locked", "zeroed", *LEVEL)
    assert wording.AS_EXPECTED in said
    assert "Square within four thou." in said
    assert job.say("yes") == close.CLOSE
    assert job.say("done").startswith(close.closed("six", wording.INSIDE_NOISE))
    assert Closed(finished=True) in job.effects
    assert len(job.state.sweeps) == 3


def test_the_machine_is_not_safe_without_three_times_yes() -> None:
    job = TypedJob.begin()
    for _ in range(3):
        assert job.say("no") == f"{safety.UNPLUG_FIRST} {safety.UNPLUGGED}"
    job.say("yes")
    assert job.say("no") == f"{safety.KEY_OUT_FIRST} {safety.KEY_OUT}"
    job.say("yes")
    assert job.say("no") == f"{safety.HOLD_TABLE_FIRST} {safety.TABLE_HELD}"
    assert job.state.phase is Safety.TABLE_HELD


def test_the_set_up_can_be_changed_by_voice() -> None:
    job = TypedJob.begin()
    job.say(*SAFE)
    assert job.say("no") == setup.diameter("inches")
    assert job.say("eight inches") == setup.tolerance("thou")
    assert "Sweep eight inches, within three thou." in job.say("three", "yes")
    assert job.state.profile.sweep_diameter == parse_length("8 in", "in")
    assert job.state.profile.tolerance == parse_length("3 thou", "thou")
    job.say("no")
    assert job.say("zero") == f"{wording.TOO_SMALL} {setup.diameter('inches')}"


def test_a_shim_that_is_not_as_told_is_what_is_learnt_from() -> None:
    job = TypedJob.at(Bolt.SHIM)
    assert job.say("shim two above") == f"{shim.shim_is(Decimal(2), 'above')} {shim.TIGHTEN}"
    assert job.state.shims.total == 2
    job.say("locked", "zeroed", "plus one", "plus two", "plus one", "zero")
    assert job.state.shims.trials[0].shim_after == 2
    assert job.state.shims.trials[0].before - job.state.shims.trials[0].after == pytest.approx(4)


def test_a_shim_called_without_its_side_goes_where_it_was_to_go() -> None:
    job = TypedJob.at(Bolt.SHIM)
    assert job.say("shim three").startswith("Shim three above.")


def test_taking_back_the_bolt_takes_back_the_shim() -> None:
    job = TypedJob.at(Bolt.TIGHTEN)
    assert job.state.shims.total == Decimal("1.5")
    job.say("disregard")
    assert job.state.phase is Bolt.SHIM
    assert job.state.shims.total == 0


def test_a_shim_that_hardly_shows_does_not_ask_for_a_huge_one() -> None:
    job = TypedJob.at(Bolt.SHIM)
    job.say("shim two above", "locked", "zeroed")
    said = job.say("plus two", "plus four", "plus two", "zero")
    assert "Front high four." in said
    job.say("done")
    assert job.step is not None
    assert job.step.total is not None
    assert 3 < job.step.total <= 9


def test_a_shim_without_effect_is_said_and_not_learnt_from() -> None:
    job = TypedJob.at(Sweeping.ZERO)
    found = ("plus eight", "plus sixteen", "plus eight", "zero")
    job.say("zeroed", *found, "done", "shim six above", "locked", "zeroed")
    assert wording.NO_RESPONSE in job.say(*found)
    assert job.state.shims.trials == ()
    checked: Phase = job.state.phase
    assert checked is Bolt.TIGHTEN, "the clamping is checked first, with the same shim"
    said = job.say("locked", "zeroed", *found)
    assert shim.SEIZED_FRONT in said
    assert job.state.shims.trials == ()
    assert job.state.shims.total == 6, "never a thicker one"
    assert job.state.phase is Close.DECIDE


def test_a_shim_that_goes_the_wrong_way_is_said_and_told_again_in_full() -> None:
    # The leaf was put below the bolt: the front rose by three instead of falling.
    job = TypedJob.at(Bolt.TIGHTEN)
    said = job.say("locked", "zeroed", "plus five", "plus ten", "plus five", "zero")
    assert wording.WRONG_WAY in said
    assert job.state.shims.trials == ()
    assert said.endswith(shim.LOOSEN)
    job.say("done")
    assert job.step is not None
    assert job.step.place == "above"
    assert job.step.total is not None
    assert job.step.total <= 8


def test_tapping_is_coached_to_the_target() -> None:
    job = TypedJob.at(Tap.EASE)
    said = job.say("done")
    assert said == f"{HOLD_AND_SLACK} Soft mallet. Tap right down to zero."
    assert job.step is not None
    assert (job.step.do, job.step.station, job.step.change, job.step.dial_target) == (
        "tap", "right", Decimal(-3), Decimal(0),
    )  # fmt: skip
    assert job.say("plus two") == "Right plus two. Two more down."
    assert job.say("minus one and a half") == (
        "Right minus one and a half. Too far. Back up one and a half."
    )
    assert job.say("left zero") == f"{wording.watch_this('right')} Too far. Back up one and a half."
    assert job.say("half") == "Right: plus or minus half?"
    said = job.say("plus")
    assert said == f"Right plus half. {wording.ON_TARGET} {tap.lock_and_call('right')}"
    job.say("locked", "zeroed", *LEVEL)
    assert job.state.phase is Close.DECIDE


def test_leaving_an_axis_out_is_asked_and_can_be_taken_up_again() -> None:
    job = TypedJob.at(Bolt.LOOSEN)
    assert job.say("skip") == "Skip?"
    assert job.say("no") == shim.LOOSEN
    job.say("skip")
    said = job.say("yes")
    assert close.BEYOND in said
    assert job.state.phase is Close.DECIDE
    assert job.say("no").endswith(shim.LOOSEN)


def test_finish_before_the_end_is_asked_and_can_be_taken_back() -> None:
    job = TypedJob.at(Bolt.LOOSEN)
    assert job.say("finish") == "Finish?"
    assert job.say("yes") == close.CLOSE
    assert job.say("disregard").endswith(shim.LOOSEN)
    assert len(job.state.sweeps) == 1


def test_stop_keeps_everything_and_answers_no_more() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    job.say("plus three")
    assert job.say("stop") == pending.ASK_STOP
    assert job.say("no") == "Front?"
    job.say("stop")
    assert job.say("yes") == wording.STOPPED
    assert Closed(finished=False) in job.effects
    before = job.state
    job.say("plus three")
    assert job.state == before


def test_a_stopped_job_goes_on_from_the_same_question() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    job.say("plus three", "stop", "yes")
    assert (
        job.post(Resumed(AT, "Monday")) == "Drill press from Monday, no sweep yet. Go on with it?"
    )
    assert job.say("yes") == pending.STILL_UNPLUGGED
    assert job.say("no") == f"{safety.UNPLUG_FIRST} {pending.STILL_UNPLUGGED}"
    assert job.say("yes") == pending.UNTOUCHED
    assert job.say("yes") == "Front?"
    assert job.values() == {"back": 0, "right": 3}


def test_not_going_on_asks_for_another_job() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    job.post(Resumed(AT))
    job.say("no")
    assert NewJob() in job.effects


@cache
def _straight() -> tuple[TypedJob, ...]:
    """The job after each of its lines, gone through once."""
    job = TypedJob.begin()
    passed = [replace(job, events=[*job.events])]
    for line in JOB:
        job.say(line)
        passed.append(replace(job, events=[*job.events]))
    return tuple(passed)


@pytest.mark.parametrize("count", range(len(JOB)))
def test_a_job_can_be_taken_up_again_after_any_event(count: int) -> None:
    job = _straight()[count]
    asked = job.said
    again = TypedJob(job.state, (), list(job.events))
    again.post(Resumed(AT))
    if count:
        assert again.said.endswith(pending.GO_ON)
        again.say("yes", "yes")
        if again.said == pending.UNTOUCHED:
            again.say("yes")
    question = again.said.removeprefix(pending.LOOSE).strip()
    assert question
    assert asked.endswith(question)
    assert again.state.readings == job.state.readings
    again.say(*JOB[count:])
    assert again.state.phase is Close.CLOSED
    assert again.state.sweeps == _straight()[-1].state.sweeps


def test_a_job_begins_once() -> None:
    job = TypedJob.begin()
    with pytest.raises(NotStarted, match="begun already"):
        step(job.state, job.events[0])
    with pytest.raises(NotStarted, match="must be Started"):
        step(None, Resumed(AT))
    assert fold(()) is None


def test_a_whole_job_by_keys_alone() -> None:
    job = TypedJob.begin()
    assert job.press("enter enter enter enter enter enter") == "Right?"
    assert job.press("+ 3 enter") == "Right plus three. Front?"
    assert job.press("+ 6 . 5 enter") == "Front plus six and a half. Left?"
    assert job.press("3 enter") == "Left: plus or minus three?"
    assert job.press("+ enter") == "Left plus three. Back again?"
    assert job.press("/ /") == "Left taken back. Left?"
    assert job.press("- + 3 . 5 enter") == "Left plus three and a half. Back again?"
    said = job.press("0 enter")
    assert "Front high six and a half." in said
    assert job.press("enter").startswith("Shim")
    assert job.press("+ 2 enter").startswith("Shim two above.")
    job.press("enter enter")
    assert job.press("*") == "Right?"
    job.press("+ 2 enter + 4 enter + 2 enter 0 enter")
    assert job.said.endswith(shim.LOOSEN)
    assert job.state.shims.trials[0].shim_after == 2
    assert job.press("-") == ""
    job.press("enter enter enter enter")
    assert job.press("0 enter 0 enter 0 enter 0 enter").endswith(close.FINISH_QUESTION)
    job.press("enter enter")
    assert job.state.phase is Close.CLOSED
    assert {taken.source for sweep in job.state.sweeps for taken in sweep.readings} == {"keypad"}


def test_keys_that_make_no_number_are_said_so_and_change_nothing() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    assert job.press(". enter") == wording.bad_entry()
    job.press("9 9 9 9 9 9 9 9 9")
    assert len(job.state.entry) == 8
    job.press("/")
    assert job.state.entry == ""
    assert job.press("what") == ""
    assert job.values() == {"back": 0}


def test_keys_do_what_the_words_do_in_pairs() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    job.press("+ 3 enter")
    assert job.press("/ 7") == "Right again?"
    assert job.press("/ 3") == "Front?"
    assert job.press("/ 0") == wording.STANDING_BY
    assert job.press("/ 0") == f"{wording.GOING_AHEAD} Front?"
    assert "Sweep one" in job.press("/ 1")
    assert "Number and enter, slash seven correction" in job.press("/ 2")
    assert job.press("/ 8") == pending.ASK_STOP
    assert job.press("-") == "Front?"


def test_a_tolerance_of_two_is_not_met_by_three() -> None:
    job = TypedJob.begin(replace(USUAL, tolerance=parse_length("2 thou", "thou")))
    job.say(*READY, "zeroed")
    said = job.say("plus one and a half", "plus three", "plus one and a half", "zero")
    assert "Square within" not in said
    assert job.state.phase is Bolt.LOOSEN


def test_every_result_is_that_of_its_sweep() -> None:
    job = TypedJob.begin()
    results = []
    for line in JOB:
        job.say(line)
        if job.result is not None:
            results.append(job.result)
    assert [result.sweep for result in results] == [1, 2, 3]
    assert [round(result.answer.front_minus_back, 6) for result in results] == [6, 4, 0]
    assert not [effect for effect in job.effects if isinstance(effect, Say) and not effect.text]
