"""Every phase against every command of the vocabulary, and against a called reading."""

from dataclasses import replace
from decimal import Decimal

import pytest

from assistant.dialogue import prompts
from assistant.dialogue.asking import offer_now, question
from assistant.dialogue.messages import MachineChosen
from assistant.dialogue.phases import EVERYWHERE, INTRODUCTION, TABLE, Phase, offer
from assistant.dialogue.state import AskCommand
from grammar.meaning import Command, Reading, Shim, Sign
from grammar.numerals import number_words
from grammar.parse import parse
from grammar.scale import Scale
from grammar.sentences import accepts, sentences
from grammar.vocabulary import BY_NAME, COMMANDS
from tests.dialogue.typed import TypedJob, quiet

OPEN = [phase for phase in Phase if phase is not Phase.CLOSED]

LEADS_TO: dict[tuple[Phase, str], Phase] = {
    (Phase.WHICH, "yes"): Phase.WHICH,
    (Phase.WHICH, "no"): Phase.KIND,
    (Phase.KIND, "yes"): Phase.WAY,
    (Phase.KIND, "no"): Phase.KIND,
    (Phase.WAY, "yes"): Phase.DIAL_UNIT,
    (Phase.WAY, "no"): Phase.WAY,
    (Phase.WAY, "disregard"): Phase.KIND,
    (Phase.DIAL_UNIT, "yes"): Phase.DIAL_FACE,
    (Phase.DIAL_UNIT, "no"): Phase.DIAL_FACE,
    (Phase.DIAL_UNIT, "disregard"): Phase.WAY,
    (Phase.DIAL_FACE, "yes"): Phase.DIAL_REACH,
    (Phase.DIAL_FACE, "no"): Phase.DIAL_REACH,
    (Phase.DIAL_FACE, "disregard"): Phase.DIAL_UNIT,
    (Phase.SQUARE_AT, "yes"): Phase.SWEEP_SIZE,
    (Phase.SQUARE_AT, "no"): Phase.SQUARE_AT,
    (Phase.SQUARE_AT, "disregard"): Phase.DIAL_UNIT,
    (Phase.DIAL_REACH, "yes"): Phase.SWEEP_SIZE,
    (Phase.DIAL_REACH, "no"): Phase.DIAL_REACH,
    (Phase.DIAL_REACH, "disregard"): Phase.DIAL_FACE,
    (Phase.SWEEP_SIZE, "yes"): Phase.SQUARENESS,
    (Phase.SWEEP_SIZE, "no"): Phase.SWEEP_SIZE,
    (Phase.SWEEP_SIZE, "disregard"): Phase.DIAL_UNIT,
    (Phase.SQUARENESS, "yes"): Phase.SQUARENESS,
    (Phase.SQUARENESS, "no"): Phase.SQUARENESS,
    (Phase.SQUARENESS, "disregard"): Phase.SWEEP_SIZE,
    (Phase.UNPLUGGED, "yes"): Phase.KEY_OUT,
    (Phase.UNPLUGGED, "no"): Phase.UNPLUGGED,
    (Phase.KEY_OUT, "yes"): Phase.TABLE_HELD,
    (Phase.KEY_OUT, "no"): Phase.KEY_OUT,
    (Phase.KEY_OUT, "disregard"): Phase.UNPLUGGED,
    (Phase.TABLE_HELD, "yes"): Phase.SETUP,
    (Phase.TABLE_HELD, "no"): Phase.TABLE_HELD,
    (Phase.TABLE_HELD, "disregard"): Phase.KEY_OUT,
    (Phase.SETUP, "yes"): Phase.LOCK,
    (Phase.SETUP, "no"): Phase.DIAMETER,
    (Phase.SETUP, "disregard"): Phase.TABLE_HELD,
    (Phase.DIAMETER, "skip"): Phase.TOLERANCE,
    (Phase.DIAMETER, "disregard"): Phase.SETUP,
    (Phase.TOLERANCE, "skip"): Phase.SPINDLE,
    (Phase.TOLERANCE, "disregard"): Phase.DIAMETER,
    (Phase.SIGN, "skip"): Phase.LOCK,
    (Phase.SIGN, "disregard"): Phase.SETUP,
    (Phase.SPINDLE, "yes"): Phase.SETUP,
    (Phase.SPINDLE, "no"): Phase.RUNOUT,
    (Phase.SPINDLE, "disregard"): Phase.TOLERANCE,
    (Phase.RUNOUT, "skip"): Phase.SHAKE,
    (Phase.RUNOUT, "disregard"): Phase.SPINDLE,
    (Phase.RUNOUT_SIDE, "yes"): Phase.SHAKE,
    (Phase.RUNOUT_SIDE, "no"): Phase.SHAKE,
    (Phase.RUNOUT_SIDE, "skip"): Phase.SHAKE,
    (Phase.RUNOUT_SIDE, "disregard"): Phase.RUNOUT,
    (Phase.SHAKE, "skip"): Phase.END_PLAY,
    (Phase.SHAKE, "disregard"): Phase.RUNOUT,
    (Phase.END_PLAY, "skip"): Phase.QUILL,
    (Phase.END_PLAY, "disregard"): Phase.SHAKE,
    (Phase.QUILL, "skip"): Phase.SETUP,
    (Phase.QUILL, "disregard"): Phase.END_PLAY,
    (Phase.LOCK, "locked"): Phase.ZERO,
    (Phase.LOCK, "settle"): Phase.SURFACE,
    (Phase.LOCK, "disregard"): Phase.SETUP,
    (Phase.SURFACE, "done"): Phase.SURFACE,
    (Phase.SURFACE, "skip"): Phase.RELOCK,
    (Phase.SURFACE, "disregard"): Phase.LOCK,
    (Phase.RELOCK, "done"): Phase.RELOCK,
    (Phase.RELOCK, "skip"): Phase.SNUG,
    (Phase.RELOCK, "disregard"): Phase.SURFACE,
    (Phase.SNUG, "skip"): Phase.LOCK,
    (Phase.SNUG, "disregard"): Phase.RELOCK,
    (Phase.HARD, "skip"): Phase.LOCK,
    (Phase.HARD, "disregard"): Phase.SNUG,
    (Phase.TOUCH_FIRST, "skip"): Phase.DECIDE,
    (Phase.TOUCH_FIRST, "disregard"): Phase.LOCK,
    (Phase.TOUCH_SECOND, "skip"): Phase.LOOSEN,
    (Phase.TOUCH_SECOND, "disregard"): Phase.TOUCH_FIRST,
    (Phase.TOUCH_LAST, "yes"): Phase.LOOSEN,
    (Phase.TOUCH_LAST, "no"): Phase.TOUCH_FIRST,
    (Phase.TOUCH_LAST, "disregard"): Phase.TOUCH_SECOND,
    (Phase.ROD, "done"): Phase.SWEEP,
    (Phase.ROD, "settle"): Phase.SURFACE,
    (Phase.ROD, "disregard"): Phase.LOCK,
    (Phase.ZERO, "zeroed"): Phase.SWEEP,
    (Phase.ZERO, "settle"): Phase.SURFACE,
    (Phase.ZERO, "disregard"): Phase.LOCK,
    (Phase.SWEEP, "correction"): Phase.SWEEP,
    (Phase.SWEEP, "disregard"): Phase.ZERO,
    (Phase.AFRESH, "yes"): Phase.ZERO,
    (Phase.AFRESH, "no"): Phase.FORM,
    (Phase.AFRESH, "disregard"): Phase.SWEEP,
    (Phase.AGAIN, "yes"): Phase.LOCK_AGAIN,
    (Phase.AGAIN, "no"): Phase.LOOSEN,
    (Phase.AGAIN, "disregard"): Phase.SWEEP,
    (Phase.REFIT, "done"): Phase.LOCK_AGAIN,
    (Phase.REFIT, "skip"): Phase.LOCK_AGAIN,
    (Phase.REFIT, "disregard"): Phase.AGAIN,
    (Phase.LOCK_AGAIN, "locked"): Phase.ZERO,
    (Phase.LOCK_AGAIN, "disregard"): Phase.AGAIN,
    (Phase.DECIDE, "yes"): Phase.CLOSE,
    (Phase.DECIDE, "no"): Phase.OTHER,
    (Phase.DECIDE, "finish"): Phase.CLOSE,
    (Phase.DECIDE, "disregard"): Phase.SWEEP,
    (Phase.LOOSEN, "done"): Phase.SHIM,
    (Phase.LOOSEN, "skip"): Phase.LOOSEN,
    (Phase.LOOSEN, "finish"): Phase.LOOSEN,
    (Phase.LOOSEN, "disregard"): Phase.SWEEP,
    (Phase.SHIM, "done"): Phase.TIGHTEN,
    (Phase.SHIM, "skip"): Phase.SHIM,
    (Phase.SHIM, "disregard"): Phase.LOOSEN,
    (Phase.TIGHTEN, "locked"): Phase.ZERO,
    (Phase.TIGHTEN, "disregard"): Phase.SHIM,
    (Phase.EASE, "done"): Phase.TAP,
    (Phase.EASE, "skip"): Phase.EASE,
    (Phase.EASE, "finish"): Phase.EASE,
    (Phase.EASE, "disregard"): Phase.SWEEP,
    (Phase.TAP, "done"): Phase.TAP_LOCK,
    (Phase.TAP, "disregard"): Phase.EASE,
    (Phase.TAP_LOCK, "locked"): Phase.ZERO,
    (Phase.TAP_LOCK, "disregard"): Phase.TAP,
    (Phase.PIN, "done"): Phase.LOOSEN,
    (Phase.PIN, "disregard"): Phase.SWEEP,
    (Phase.SNUG_UP, "done"): Phase.MOVE,
    (Phase.SNUG_UP, "skip"): Phase.SNUG_UP,
    (Phase.SNUG_UP, "finish"): Phase.SNUG_UP,
    (Phase.SNUG_UP, "disregard"): Phase.SWEEP,
    (Phase.MOVE, "done"): Phase.CLAMP,
    (Phase.MOVE, "disregard"): Phase.SNUG_UP,
    (Phase.CLAMP, "locked"): Phase.ZERO,
    (Phase.CLAMP, "disregard"): Phase.MOVE,
    (Phase.UNBOLT, "done"): Phase.PACK,
    (Phase.UNBOLT, "skip"): Phase.UNBOLT,
    (Phase.UNBOLT, "finish"): Phase.UNBOLT,
    (Phase.UNBOLT, "disregard"): Phase.SWEEP,
    (Phase.PACK, "done"): Phase.BOLT_DOWN,
    (Phase.PACK, "disregard"): Phase.UNBOLT,
    (Phase.BOLT_DOWN, "locked"): Phase.ZERO,
    (Phase.BOLT_DOWN, "disregard"): Phase.PACK,
    (Phase.OTHER, "yes"): Phase.MOVE_TABLE,
    (Phase.OTHER, "no"): Phase.FORM,
    (Phase.OTHER, "disregard"): Phase.DECIDE,
    (Phase.MOVE_TABLE, "locked"): Phase.ZERO,
    (Phase.MOVE_TABLE, "disregard"): Phase.OTHER,
    (Phase.FORM, "yes"): Phase.CORNERS,
    (Phase.FORM, "no"): Phase.DECIDE,
    (Phase.FORM, "disregard"): Phase.OTHER,
    (Phase.CORNERS, "skip"): Phase.DECIDE,
    (Phase.CORNERS, "disregard"): Phase.FORM,
    (Phase.HOLLOW, "skip"): Phase.DECIDE,
    (Phase.HOLLOW, "disregard"): Phase.CORNERS,
    (Phase.CLOSE, "done"): Phase.CLOSED,
    (Phase.CLOSE, "disregard"): Phase.DECIDE,
}
"""Each phase's own commands and where they lead, from a job that came straight there."""

ASKED_FIRST = {
    (Phase.LOOSEN, "skip"), (Phase.LOOSEN, "finish"),
    (Phase.EASE, "skip"), (Phase.EASE, "finish"), (Phase.SHIM, "skip"),
    (Phase.SNUG_UP, "skip"), (Phase.SNUG_UP, "finish"),
    (Phase.UNBOLT, "skip"), (Phase.UNBOLT, "finish"),
}  # fmt: skip


CHOOSES = {(Phase.WHICH, "yes"), (Phase.SQUARENESS, "yes")}
"""The machine is known: its job begins, of which these tests know nothing."""


def _chosen(job: TypedJob) -> bool:
    return any(isinstance(effect, MachineChosen) for effect in job.effects)


def test_the_list_above_is_the_whole_table() -> None:
    rows = {(phase, name) for phase, row in TABLE.items() for name in row.commands}
    # "Next" has its own test: it is offered only while a reading is asked again.
    assert rows - {(Phase.SWEEP, "next")} == set(LEADS_TO)


@pytest.mark.parametrize("phase", OPEN)
@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_is_done_or_refused_in_words(phase: Phase, name: str) -> None:
    job = TypedJob.at(phase)
    before = job.state
    offered = name in offer_now(before).commands
    said = job.hear(name, Command(name))
    ended = job.state.stopped or job.state.phase is Phase.CLOSED or _chosen(job)
    assert job.listening is not None or ended
    if not offered:
        assert said == f"{prompts.not_now(name)} {question(before)}"
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
    job = TypedJob.at(Phase.CLOSED)
    before = job.state
    job.hear(name, Command(name))
    assert job.state == before
    assert job.effects == ()


@pytest.mark.parametrize("phase", OPEN)
def test_a_reading_is_taken_only_where_it_can_be_true(phase: Phase) -> None:
    job = TypedJob.at(phase)
    before = job.state
    said = job.hear("front plus three", Reading(Decimal(3), True, "front"))
    if phase is Phase.SWEEP:
        assert said.startswith("Front plus three.")
        assert job.values()["front"] == 3
        return
    if phase is Phase.SURFACE:
        assert said == prompts.noted(Decimal(3))
        assert job.state.settling == (Decimal(3),)
        return
    if phase is Phase.SIGN:
        assert said.startswith("Table high reads plus.")
        return
    if phase in (Phase.RUNOUT, Phase.SHAKE, Phase.END_PLAY, Phase.QUILL):
        three = job.state.spindle
        assert Decimal(3) in (three.near, three.shake, three.lifted, three.back)
        return
    if phase in (Phase.TAP, Phase.MOVE, Phase.CLAMP, Phase.RELOCK, Phase.SNUG, Phase.HARD):
        assert said.startswith(prompts.watch_this("right"))
    elif TABLE[phase].loose:
        assert said.startswith(prompts.NOT_WHILE_LOOSE)
    elif phase is Phase.ZERO:
        assert said.startswith(prompts.NOT_ZEROED)
    if phase not in (Phase.DIAMETER, Phase.TOLERANCE, *INTRODUCTION):
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
    if phase is Phase.PACK and isinstance(meaning, Shim):
        assert said.startswith("Shim three under the left.")
        return
    if phase is Phase.SHIM and isinstance(meaning, Shim):
        assert said.startswith("Shim three above.")
        return
    if phase is Phase.SIGN and isinstance(meaning, Sign):
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
    job = TypedJob.at(Phase.SWEEP)
    assert "next" not in offer_now(job.state).commands
    job.say("plus three", "correction")
    assert "next" in offer_now(job.state).commands
    assert job.say("next") == "Front?"
    assert job.values()["right"] == 3


@pytest.mark.parametrize("phase", [phase for phase in OPEN if phase is not Phase.SWEEP])
def test_the_first_command_carries_the_job_on(phase: Phase) -> None:
    first = TABLE[phase].commands[0]
    if phase in (Phase.SURFACE, Phase.RELOCK):
        # "Done" wants three readings first; without them it says so and stays.
        assert first == "done"
        return
    assert LEADS_TO[phase, first] is not phase or (phase, first) in CHOOSES
    assert "enter" in BY_NAME[first].key or first == "skip"


def test_what_can_be_said_everywhere_can_be_said_before_stopping() -> None:
    job = TypedJob.at(Phase.SWEEP)
    asked = job.say("stop")
    assert job.say("say again") == asked
    for name in ("help", "status"):
        assert "Not now" not in job.say(name)
    assert job.say("stop").endswith(asked)
    assert job.say("yes") == prompts.STOPPED


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
