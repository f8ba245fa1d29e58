"""Help: how to do what is asked, then what can be said or pressed."""

import re

import pytest

from assistant.dialogue.job import JOB
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.setup import SetUp
from assistant.dialogue.procedures.sweep import Sweeping
from grammar.meaning import Command
from tests.dialogue.typed import GAP, TOUCH, TypedJob

OPEN = [phase for phase in JOB.table if phase is not Close.CLOSED]


@pytest.mark.parametrize("phase", OPEN)
def test_help_says_first_how_and_then_which_words(phase: Phase) -> None:
    job = TypedJob.at(phase)
    how = JOB.table[phase].how_to(job.state)
    assert how
    for sentence in re.findall(r"[^.?]+[.?]", how):
        assert len(sentence.split()) <= 8, sentence
    assert job.say("help").startswith(f"{how} Type ")
    assert job.hear("help", Command("help")).startswith(f"{how} Say ")
    job = TypedJob.at(phase)
    assert job.press("/ 2").startswith(f"{JOB.table[phase].how_to(job.state)} ")


def test_it_is_told_by_the_way_of_measuring() -> None:
    told = {TypedJob.at(SetUp.SETUP, profile).say("help") for profile in (None, GAP, TOUCH)}
    assert len({said.split(" Type ")[0] for said in told}) == 2
    gap = TypedJob.begin(GAP)
    gap.say("yes", "yes", "yes", "yes", "locked", "done")
    assert "thickest leaf" in gap.say("help")


def test_a_question_in_between_is_its_own_help() -> None:
    job = TypedJob.at(Sweeping.SWEEP)
    job.say("six")
    assert job.say("help").startswith("Type ")


def test_by_key_nothing_is_told_that_only_a_voice_can_do() -> None:
    for phase in OPEN:
        told = TypedJob.at(phase).press("/ 2")
        assert not re.search(r"\b[Ss]ay\b|\b[Tt]ype\b", told), told
