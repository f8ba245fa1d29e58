"""Ordinary wishes, at any time: what they say, what they change, what they leave alone."""

from dataclasses import replace
from decimal import Decimal

import pytest

from assistant.devices.text.lines import event_of
from assistant.dialogue import pending, wishes, wording
from assistant.dialogue.job import JOB
from assistant.dialogue.messages import Heard, KeyPressed, Resumed, Tuned
from assistant.dialogue.phases import Phase
from assistant.dialogue.planner import FOUR_MORE
from assistant.dialogue.procedures import setup
from assistant.dialogue.procedures import sweep as sweeping
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.form import Form
from assistant.dialogue.procedures.introduction import Introducing
from assistant.dialogue.procedures.noise import Settling
from assistant.dialogue.procedures.safety import Safety
from assistant.dialogue.procedures.setup import SetUp
from assistant.dialogue.procedures.shim import Bolt
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.procedures.tap import HOLD_AND_SLACK, Tap
from assistant.dialogue.questions import offer_now, question
from assistant.dialogue.step import step
from assistant.dialogue.wording import THE_NUMBER, wanted
from assistant.metrology.lengths import Length
from grammar.meaning import Command, Reading, Wish
from grammar.offer import everything
from grammar.parse import LONGEST_NOTE, parse
from grammar.say import words
from grammar.scale import Scale
from grammar.sentences import sentences, words_of
from tests.dialogue.typed import AT, FRONT_HIGH_SIX, LEVEL, NEAR_LIMIT, READY, WORN, TypedJob

IN_A_JOB = [
    phase for phase in JOB.table if phase is not Close.CLOSED and not isinstance(phase, Introducing)
]


@pytest.fixture
def half() -> TypedJob:
    job = TypedJob.at(Sweeping.SWEEP)
    job.say("plus three", "minus five")
    return job


def test_a_reading_is_read_back_without_being_touched(half: TypedJob) -> None:
    before = half.state.readings
    assert half.say("what was the right") == "Right plus three. Left?"
    assert half.say("what was rear") == "Back not read yet. Left?"
    assert half.say("read back") == "Right plus three. Front minus five. Left?"
    assert half.press("/ *") == "Right plus three. Front minus five. Left?"
    assert half.state.readings == before


def test_after_the_sweep_its_readings_are_read_back() -> None:
    job = TypedJob.at(Bolt.LOOSEN)
    assert job.say("what was the front").startswith("Front plus six. Hold the table.")
    said = job.say("read back")
    assert said.startswith("Right plus three. Front plus six. Left plus three. Back zero. ")


def test_nothing_is_read_back_before_anything_was_read() -> None:
    job = TypedJob.at(Sweeping.ZERO)
    assert job.say("read back").startswith(wishes.NOTHING_READ)
    assert job.say("how far off").startswith(wishes.NO_RESULT)
    assert job.say("which way").startswith(wishes.NO_RESULT)


def test_several_readings_are_taken_back_the_last_first(half: TypedJob) -> None:
    said = half.say("take back two")
    assert said == "Front taken back. Right taken back. Right?"
    assert half.values() == {"back": Decimal(0)}
    assert [gone.taken.station for gone in half.state.undone] == ["front", "right"]
    assert half.say("take back two").startswith(wishes.NOTHING_READ)


def test_more_than_there_are_leaves_the_zero(half: TypedJob) -> None:
    assert half.say("take back nine").endswith("Right?")
    assert half.values() == {"back": Decimal(0)}
    assert half.state.phase is Sweeping.SWEEP


def test_a_sweep_is_started_over_only_when_that_is_agreed_to(half: TypedJob) -> None:
    assert half.say("start over") == "Start over?"
    assert half.say("no") == "Left?"
    assert len(half.state.readings) == 3
    half.say("start over")
    zero = f"{sweeping.LIFT_TIP} {sweeping.zero('back')}"
    assert half.say("yes") == f"{wishes.FROM_ZERO} {zero}"
    assert not any(half.values())
    assert {gone.reason for gone in half.state.undone} == {"start over"}


def test_where_nothing_is_swept_there_is_nothing_to_start_over() -> None:
    for phase in (SetUp.SETUP, Bolt.SHIM, Close.DECIDE):
        job = TypedJob.at(phase)
        assert job.say("start over").startswith("Not now: start over.")
        assert job.state.pending is None


def test_a_tolerance_that_is_changed_after_the_result_is_judged_by_at_once() -> None:
    job = TypedJob.begin()
    job.say(*READY, "zeroed", "plus one", "plus one and a half", "plus half", "zero")
    assert job.state.phase is Close.DECIDE
    said = job.say("tolerance one")
    assert said.startswith("Within one thou now.")
    assert "Square within" not in said
    assert job.state.profile.tolerance == Length.of(1, "thou")
    assert len(job.state.sweeps) == 1
    assert "Square within twenty thou." in job.say("tolerance twenty thou")
    assert len(job.state.sweeps) == 1


def test_while_it_is_loose_a_tolerance_waits_for_the_next_sweep() -> None:
    job = TypedJob.at(Bolt.SHIM)
    before = job.state.sweeps
    job.say("tolerance twenty")
    assert job.state.phase is Bolt.SHIM
    assert job.state.sweeps == before


def test_no_tolerance_is_zero_and_no_sweep_changes_under_its_readings() -> None:
    job = TypedJob.at(SetUp.SETUP)
    assert job.say("tolerance zero").startswith(wording.TOO_SMALL)
    assert job.say("sweep nine inches").startswith("Sweep nine inches now.")
    assert job.state.profile.sweep_diameter == Length.of(9, "in")
    assert job.say("sweep two hundred millimeters").startswith("Sweep seven point eight seven")
    job.say("sweep nine", "yes", "locked", "zeroed", *FRONT_HIGH_SIX)
    assert job.say("sweep eight").startswith(wishes.SWEPT_ALREADY)
    assert job.state.profile.sweep_diameter == Length.of(9, "in")


def test_a_size_with_its_name_answers_the_question_for_it() -> None:
    job = TypedJob.at(SetUp.DIAMETER)
    assert job.say("sweep eleven inches") == setup.tolerance("thou")
    assert "Spindle" in job.say("tolerance seven")
    assert job.state.profile.sweep_diameter == Length.of(11, "in")
    assert job.state.profile.tolerance == Length.of(7, "thou")
    job = TypedJob.at(Introducing.SWEEP_SIZE)
    job.say("sweep twenty two centimeters", "sweep thirty inches")
    assert job.state.phase is Introducing.SQUARENESS
    assert job.state.profile.sweep_diameter == Length.of(30, "in")


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("sweep three hundred inches", wording.TOO_LARGE),
        ("sweep two millimeters", wording.TOO_LITTLE),
        ("tolerance nine hundred", wording.TOO_LARGE),
    ],
)
def test_sizes_that_no_machine_has_are_refused_wherever_they_are_set(line: str, said: str) -> None:
    name, number = line.split(maxsplit=1)
    at = {"sweep": SetUp.DIAMETER, "tolerance": SetUp.TOLERANCE}[name]
    for phase, spoken in ((SetUp.SETUP, line), (at, line), (at, number), (Safety.UNPLUGGED, line)):
        job = TypedJob.at(phase)
        before = job.state.profile
        assert job.say(spoken).startswith(said), (phase, spoken)
        assert job.state.profile == before


def test_how_far_off_and_which_way() -> None:
    job = TypedJob.at(Bolt.LOOSEN)
    assert job.say("how far off").startswith("Out six. Front high six. Side to side too small")
    assert job.say("which way").startswith("Front high six. Hold the table.")
    job = TypedJob.at(Close.DECIDE)
    assert "Out" not in job.say("how far off")


def test_a_note_is_kept_as_it_was_typed() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    assert job.say("note Vice bolted on, +12 C") == "Noted. Right?"
    job.say("note " + "x" * 500)
    assert job.state.notes == ("Vice bolted on, +12 C", "x" * LONGEST_NOTE)
    assert job.say("note") == wording.MISSED_TYPED


@pytest.mark.parametrize("name", ["louder", "softer", "slower", "faster", "quiet", "talk"])
def test_how_it_speaks_is_the_devices_business(name: str) -> None:
    job = TypedJob.at(Tap.TAP)
    before = job.state
    job.say(name)
    assert [effect.name for effect in job.effects if isinstance(effect, Tuned)] == [name]
    assert job.state.phase is before.phase
    assert job.state.readings == before.readings


@pytest.mark.parametrize("phase", IN_A_JOB)
@pytest.mark.parametrize(
    "line", ["read back", "how far off", "which way", "louder", "note a b", "what was the left"]
)
def test_a_wish_leaves_every_question_open(phase: Phase, line: str) -> None:
    job = TypedJob.at(phase)
    asked, before = question(job.state), job.state
    assert job.say(line).endswith(asked)
    assert job.state.phase is before.phase
    assert job.state.readings == before.readings
    assert job.state.sweeps == before.sweeps


def test_a_wish_leaves_an_open_question_open(half: TypedJob) -> None:
    asked = half.say("six")
    assert half.say("what was the front") == f"Front minus five. {asked}"
    assert half.say("plus") == "Left plus six. Back again?"


def test_by_voice_it_is_heard_only_where_it_is_offered(half: TypedJob) -> None:
    assert half.hear("louder", Command("louder")) == "Not now: louder. Left?"
    assert half.hear("read back", Command("read back")).startswith("Right plus three.")


@pytest.mark.parametrize(
    "meaning",
    [
        Wish("what was", station="left"),
        Wish("take back", Decimal(2)),
        Wish("tolerance", Decimal("2.5")),
        Wish("sweep", Decimal(9), "in"),
        Wish("note", text="new gib"),
    ],
)
def test_a_wish_is_said_as_it_is_parsed(meaning: Wish) -> None:
    assert parse(words(meaning, Scale()), Scale()) == meaning


@pytest.mark.parametrize(
    "line", ["take back", "take back zero", "take back half", "tolerance", "sweep", "sweep here"]
)
def test_a_wish_that_says_nothing_is_not_understood(line: str) -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    assert job.say(line) == wording.MISSED_TYPED
    assert job.values() == {"back": Decimal(0)}


# -- a correction right after the result -------------------------------------------------


def test_a_reading_is_corrected_right_after_the_result() -> None:
    job = TypedJob.at(Bolt.LOOSEN)
    said = job.say("correction left plus two and a half")
    assert said.startswith("Left now plus two and a half. Front high six.")
    assert job.state.phase is Bolt.LOOSEN
    assert len(job.state.sweeps) == 1
    assert [gone.taken.value for gone in job.state.undone] == [Decimal(3)]


def test_a_correction_at_the_end_may_undo_it() -> None:
    job = TypedJob.begin()
    job.say(*READY, "zeroed", "plus three", "plus six", "plus three", "zero")
    job.say("done", "done", "locked", "zeroed", *LEVEL)
    assert job.state.phase is Close.DECIDE
    trials = job.state.shims.trials
    job.say("correction left minus one")
    assert len(job.state.sweeps) == 2
    # What the sweep taught is learnt once, and not a second time.
    assert len(job.state.shims.trials) == len(trials) == 1


def test_once_something_is_loose_nothing_is_corrected() -> None:
    job = TypedJob.at(Bolt.SHIM)
    assert job.say("correction left plus one").startswith(wording.NOT_WHILE_LOOSE)
    assert [sweep.readings[-2].value for sweep in job.state.sweeps] == [Decimal(3)]


# -- words that are not the ones wanted --------------------------------------------------


@pytest.mark.parametrize(
    ("phase", "line", "wanted"),
    [
        (Bolt.TIGHTEN, "done", "locked"),
        (Bolt.TIGHTEN, "yes", "locked"),
        (Sweeping.ZERO, "done", "zeroed"),
        (Sweeping.ZERO, "locked", "zeroed"),
        (Bolt.LOOSEN, "yes", "done"),
    ],
)
def test_another_word_of_agreement_is_told_which_is_wanted(
    phase: Bolt | Sweeping, line: str, wanted: str
) -> None:
    job = TypedJob.at(phase)
    assert job.say(line).startswith(f"Type {wanted} when it is.")
    assert job.state.phase is phase


def test_a_number_between_the_marks_is_told_as_such_while_another_is_asked_about() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    job.say("six")
    assert job.say("1.25").startswith("Finer than the dial: one and a quarter. Nearest mark?")


def test_status_counts_what_was_called_and_names_the_sweep_that_was_made() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    assert job.say("status").startswith("Sweep one, zero read.")
    job.say("plus one")
    assert job.say("status").startswith("Sweep one, one read.")
    assert TypedJob.at(Bolt.LOOSEN).say("status").startswith("Sweep one.")


# -- the keypad --------------------------------------------------------------------------


def test_who_types_all_of_it_again_gives_no_number_to_the_next_station() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    assert job.press("5 enter") == "Right: plus or minus five?"
    assert job.press("+ 5 enter") == "Right plus five. Front?"
    assert job.press("6 enter") == "Front: plus or minus six?"
    assert job.press("-") == ""
    assert job.press("enter") == "Front minus six. Left?"
    job.press("4 enter")
    assert job.press("- 7 enter") == "Left minus seven. Back again?"


def test_by_words_a_sign_answers_at_once() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    job.hear("five", Reading(Decimal(5), signed=False))
    assert job.say("minus") == "Right minus five. Front?"


# -- everyday words ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("OK", "yes"), ("okay", "yes"), ("yep", "yes"), ("Nope", "no"), ("undo", "disregard"),
        ("wait", "stand by"), ("start the sweep over", "start over"),
    ],
)  # fmt: skip
def test_everyday_words_are_taken_when_typed_and_by_name_at_the_keypad(
    typed: str, name: str
) -> None:
    assert parse(typed, Scale()) == Command(name)
    for line, source in ((typed, "text"), (f"key: {typed}", "keypad")):
        event = event_of(line, AT, 3, Scale())
        assert isinstance(event, Heard)
        assert (event.source, event.meaning) == (source, Command(name))


def test_everyday_words_are_not_listened_for() -> None:
    usual = words_of(sentences(everything(Scale())))
    assert not usual & {"ok", "okay", "yep", "nope", "undo", "wait"}


def test_a_named_key_that_is_none_is_still_a_key() -> None:
    for line, key in (("key: plus", "+"), ("key: 7", "7"), ("key: enter", "enter"),
                      ("key: tab", "tab")):  # fmt: skip
        assert event_of(line, AT, 3, Scale()) == KeyPressed(AT, 3, key)


def test_undo_and_nope_do_what_their_words_do(half: TypedJob) -> None:
    assert half.say("undo") == "Front taken back. Front?"
    half.say("start the sweep over")
    assert half.say("nope") == "Front?"
    assert half.say("wait") == wording.STANDING_BY


def test_whoever_made_it_quiet_can_have_the_voice_back_by_voice() -> None:
    job = TypedJob.at(SetUp.SETUP)
    assert "talk" not in offer_now(job.state).commands
    job.say("quiet", "yes")
    for line in ("locked", "zeroed"):
        assert "talk" in offer_now(job.state).commands
        job.say(line)
    assert job.hear("talk", Command("talk")) == "Talking again. Right?"
    assert not job.state.quiet
    assert job.hear("talk", Command("talk")).startswith("Not now: talk.")


def test_after_a_restart_it_is_as_quiet_as_it_was_set_meanwhile() -> None:
    job = TypedJob.at(SetUp.SETUP)
    job.say("quiet")
    assert step(job.state, Resumed(AT, "today"))[0].quiet
    assert not step(job.state, Resumed(AT, "today", quiet=False))[0].quiet


# -- off the dial ------------------------------------------------------------------------


@pytest.mark.parametrize("line", ["plus 1.2", "1.25", "right plus 1.3", "correction plus 0.7"])
def test_what_lies_between_the_marks_is_not_taken_however_it_is_typed(line: str) -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    said = job.say(line)
    assert said.startswith("Finer than the dial: ")
    assert said.endswith("Right?")
    assert job.values() == {"back": Decimal(0)}
    job.say("plus 1.7")
    assert job.values() == {"back": Decimal(0)}


def test_whoever_insists_on_it_has_it_once() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    job.say("plus 1.2")
    assert job.say("plus 1.2") == "Right plus one point two. Front?"
    assert job.say("front plus 1.2").startswith("Finer than the dial:")
    job.say("1.7")
    assert job.say("1.7") == "Front: plus or minus one point seven?"
    assert job.say("minus") == "Front minus one point seven. Left?"


def test_by_key_it_is_the_same_and_half_a_count_is_on_this_dial() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    assert job.press("+ 1 . 2 enter").startswith("Finer than the dial: plus one point two.")
    assert job.press("+ 1 . 5 enter") == "Right plus one and a half. Front?"


def test_what_lies_beyond_the_dial_is_asked_when_typed() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    assert job.say("plus 140") == f"{pending.BEYOND} Right plus one four zero?"
    assert job.say("no") == pending.NO_MATCH
    job.press("+ 4 0 enter")
    assert job.say("yes") == "Right plus forty. Front?"
    job.say("plus 41")
    assert job.say("front plus 41") == "Front plus forty one. Left?"


def test_while_tapping_and_settling_the_dial_has_the_same_marks() -> None:
    job = TypedJob.at(Tap.TAP)
    assert job.say("plus 1.2").startswith("Finer than the dial: plus one point two.")
    assert job.state.taps.reading is None
    job = TypedJob.at(Settling.SURFACE)
    assert job.say("plus 0.3").startswith("Finer than the dial: plus zero point three.")
    assert job.state.settling == ()


# -- back to what was asked --------------------------------------------------------------


def test_no_to_a_station_that_nobody_asked_for_goes_back_to_the_order(half: TypedJob) -> None:
    assert half.say("right plus four") == "Right plus four?"
    assert half.say("no") == "Left?"
    assert half.say("plus two") == "Left plus two. Back again?"
    assert half.values()["right"] == 3


def test_status_while_tapping_ends_with_what_is_still_to_be_moved() -> None:
    job = TypedJob.at(Tap.TAP)
    order = question(job.state)
    assert job.said == f"{HOLD_AND_SLACK} {order}"
    assert job.say("status").endswith(order)
    job.say("right minus two")
    told = job.said.removeprefix("Right minus two. ")
    assert told.startswith("Too far.")
    for line in ("status", "what was the front", "six", "disregard"):
        said = job.say(line)
        assert said.endswith(told) or line == "six", line
    # Taken up redrawn it is the whole order.
    job.say("done", "disregard")
    assert job.said == order


@pytest.mark.parametrize("line", ["no", "done", "skip"])
def test_four_more_stations_that_nobody_asked_for_are_declined_in_any_words(line: str) -> None:
    job = TypedJob.begin(replace(WORN, hole_depth=None))
    said = job.say(*READY, "zeroed", *NEAR_LIMIT)
    assert FOUR_MORE in said
    assert job.say("yes", "ok") == "Back right?"
    assert FOUR_MORE not in job.say(line)
    assert job.state.form.declined
    assert not isinstance(job.state.phase, Form)


def test_finish_ends_the_job_there_and_once_one_is_read_only_skip_declines() -> None:
    job = TypedJob.begin(WORN)
    job.say(*READY, "zeroed", *NEAR_LIMIT, "finish")
    assert job.said == "Finish?"
    job.say("yes")
    assert job.state.phase is Close.CLOSE
    job = TypedJob.begin(WORN)
    job.say(*READY, "zeroed", *NEAR_LIMIT, "plus one", "done")
    assert job.said.startswith(wanted(THE_NUMBER, skip=True, by="text"))


def test_sweep_and_tolerance_are_heard_at_the_set_up_and_nowhere_else() -> None:
    for phase in IN_A_JOB:
        assert (offer_now(TypedJob.at(phase).state).changes > 0) is (phase is SetUp.SETUP)
    job = TypedJob.at(SetUp.SETUP)
    said = job.hear("sweep nine inches", Wish("sweep", Decimal(9), "in"))
    assert said.startswith("Sweep nine inches now.")
    said = job.hear("tolerance three", Wish("tolerance", Decimal(3)))
    assert said.startswith("Within three thou now.")
    assert said.endswith("Sweep nine inches, within three thou. Yes?")
    # Heard with doubt it is said once more, and then taken.
    doubtful = {"outcome": "ask", "confidence": 0.8}
    wished = Wish("tolerance", Decimal(5))
    assert "Within" not in job.hear("tolerance five", wished, **doubtful)
    assert job.hear("tolerance five", wished, **doubtful).startswith("Within five thou now.")
