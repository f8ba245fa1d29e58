"""The short form: fewer answers and words, the same record, no caution left out."""

import re
from dataclasses import replace
from decimal import Decimal

import pytest

from assistant.dialogue.machine import Instrument, Profile
from assistant.dialogue.messages import Resumed, Step
from assistant.dialogue.methods import BAR_IN
from assistant.dialogue.phases import Phase
from assistant.dialogue.planner import TRIAL_SHIM
from assistant.dialogue.procedures import safety
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.form import Form
from assistant.dialogue.procedures.head import Head
from assistant.dialogue.procedures.lock import Lock
from assistant.dialogue.procedures.noise import Settling
from assistant.dialogue.procedures.packing import Feet
from assistant.dialogue.procedures.setup import SetUp
from assistant.dialogue.procedures.shim import Bolt
from assistant.dialogue.procedures.sweep import LIFT_EACH, LIFT_TIP, Sweeping
from assistant.dialogue.procedures.tap import Tap
from assistant.dialogue.questions import in_full, offer_now, question
from assistant.metrology.lengths import Length
from grammar.meaning import Command
from tests.dialogue.both_forms import MOST_ANSWERS, MOST_WORDS, played
from tests.dialogue.typed import (
    FRONT_HIGH_SIX,
    HEAD,
    LEVEL,
    LEVER,
    PACKED,
    READY,
    RIGHT_HIGH_SIX,
    SAFE,
    WAY_TO,
    TypedJob,
)


def test_a_typical_job_takes_few_answers_and_words() -> None:
    short, long = played(short=True), played(short=False)
    assert short.job.state.phase is long.job.state.phase is Close.CLOSED
    assert short.answers <= MOST_ANSWERS < long.answers
    assert short.words <= MOST_WORDS < long.words


def test_both_forms_leave_the_same_sweeps_and_shim() -> None:
    def kept(*, short: bool) -> tuple[object, ...]:
        state = played(short=short).job.state
        return [s.answer for s in state.sweeps], state.shims

    assert kept(short=True) == kept(short=False)


def _hands(lines: tuple[str, ...], *, short: bool) -> list[tuple[str, str]]:
    job = TypedJob.begin(short=short)
    found: list[tuple[str, str]] = []
    for line in lines:
        job.say(line)
        found += [(e.do, e.what) for e in job.effects if isinstance(e, Step)]
    return found


def test_what_the_hands_do_is_recorded_alike_in_both_forms() -> None:
    # Bolt and shim are one question in the short form: the record has both steps still.
    long = _hands((*READY, "zeroed", *FRONT_HIGH_SIX, "done", "done", "locked"), short=False)
    brief = ("yes", "locked", "zeroed", *FRONT_HIGH_SIX, "done", "locked")
    assert _hands(brief, short=True) == [step for step in long if step[0] != "set"]


@pytest.mark.parametrize(("profile", "held"), [(Profile(), "table held"), (HEAD, "head supported")])
def test_nothing_that_makes_it_safe_is_left_out(profile: Profile, held: str) -> None:
    asked = TypedJob.begin(profile, short=True).said
    for wanted in ("Unplugged", "key out", "glasses on", held):
        assert wanted in asked
    said = TypedJob.begin(profile, short=True).say("yes")
    assert said.startswith(safety.HAND_ONLY)


def test_no_to_the_one_question_asks_each_by_itself() -> None:
    job = TypedJob.begin(short=True)
    assert job.say("no") == safety.UNPLUGGED
    assert job.say("no").startswith(safety.UNPLUG_FIRST)
    assert job.say("yes") == safety.KEY_OUT
    assert job.say("yes") == safety.TABLE_HELD
    assert job.say("yes").startswith(safety.HAND_ONLY)
    assert job.state.phase is SetUp.SETUP


def test_a_restart_before_anything_was_agreed_to_asks_it_all() -> None:
    job = TypedJob.begin(short=True)
    assert job.post(Resumed("2026-01-05T09:00:00.000Z")) == safety.ALL_SAFE


def test_the_table_is_held_before_its_lock_or_bolt_is_loosened() -> None:
    shim = TypedJob.at(Bolt.BOTH)
    assert "Hold the table. Loosen the bolt. Shim one and a half above the bolt." in shim.said
    assert "Fingers clear" in shim.said
    tap = TypedJob.begin(short=True)
    said = tap.say("yes", "locked", "zeroed", *RIGHT_HIGH_SIX, "plus three")
    assert tap.state.phase is Tap.EASE
    assert "Table held, lock slack?" in said
    head = TypedJob.begin(HEAD, short=True)
    said = head.say("yes", "locked", "zeroed", *RIGHT_HIGH_SIX, "plus three")
    assert head.state.phase is Head.SNUG_UP
    assert "Support the head" in said


def test_short_and_long_can_be_said_at_once() -> None:
    job = TypedJob.begin()
    assert job.hear("short", Command("short")) == safety.ALL_SAFE
    assert job.hear("long", Command("long")) == safety.UNPLUGGED
    assert job.say("short") == safety.ALL_SAFE
    assert not job.say("long", *SAFE, "yes", "locked").startswith("Zeroed?")
    assert job.state.phase is Sweeping.ZERO
    assert job.say("short") == "Zeroed?"


def test_by_voice_they_are_heard_only_where_they_are_offered() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    before = job.state
    assert job.hear("short", Command("short")) == "Not now: short. Right?"
    assert not job.state.short
    assert job.state.readings == before.readings


def test_a_key_changes_the_form_to_and_fro() -> None:
    job = TypedJob.at(Sweeping.ZERO)
    assert job.press("/ .") == "Zeroed?"
    assert job.press("/ .") == f"{LIFT_TIP} Dial to zero at the back. Then Enter."


def test_an_open_question_stays_open_when_the_form_changes() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    asked = job.say("six")
    assert job.say("short") == asked
    assert job.say("plus") == "Right plus six. Front?"


def test_said_again_it_is_said_in_full() -> None:
    job = TypedJob.begin(short=True)
    job.say("yes", "locked", "zeroed", *LEVEL[:3])
    assert job.said == "Left zero. Back?"
    assert job.say("say again") == "Left zero. Back again?"
    assert job.say("zero").endswith("All locked, bar and key out?")
    assert job.say("say again").endswith("Lock all, bar out, key out. Done?")


ANSWERED_BY = {
    "say locked": "locked", "say zeroed": "zeroed", "locked": "locked", "zeroed": "zeroed",
    "done": "done", "yes": "yes", "finish": "yes",
}  # fmt: skip
"""What a question's last words ask for."""


@pytest.mark.parametrize("form", ["long", "short"])
@pytest.mark.parametrize("phase", WAY_TO)
def test_what_a_question_asks_for_is_an_answer_to_it(phase: Phase, form: str) -> None:
    """As it is first asked, and as it is said again."""
    job = TypedJob.at(phase)
    job.say(form)
    for said in (question(job.state), in_full(job.state)):
        for ending, answer in ANSWERED_BY.items():
            if re.search(rf"\b{ending}[.?]$", said, re.IGNORECASE):
                assert answer in offer_now(job.state).commands, said


def test_the_set_up_said_again_has_the_same_answers() -> None:
    job = TypedJob.begin(short=True)
    assert job.say("yes").endswith("All locked?")
    said = job.say("say again")
    assert said.endswith(f"{BAR_IN} Sweep ten inches, within four thou. All locked?")
    job.say("locked")
    assert job.state.phase is Sweeping.ZERO


def test_the_end_can_still_be_put_off() -> None:
    job = TypedJob.begin(short=True)
    job.say("yes", "locked", "zeroed", *LEVEL)
    assert job.state.phase == "close"
    assert job.say("disregard") == "Finish?"
    assert job.state.phase == "decide"


def test_the_set_up_can_be_changed_in_the_short_form() -> None:
    job = TypedJob.begin(short=True)
    said = job.say("yes", "no", "eight inches", "three")
    assert "Spindle checked?" in said or job.state.phase is not SetUp.SETUP
    assert job.state.profile.tolerance == Length.of(3, "thou")


def test_what_the_dial_counts_is_asked_before_the_locks() -> None:
    job = TypedJob.begin(LEVER, short=True)
    assert "locked" not in job.say("yes").lower()
    job.say("yes")
    assert job.state.phase == "sign test"
    job.say("plus")
    assert job.state.phase == "lock"
    assert job.said.endswith("All locked?")


def test_bolt_and_shim_in_one_go_tell_both_before_they_are_done() -> None:
    job = TypedJob.begin(short=True)
    job.say("yes", "locked", "zeroed", *FRONT_HIGH_SIX)
    assert job.state.phase is Bolt.BOTH
    steps = [effect for effect in job.effects if isinstance(effect, Step)]
    assert [step.do for step in steps] == ["loosen", "shim"]
    assert steps[1].total is not None
    job.say("done")
    assert [effect.do for effect in job.effects if isinstance(effect, Step)] == ["tighten"]


def test_what_is_really_in_can_be_told_in_one_go() -> None:
    job = TypedJob.at(Bolt.BOTH)
    said = job.say("shim two above")
    assert said == "Shim two above. Bolt tight, all locked?"
    assert job.state.shims.total == Decimal(2)
    assert job.step is not None
    assert job.say("disregard").startswith("Hold the table.")
    assert job.state.shims.total == 0


@pytest.mark.parametrize(
    ("profile", "phase", "words"),
    [
        (Profile(), Bolt.LOOSEN, TRIAL_SHIM),
        (PACKED, Feet.UNBOLT, TRIAL_SHIM),
        (Profile(), Tap.EASE, "Should leave about zero."),
        (HEAD, Head.SNUG_UP, "Should leave about zero."),
    ],
)
def test_it_is_told_what_a_correction_should_do(profile: Profile, phase: Phase, words: str) -> None:
    assert words in TypedJob.at(phase, profile).said


def test_after_a_trial_it_is_told_what_the_next_shim_should_leave() -> None:
    job = TypedJob.at(Bolt.TIGHTEN)
    said = job.say("locked", "zeroed", "plus two", "plus four and a half", "plus two and a half",
                   "zero")  # fmt: skip
    assert "Should leave about half." in said


def test_by_gaps_of_a_rod_the_sweep_closes_with_its_own_question() -> None:
    job = TypedJob.begin(replace(Profile(), method="gap", instrument=Instrument()), short=True)
    job.say("yes", "locked")
    assert job.state.phase is not Lock.LOCK


def test_a_shim_that_is_skipped_asks_whether_the_bolt_is_still_tight() -> None:
    job = TypedJob.at(Bolt.BOTH)
    assert job.say("skip") == "Bolt still tight?"
    assert job.say("disregard").startswith("Hold the table. Loosen the bolt.")
    job.say("skip")
    # Nothing was loosened: the sweep stands, and the job goes on from it.
    job.say("yes")
    assert job.state.phase is Close.DECIDE
    assert not job.state.loosened
    job = TypedJob.at(Bolt.BOTH)
    job.say("skip")
    assert job.say("no") == "Bolt tight, all locked?"
    assert job.state.loosened
    assert job.state.shims.total == 0
    job.say("locked", "zeroed", *FRONT_HIGH_SIX)
    assert _phase(job) not in (Bolt.BOTH, Bolt.TIGHTEN)
    assert len(job.state.sweeps) == 2


def _phase(job: TypedJob) -> Phase:
    return job.state.phase


def test_whoever_knows_the_job_is_not_sent_to_more_stations_or_to_settling() -> None:
    """The usual machine, its noise only guessed: the long form measures what is missing."""
    lines = ("zeroed", "plus one", "plus two and a half", "plus one", "zero")
    long, short = TypedJob.begin(Profile()), TypedJob.begin(Profile(), short=True)
    long.say(*READY, *lines)
    short.say("yes", "locked", *lines)
    assert _phase(long) in (Form.CORNERS, Settling.SURFACE)
    asked: list[Phase] = []
    for _ in range(12):
        asked.append(_phase(short))
        short.say("no", "done", "skip", "yes", "locked", "zeroed", *LEVEL)
    assert not {Form.CORNERS, Settling.SURFACE} & set(asked)
    # Asked for, it is settled as ever.
    job = TypedJob.begin(Profile(), short=True)
    job.say("yes", "locked", "settle")
    assert _phase(job) is Settling.SURFACE


def test_in_few_words_the_tip_is_lifted_where_a_sweep_may_prove() -> None:
    """Before the first sweep whoever knows the job is not told; after a correction they are."""
    job = TypedJob.begin(short=True)
    assert job.say("yes", "yes", "locked") == "Zeroed?"
    job.say("zeroed", *FRONT_HIGH_SIX)
    assert job.state.phase is Bolt.BOTH
    job.say("done")
    assert job.say("locked") == f"{LIFT_EACH} Zeroed?"
