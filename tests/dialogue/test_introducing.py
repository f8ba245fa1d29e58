"""The introduction: which machine it is, asked by yes, no and numbers before its job begins."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import (
    DeviceLost,
    Effect,
    Event,
    KeyPressed,
    MachineChosen,
    RoomNoise,
    Say,
)
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.introduction import Introducing
from assistant.dialogue.view import view
from assistant.metrology.lengths import Length
from assistant.records.machines.machine_toml import read_profile, write_profile
from grammar.meaning import Command
from tests.dialogue.typed import AT, TypedJob


def _chosen(effects: tuple[Effect, ...]) -> MachineChosen | None:
    return next((effect for effect in effects if isinstance(effect, MachineChosen)), None)


def test_agreeing_to_everything_makes_a_machine_in_seven_answers() -> None:
    job = TypedJob.introduced()
    assert job.said == "Answer yes or no. By key: Enter or minus. Small drill?"
    for _ in range(6):
        assert job.say("yes").endswith("?")
    assert job.say("yes") == "Kept as small drill."
    chosen = _chosen(job.effects)
    assert chosen is not None
    assert chosen.made is not None
    assert chosen.name == chosen.made.name == "small drill"


def test_a_metric_machine_with_figures_of_its_own() -> None:
    job = TypedJob.introduced()
    assert job.say("no") == "Large drill?"
    assert job.say("yes") == "With a dial indicator?"
    assert job.say("yes") == "In thousandths of an inch?"
    assert job.say("no") == "Does it count both ways from zero?"
    assert job.say("yes") == "Dial reads to fifty hundredths?"
    assert job.say("forty").startswith("Forty hundredths. Sweep")
    assert job.say("two hundred forty").startswith("Two hundred forty millimetres. Square")
    assert job.say("two and a half").startswith("Two and a half hundredths. Kept")
    chosen = _chosen(job.effects)
    assert chosen is not None
    assert chosen.made is not None
    assert chosen.made.scale.reach == 40
    assert chosen.made.sweep_diameter == Length.of(240, "mm")
    assert chosen.made.tolerance == Length.of("0.025", "mm")


def test_the_same_by_keypad() -> None:
    job = TypedJob.introduced("old drill")
    job.press("- - enter enter - enter")
    job.press("4 0 enter 2 4 0 enter 2 . 5 enter")
    chosen = _chosen(job.effects)
    assert chosen is not None
    assert chosen.made is not None
    assert chosen.made.sweep_diameter == Length.of(240, "mm")
    assert chosen.made.tolerance == Length.of("0.025", "mm")


def test_minus_is_no_even_where_a_number_can_be_called() -> None:
    job = TypedJob.at(Introducing.SQUARENESS)
    assert job.press("-").startswith("Give the number, then.")


def test_a_known_machine_is_chosen_by_yes() -> None:
    job = TypedJob.introduced("mill", "old drill")
    assert job.said == "Mill?"
    assert job.say("no") == "Old drill?"
    job.say("yes")
    assert _chosen(job.effects) == MachineChosen("old drill", None)


def test_no_to_every_machine_leads_to_a_new_one_under_a_name_of_its_own() -> None:
    job = TypedJob.introduced("Small drill", "small drill 2")
    job.say("no", "no")
    assert job.state.phase is Introducing.KIND
    job.say(*["yes"] * 7)
    chosen = _chosen(job.effects)
    assert chosen is not None
    assert chosen.name == "small drill 3"


def test_no_to_every_kind_asks_them_again() -> None:
    job = TypedJob.introduced()
    job.say("no")
    assert job.say("no") == "The nearest one, then. Small drill?"


@pytest.mark.parametrize(
    ("phase", "said"),
    [
        (Introducing.DIAL_REACH, "zero"),
        (Introducing.DIAL_REACH, "ten and a half"),
        (Introducing.DIAL_REACH, "two hundred"),
        (Introducing.SWEEP_SIZE, "zero"),
        (Introducing.SWEEP_SIZE, "ninety inches"),
        (Introducing.SQUARENESS, "zero"),
        (Introducing.SQUARENESS, "two hundred"),
    ],
)
def test_what_cannot_be_is_refused_and_asked_again(phase: Phase, said: str) -> None:
    job = TypedJob.at(phase)
    before = job.state.profile
    assert job.say(said).endswith("?")
    assert job.state.phase is phase
    assert job.state.profile == before


def test_disregard_goes_back_one_question() -> None:
    job = TypedJob.at(Introducing.SWEEP_SIZE)
    job.say("disregard")
    assert job.state.phase is Introducing.DIAL_UNIT


def test_help_tells_that_a_number_can_be_given() -> None:
    job = TypedJob.at(Introducing.SWEEP_SIZE)
    assert "Type a number, yes, no" in job.say("help")


def test_stopping_before_a_machine_is_chosen() -> None:
    job = TypedJob.introduced()
    assert job.say("stop") == "Stop here? No machine is kept."
    assert job.say("yes") == "Stopped. No machine was made."
    assert job.state.stopped
    assert view(job.state).step == "Stopped. No machine was made."
    assert _chosen(job.effects) is None


_EVENTS: st.SearchStrategy[tuple[str, str]] = st.one_of(
    st.tuples(st.just("words"), st.sampled_from(
        ("yes", "no", "twelve", "two hundred", "ten inches", "front plus six", "disregard",
         "skip", "help", "status", "stand by", "go ahead", "say again", "stop", "mumble",
         "shim three above", "plus", "locked", "finish"))),
    st.tuples(st.just("key"), st.sampled_from((*"0123456789.+-*/", "enter", "F1"))),
    st.tuples(st.just("device"), st.sampled_from(("lost", "loud"))),
)  # fmt: skip


@settings(deadline=None)
@given(st.lists(_EVENTS, max_size=40))
def test_any_answers_are_taken_in_words_and_nothing_is_measured(
    stream: list[tuple[str, str]],
) -> None:
    job = TypedJob.introduced("old drill")
    for kind, what in stream:
        if job.state.stopped or _chosen(job.effects):
            break
        turn = job.state.turn
        if kind == "words":
            job.say(what)
        elif kind == "key":
            job.post(KeyPressed(AT, turn, what))
        else:
            event: Event = RoomNoise(AT, True)
            job.post(DeviceLost(AT, "microphone", "gone") if what == "lost" else event)
        assert isinstance(job.state.phase, Introducing)
        assert job.state.readings == ()
        assert view(job.state).headline
        assert job.state.profile.scale.reach <= Decimal(100)


def test_nothing_that_was_heard_before_the_choice_answers_what_comes_after() -> None:
    job = TypedJob.at(Introducing.WHICH)
    turn = job.state.turn
    job.hear("yes", Command("yes"))
    assert job.state.turn > turn


def test_what_is_said_ends_before_the_machine_is_handed_over() -> None:
    job = TypedJob.at(Introducing.SQUARENESS)
    job.say("yes")
    assert [type(effect) for effect in job.effects][-2:] == [Say, MachineChosen]


def _made(job: TypedJob) -> Profile:
    chosen = _chosen(job.effects)
    assert chosen is not None
    assert chosen.made is not None
    return chosen.made


def test_a_dial_that_counts_one_way_round() -> None:
    job = TypedJob.at(Introducing.DIAL_FACE)
    assert job.say("no") == "A turn counts one hundred?"
    assert job.say("three") == "It must be above zero. A turn counts one hundred?"
    job.say("fifty", "yes", "yes")
    made = _made(job)
    assert (made.instrument.face, made.instrument.per_turn) == ("continuous", 50)
    assert read_profile(write_profile(made), "made") == made


def test_leaves_under_a_rod_need_no_dial() -> None:
    job = TypedJob.at(Introducing.WAY)
    assert job.say("no") == "With feeler leaves under a rod?"
    job.say("yes", "yes")
    assert job.state.phase is Introducing.SWEEP_SIZE
    job.say("yes", "yes")
    made = _made(job)
    assert made.method == "gap"
    assert read_profile(write_profile(made), "made") == made


def test_a_square_is_asked_how_far_up_it_meets_the_bar() -> None:
    job = TypedJob.at(Introducing.SQUARE_AT)
    assert job.say("fifty inches").startswith("That is too large.")
    assert job.say("four inches").startswith("Four inches. Sweep")
    job.say("yes", "yes")
    made = _made(job)
    assert made.method == "square"
    assert made.instrument.square_height == Length.of(4, "in")
    assert read_profile(write_profile(made), "made") == made


def test_no_to_every_way_asks_them_again() -> None:
    job = TypedJob.at(Introducing.WAY)
    job.say("no", "no", "no")
    assert job.say("no") == "The nearest one, then. With a dial indicator?"


def test_touch_alone_measures_nothing_and_is_asked_nothing_more() -> None:
    job = TypedJob.at(Introducing.WAY)
    job.say("no", "no", "no")
    assert job.said == "With a rod, by touch alone?"
    assert job.say("yes", "yes") == "Kept as small drill."
    assert _made(job).method == "touch"
