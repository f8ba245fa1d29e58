"""Every phase against every command of the vocabulary, and against a called reading."""

from dataclasses import replace
from decimal import Decimal

import pytest

from assistant.dialogue import wording
from assistant.dialogue.job import JOB
from assistant.dialogue.messages import MachineChosen
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.form import Form
from assistant.dialogue.procedures.gap import Gap
from assistant.dialogue.procedures.head import Head
from assistant.dialogue.procedures.heights import Heights
from assistant.dialogue.procedures.introduction import Introducing
from assistant.dialogue.procedures.lock import Lock
from assistant.dialogue.procedures.noise import Settling
from assistant.dialogue.procedures.packing import Feet
from assistant.dialogue.procedures.pin import Pin
from assistant.dialogue.procedures.repeat import Repeat
from assistant.dialogue.procedures.safety import Safety
from assistant.dialogue.procedures.setup import SetUp
from assistant.dialogue.procedures.shim import Bolt
from assistant.dialogue.procedures.sign_test import SignTest
from assistant.dialogue.procedures.spindle import Spindle
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.procedures.tap import Tap
from assistant.dialogue.procedures.touch import Touching
from assistant.dialogue.questions import offer, offer_now, question
from assistant.dialogue.rows import EVERYWHERE
from assistant.dialogue.state import AskCommand
from grammar.meaning import Command, Reading, Shim, Sign
from grammar.numerals import number_words
from grammar.parse import parse
from grammar.scale import Scale
from grammar.sentences import accepts, sentences
from grammar.vocabulary import BY_NAME, COMMANDS
from tests.dialogue.typed import TypedJob, quiet

OPEN = [phase for phase in JOB.table if phase is not Close.CLOSED]

LEADS_TO: dict[tuple[Phase, str], Phase] = {
    (Introducing.WHICH, "yes"): Introducing.WHICH,
    (Introducing.WHICH, "no"): Introducing.KIND,
    (Introducing.KIND, "yes"): Introducing.WAY,
    (Introducing.KIND, "no"): Introducing.KIND,
    (Introducing.WAY, "yes"): Introducing.DIAL_UNIT,
    (Introducing.WAY, "no"): Introducing.WAY,
    (Introducing.WAY, "disregard"): Introducing.KIND,
    (Introducing.DIAL_UNIT, "yes"): Introducing.DIAL_FACE,
    (Introducing.DIAL_UNIT, "no"): Introducing.DIAL_FACE,
    (Introducing.DIAL_UNIT, "disregard"): Introducing.WAY,
    (Introducing.DIAL_FACE, "yes"): Introducing.DIAL_REACH,
    (Introducing.DIAL_FACE, "no"): Introducing.DIAL_REACH,
    (Introducing.DIAL_FACE, "disregard"): Introducing.DIAL_UNIT,
    (Introducing.SQUARE_AT, "yes"): Introducing.SWEEP_SIZE,
    (Introducing.SQUARE_AT, "no"): Introducing.SQUARE_AT,
    (Introducing.SQUARE_AT, "disregard"): Introducing.DIAL_UNIT,
    (Introducing.DIAL_REACH, "yes"): Introducing.SWEEP_SIZE,
    (Introducing.DIAL_REACH, "no"): Introducing.DIAL_REACH,
    (Introducing.DIAL_REACH, "disregard"): Introducing.DIAL_FACE,
    (Introducing.SWEEP_SIZE, "yes"): Introducing.SQUARENESS,
    (Introducing.SWEEP_SIZE, "no"): Introducing.SWEEP_SIZE,
    (Introducing.SWEEP_SIZE, "disregard"): Introducing.DIAL_UNIT,
    (Introducing.SQUARENESS, "yes"): Introducing.SQUARENESS,
    (Introducing.SQUARENESS, "no"): Introducing.SQUARENESS,
    (Introducing.SQUARENESS, "disregard"): Introducing.SWEEP_SIZE,
    (Safety.UNPLUGGED, "yes"): Safety.KEY_OUT,
    (Safety.UNPLUGGED, "no"): Safety.UNPLUGGED,
    (Safety.KEY_OUT, "yes"): Safety.TABLE_HELD,
    (Safety.KEY_OUT, "no"): Safety.KEY_OUT,
    (Safety.KEY_OUT, "disregard"): Safety.UNPLUGGED,
    (Safety.TABLE_HELD, "yes"): SetUp.SETUP,
    (Safety.TABLE_HELD, "no"): Safety.TABLE_HELD,
    (Safety.TABLE_HELD, "disregard"): Safety.KEY_OUT,
    (SetUp.SETUP, "yes"): Lock.LOCK,
    (SetUp.SETUP, "no"): SetUp.DIAMETER,
    (SetUp.SETUP, "disregard"): Safety.TABLE_HELD,
    (SetUp.DIAMETER, "skip"): SetUp.TOLERANCE,
    (SetUp.DIAMETER, "disregard"): SetUp.SETUP,
    (SetUp.TOLERANCE, "skip"): Spindle.SPINDLE,
    (SetUp.TOLERANCE, "disregard"): SetUp.DIAMETER,
    (SignTest.SIGN, "skip"): Lock.LOCK,
    (SignTest.SIGN, "disregard"): SetUp.SETUP,
    (Spindle.SPINDLE, "yes"): SetUp.SETUP,
    (Spindle.SPINDLE, "no"): Spindle.RUNOUT,
    (Spindle.SPINDLE, "disregard"): SetUp.TOLERANCE,
    (Spindle.RUNOUT, "skip"): Spindle.SHAKE,
    (Spindle.RUNOUT, "disregard"): Spindle.SPINDLE,
    (Spindle.RUNOUT_SIDE, "yes"): Spindle.SHAKE,
    (Spindle.RUNOUT_SIDE, "no"): Spindle.SHAKE,
    (Spindle.RUNOUT_SIDE, "skip"): Spindle.SHAKE,
    (Spindle.RUNOUT_SIDE, "disregard"): Spindle.RUNOUT,
    (Spindle.SHAKE, "skip"): Spindle.END_PLAY,
    (Spindle.SHAKE, "disregard"): Spindle.RUNOUT,
    (Spindle.END_PLAY, "skip"): Spindle.QUILL,
    (Spindle.END_PLAY, "disregard"): Spindle.SHAKE,
    (Spindle.QUILL, "skip"): SetUp.SETUP,
    (Spindle.QUILL, "disregard"): Spindle.END_PLAY,
    (Lock.LOCK, "locked"): Sweeping.ZERO,
    (Lock.LOCK, "settle"): Settling.SURFACE,
    (Lock.LOCK, "disregard"): SetUp.SETUP,
    (Settling.SURFACE, "done"): Settling.SURFACE,
    (Settling.SURFACE, "skip"): Settling.RELOCK,
    (Settling.SURFACE, "disregard"): Lock.LOCK,
    (Settling.RELOCK, "done"): Settling.RELOCK,
    (Settling.RELOCK, "skip"): Settling.SNUG,
    (Settling.RELOCK, "disregard"): Settling.SURFACE,
    (Settling.SNUG, "skip"): Lock.LOCK,
    (Settling.SNUG, "disregard"): Settling.RELOCK,
    (Settling.HARD, "skip"): Lock.LOCK,
    (Settling.HARD, "disregard"): Settling.SNUG,
    (Touching.FIRST, "skip"): Close.DECIDE,
    (Touching.FIRST, "disregard"): Lock.LOCK,
    (Touching.SECOND, "skip"): Bolt.LOOSEN,
    (Touching.SECOND, "disregard"): Touching.FIRST,
    (Touching.LAST, "yes"): Bolt.LOOSEN,
    (Touching.LAST, "no"): Touching.FIRST,
    (Touching.LAST, "disregard"): Touching.SECOND,
    (Gap.ROD, "done"): Sweeping.SWEEP,
    (Gap.ROD, "settle"): Settling.SURFACE,
    (Gap.ROD, "disregard"): Lock.LOCK,
    (Sweeping.ZERO, "zeroed"): Sweeping.SWEEP,
    (Sweeping.ZERO, "settle"): Settling.SURFACE,
    (Sweeping.ZERO, "disregard"): Lock.LOCK,
    (Sweeping.SWEEP, "correction"): Sweeping.SWEEP,
    (Sweeping.SWEEP, "disregard"): Sweeping.ZERO,
    (Repeat.AFRESH, "yes"): Sweeping.ZERO,
    (Repeat.AFRESH, "no"): Form.FORM,
    (Repeat.AFRESH, "disregard"): Sweeping.SWEEP,
    (Repeat.AGAIN, "yes"): Repeat.LOCK_AGAIN,
    (Repeat.AGAIN, "no"): Bolt.LOOSEN,
    (Repeat.AGAIN, "disregard"): Sweeping.SWEEP,
    (Repeat.REFIT, "done"): Repeat.LOCK_AGAIN,
    (Repeat.REFIT, "skip"): Repeat.LOCK_AGAIN,
    (Repeat.REFIT, "disregard"): Repeat.AGAIN,
    (Repeat.LOCK_AGAIN, "locked"): Sweeping.ZERO,
    (Repeat.LOCK_AGAIN, "disregard"): Repeat.AGAIN,
    (Close.DECIDE, "yes"): Close.CLOSE,
    (Close.DECIDE, "no"): Heights.OTHER,
    (Close.DECIDE, "finish"): Close.CLOSE,
    (Close.DECIDE, "disregard"): Sweeping.SWEEP,
    (Bolt.LOOSEN, "done"): Bolt.SHIM,
    (Bolt.LOOSEN, "skip"): Bolt.LOOSEN,
    (Bolt.LOOSEN, "finish"): Bolt.LOOSEN,
    (Bolt.LOOSEN, "disregard"): Sweeping.SWEEP,
    (Bolt.SHIM, "done"): Bolt.TIGHTEN,
    (Bolt.SHIM, "skip"): Bolt.SHIM,
    (Bolt.SHIM, "disregard"): Bolt.LOOSEN,
    (Bolt.TIGHTEN, "locked"): Sweeping.ZERO,
    (Bolt.TIGHTEN, "disregard"): Bolt.SHIM,
    (Tap.EASE, "done"): Tap.TAP,
    (Tap.EASE, "skip"): Tap.EASE,
    (Tap.EASE, "finish"): Tap.EASE,
    (Tap.EASE, "disregard"): Sweeping.SWEEP,
    (Tap.TAP, "done"): Tap.TAP_LOCK,
    (Tap.TAP, "disregard"): Tap.EASE,
    (Tap.TAP_LOCK, "locked"): Sweeping.ZERO,
    (Tap.TAP_LOCK, "disregard"): Tap.TAP,
    (Pin.PIN, "done"): Bolt.LOOSEN,
    (Pin.PIN, "disregard"): Sweeping.SWEEP,
    (Head.SNUG_UP, "done"): Head.MOVE,
    (Head.SNUG_UP, "skip"): Head.SNUG_UP,
    (Head.SNUG_UP, "finish"): Head.SNUG_UP,
    (Head.SNUG_UP, "disregard"): Sweeping.SWEEP,
    (Head.MOVE, "done"): Head.CLAMP,
    (Head.MOVE, "disregard"): Head.SNUG_UP,
    (Head.CLAMP, "locked"): Sweeping.ZERO,
    (Head.CLAMP, "disregard"): Head.MOVE,
    (Feet.UNBOLT, "done"): Feet.PACK,
    (Feet.UNBOLT, "skip"): Feet.UNBOLT,
    (Feet.UNBOLT, "finish"): Feet.UNBOLT,
    (Feet.UNBOLT, "disregard"): Sweeping.SWEEP,
    (Feet.PACK, "done"): Feet.BOLT_DOWN,
    (Feet.PACK, "disregard"): Feet.UNBOLT,
    (Feet.BOLT_DOWN, "locked"): Sweeping.ZERO,
    (Feet.BOLT_DOWN, "disregard"): Feet.PACK,
    (Heights.OTHER, "yes"): Heights.MOVE_TABLE,
    (Heights.OTHER, "no"): Form.FORM,
    (Heights.OTHER, "disregard"): Close.DECIDE,
    (Heights.MOVE_TABLE, "locked"): Sweeping.ZERO,
    (Heights.MOVE_TABLE, "disregard"): Heights.OTHER,
    (Form.FORM, "yes"): Form.CORNERS,
    (Form.FORM, "no"): Close.DECIDE,
    (Form.FORM, "disregard"): Heights.OTHER,
    (Form.CORNERS, "skip"): Close.DECIDE,
    (Form.CORNERS, "disregard"): Form.FORM,
    (Form.HOLLOW, "skip"): Close.DECIDE,
    (Form.HOLLOW, "disregard"): Form.CORNERS,
    (Close.CLOSE, "done"): Close.CLOSED,
    (Close.CLOSE, "disregard"): Close.DECIDE,
}
"""Each phase's own commands and where they lead, from a job that came straight there."""

ASKED_FIRST = {
    (Bolt.LOOSEN, "skip"), (Bolt.LOOSEN, "finish"),
    (Tap.EASE, "skip"), (Tap.EASE, "finish"), (Bolt.SHIM, "skip"),
    (Head.SNUG_UP, "skip"), (Head.SNUG_UP, "finish"),
    (Feet.UNBOLT, "skip"), (Feet.UNBOLT, "finish"),
}  # fmt: skip


CHOOSES = {(Introducing.WHICH, "yes"), (Introducing.SQUARENESS, "yes")}
"""The machine is known: its job begins, of which these tests know nothing."""


def _chosen(job: TypedJob) -> bool:
    return any(isinstance(effect, MachineChosen) for effect in job.effects)


def test_the_list_above_is_the_whole_table() -> None:
    rows = {(phase, name) for phase, row in JOB.table.items() for name in row.commands}
    # "Next" has its own test: it is offered only while a reading is asked again.
    assert rows - {(Sweeping.SWEEP, "next")} == set(LEADS_TO)


@pytest.mark.parametrize("phase", OPEN)
@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_is_done_or_refused_in_words(phase: Phase, name: str) -> None:
    job = TypedJob.at(phase)
    before = job.state
    offered = name in offer_now(before).commands
    said = job.hear(name, Command(name))
    ended = job.state.stopped or job.state.phase is Close.CLOSED or _chosen(job)
    assert job.listening is not None or ended
    if not offered:
        assert said == f"{wording.not_now(name)} {question(before)}"
        assert quiet(job.state) == quiet(before)
    elif (phase, name) in LEADS_TO:
        assert job.state.phase is LEADS_TO[phase, name]
        assert "Not now" not in said
        assert _chosen(job) is ((phase, name) in CHOOSES)
        asked = isinstance(job.state.pending, AskCommand)
        assert asked is ((phase, name) in ASKED_FIRST)
    else:
        assert name in EVERYWHERE
        assert job.state.phase is phase
        assert said
        assert "Not now" not in said


@pytest.mark.parametrize("name", COMMANDS)
def test_a_closed_job_answers_nothing(name: str) -> None:
    job = TypedJob.at(Close.CLOSED)
    before = job.state
    job.hear(name, Command(name))
    assert job.state == before
    assert job.effects == ()


@pytest.mark.parametrize("phase", OPEN)
def test_a_reading_is_taken_only_where_it_can_be_true(phase: Phase) -> None:
    job = TypedJob.at(phase)
    before = job.state
    said = job.hear("front plus three", Reading(Decimal(3), True, "front"))
    if phase is Sweeping.SWEEP:
        assert said.startswith("Front plus three.")
        assert job.values()["front"] == 3
        return
    if phase is Settling.SURFACE:
        assert said == wording.noted(Decimal(3))
        assert job.state.settling == (Decimal(3),)
        return
    if phase is SignTest.SIGN:
        assert said.startswith("Table high reads plus.")
        return
    if phase in (Spindle.RUNOUT, Spindle.SHAKE, Spindle.END_PLAY, Spindle.QUILL):
        three = job.state.spindle
        assert Decimal(3) in (three.near, three.shake, three.lifted, three.back)
        return
    if phase in (Tap.TAP, Head.MOVE, Head.CLAMP, Settling.RELOCK, Settling.SNUG, Settling.HARD):
        assert said.startswith(wording.watch_this("right"))
    elif JOB.table[phase].loose:
        assert said.startswith(wording.NOT_WHILE_LOOSE)
    elif phase is Sweeping.ZERO:
        assert said.startswith(wording.NOT_ZEROED)
    if phase not in (SetUp.DIAMETER, SetUp.TOLERANCE, *Introducing):
        assert quiet(job.state) == quiet(before)
    assert job.state.readings == before.readings


@pytest.mark.parametrize("phase", OPEN)
@pytest.mark.parametrize("meaning", [Sign("plus"), Shim(Decimal(3), "above")])
def test_a_sign_or_a_shim_does_nothing_where_it_is_not_asked_for(
    phase: Phase, meaning: Sign | Shim
) -> None:
    job = TypedJob.at(phase)
    before = job.state
    said = job.hear("plus" if isinstance(meaning, Sign) else "shim three above", meaning)
    if phase is Feet.PACK and isinstance(meaning, Shim):
        assert said.startswith("Shim three under the left.")
        return
    if phase is Bolt.SHIM and isinstance(meaning, Shim):
        assert said.startswith("Shim three above.")
        return
    if phase is SignTest.SIGN and isinstance(meaning, Sign):
        assert said.startswith("Table high reads plus.")
        return
    assert said.startswith("Not now")
    assert quiet(job.state) == quiet(before)


@pytest.mark.parametrize("phase", OPEN)
def test_every_phase_listens_for_exactly_its_row(phase: Phase) -> None:
    job = TypedJob.at(phase)
    row = offer(phase, job.state.profile.scale)
    now = offer_now(job.state)
    assert job.listening is not None
    assert job.listening.offer == now
    assert job.listening.phase == phase
    assert now.readings == row.readings
    assert set(row.commands) - set(now.commands) <= {"next"}


def test_next_is_offered_while_a_reading_is_asked_again_and_leaves_it() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    assert "next" not in offer_now(job.state).commands
    job.say("plus three", "correction")
    assert "next" in offer_now(job.state).commands
    assert job.say("next") == "Front?"
    assert job.values()["right"] == 3


@pytest.mark.parametrize("phase", [phase for phase in OPEN if phase is not Sweeping.SWEEP])
def test_the_first_command_carries_the_job_on(phase: Phase) -> None:
    first = JOB.table[phase].commands[0]
    if phase in (Settling.SURFACE, Settling.RELOCK):
        # "Done" wants three readings first; without them it says so and stays.
        assert first == "done"
        return
    assert LEADS_TO[phase, first] is not phase or (phase, first) in CHOOSES
    assert "enter" in BY_NAME[first].key or first == "skip"


def test_what_can_be_said_everywhere_can_be_said_before_stopping() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    asked = job.say("stop")
    assert job.say("say again") == asked
    for name in ("help", "status"):
        assert "Not now" not in job.say(name)
    assert job.say("stop").endswith(asked)
    assert job.say("yes") == wording.STOPPED


@pytest.mark.parametrize(
    ("step", "shown"), [("1", ""), ("0.5", "5"), ("0.25", "5"), ("0.1", "123456789")]
)
def test_in_every_phase_a_voice_may_call_the_tenths_that_the_dial_shows(
    step: str, shown: str
) -> None:
    """Against the dial itself: a tenth of a thou is on it where its step divides it."""
    scale = Scale("thou", 30, Decimal(step))
    for phase in OPEN:
        job = TypedJob.at(phase)
        job.state = replace(job.state, profile=replace(job.state.profile, scale=scale))
        offer = offer_now(job.state)
        tree = sentences(offer)
        plain = "minus " if offer.signed else ""
        for tenths in range(1, 10):
            said = f"{plain}{number_words(Decimal(tenths))} tenths"
            wanted = offer.readings and str(tenths) in shown
            assert accepts(tree, said) == wanted, (phase, said)
            assert offer.allows(parse(said, scale)) == wanted, (phase, said)
            if offer.shim:
                assert accepts(tree, f"shim {said.removeprefix(plain)}") == (str(tenths) in shown)
