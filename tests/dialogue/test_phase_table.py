"""Every phase against every command of the vocabulary, and against a called reading."""

from dataclasses import replace
from decimal import Decimal

import pytest

from assistant.dialogue import wording
from assistant.dialogue.job import FOLLOWS, JOB, Job
from assistant.dialogue.messages import MachineChosen
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.form import Form
from assistant.dialogue.procedures.head import Head
from assistant.dialogue.procedures.introduction import Introducing
from assistant.dialogue.procedures.last_time import LastTime
from assistant.dialogue.procedures.noise import Settling
from assistant.dialogue.procedures.packing import Feet
from assistant.dialogue.procedures.setup import SetUp
from assistant.dialogue.procedures.shim import Bolt
from assistant.dialogue.procedures.sign_test import SignTest
from assistant.dialogue.procedures.spindle import Spindle
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.procedures.tap import Tap
from assistant.dialogue.questions import offer, offer_now, question
from assistant.dialogue.readings import AGREEING
from assistant.dialogue.rows import EVERYWHERE, Row
from assistant.dialogue.state import AskCommand
from assistant.dialogue.turn import Outcome
from grammar.meaning import Command, Reading, Shim, Sign
from grammar.numerals import number_words
from grammar.parse import parse
from grammar.scale import Scale
from grammar.sentences import sentences
from grammar.vocabulary import BY_NAME, COMMANDS
from tests.dialogue.transitions import GOLDEN, OPEN, golden_text, outcome, tried
from tests.dialogue.typed import TypedJob, quiet
from tests.grammar.languages import accepts


def test_the_golden_list_is_where_commands_lead() -> None:
    kept = GOLDEN.read_text(encoding="utf-8")
    assert golden_text() == kept, (
        "read the difference, then run: python -m tests.dialogue.transitions"
    )


def test_every_outcome_leads_somewhere() -> None:
    assert set(FOLLOWS) == set(Outcome)


def test_no_phase_has_two_rows_and_every_name_of_a_phase_has_one() -> None:
    ours = [kind for kind in Phase.__subclasses__() if kind.__module__.startswith("assistant.")]
    named = [phase for kind in ours for phase in kind]
    assert set(JOB.table) == set(named)
    assert len(set(map(str, named))) == len(named)
    with pytest.raises(ValueError, match="two rows are of the same phase"):
        Job((*JOB.procedures, JOB.procedures[0]))


def _always_leads_to(phase: Phase, name: str) -> Phase | None:
    """Where a command leads whatever the state, as the row has it."""
    leads = JOB.table[phase].on[name]
    follows = FOLLOWS[leads] if isinstance(leads, Outcome) else leads
    return follows if isinstance(follows, Phase) else None


def _refused(row: Row, name: str, offered: tuple[str, ...]) -> str:
    """What a command that does nothing in this row is told."""
    early = row.phase is not Close.CLOSE and not isinstance(row.phase, Introducing)
    if name == "finish" and early:
        return wording.FINISH_LATER
    takes = row.on_number is not None or row.on_reading is not None
    # At these the dial is read as well as something done.
    taps, moves = (Tap.EASE, Tap.TAP, Tap.TAP_LOCK), (Head.SNUG_UP, Head.MOVE, Head.CLAMP)
    reads = row.phase in (*taps, *moves, Settling.RELOCK)
    number = takes and (offered[0] not in AGREEING or reads)
    if name in (*AGREEING, "no", "finish") and number:
        return wording.wanted(wording.THE_NUMBER, "skip" in offered)
    return wording.not_now(name)


@pytest.mark.parametrize("phase", OPEN)
@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_is_done_or_refused_in_words(phase: Phase, name: str) -> None:
    job = TypedJob.at(phase)
    before, row = job.state, JOB.table[phase]
    offered = name in offer_now(before).commands
    said = job.hear(name, Command(name))
    chosen = any(isinstance(effect, MachineChosen) for effect in job.effects)
    ended = job.state.stopped or job.state.phase is Close.CLOSED or chosen
    assert job.listening is not None or ended
    if not offered:
        instead = {wording.say_instead(other) for other in AGREEING if other != name}
        refused = {_refused(row, name, offer_now(before).commands)}
        # The word that is wanted stands in place of the question, which asks for it, too.
        sign = {wording.wanted(wording.THE_SIGN, skip=True)} if row.on_sign else set()
        words = {*instead, *sign, wording.YES_OR_NO}
        in_words = words if name in (*AGREEING, "no", "finish") else set()
        assert said in {*in_words, *(f"{told} {question(before)}" for told in refused)}
        assert quiet(job.state) == quiet(before)
    elif name in row.on:
        assert "Not now" not in said
        asked = isinstance(job.state.pending, AskCommand)
        assert asked is (name in row.weighty)
        wanted = phase if asked else _always_leads_to(phase, name)
        assert wanted is None or job.state.phase is wanted
        assert chosen <= isinstance(phase, Introducing)
    else:
        assert name in (*EVERYWHERE, *row.wishes)
        if name in row.wishes:
            return
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
    watching = (*Tap, *Head, Settling.RELOCK, Settling.SNUG, Settling.HARD)
    if phase in watching:
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
        # It has no above.
        assert job.hear("shim three", Shim(Decimal(3))).startswith("Shim three under the left.")
        job.state = before
        said = job.hear("shim three above", meaning)
    if phase in (Bolt.SHIM, Bolt.BOTH, LastTime.STILL_IN) and isinstance(meaning, Shim):
        assert said.startswith("Shim three above.")
        return
    if phase is SignTest.SIGN and isinstance(meaning, Sign):
        assert said.startswith("Table high reads plus.")
        return
    assert said.startswith("Not now")
    assert quiet(job.state) == quiet(before)


AT_TIMES: dict[Phase, set[str]] = {
    Sweeping.SWEEP: {"next"},
    Form.CORNERS: {"yes", "no", "done", "finish", "correction"},
    Settling.SURFACE: {"correction"},
    Settling.RELOCK: {"correction"},
}
"""Withheld while they would do nothing: there is nothing to leave or to correct yet."""


@pytest.mark.parametrize("phase", OPEN)
def test_every_phase_listens_for_exactly_its_row(phase: Phase) -> None:
    job = TypedJob.at(phase)
    row = offer(phase, job.state.profile.scale)
    now = offer_now(job.state)
    assert job.listening is not None
    assert job.listening.offer == now
    assert job.listening.phase == phase
    assert now.readings == row.readings
    assert set(row.commands) - set(now.commands) <= AT_TIMES.get(phase, set())


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
    assert outcome(tried(phase, first)) != str(phase)
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
