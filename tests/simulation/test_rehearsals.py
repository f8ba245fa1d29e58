"""Whole jobs on simulated machines by typed words, heard rightly and wrongly.

A few of each kind: ``python -m tests.benchmarks.study`` plays thousands and gives the rates.
"""

import random
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from functools import cache

import pytest

from assistant.dialogue.formatting import tolerance_counts
from assistant.dialogue.messages import Heard, Listen
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.step import fold
from assistant.metrology.lengths import Length
from assistant.simulation.bench import Bench, draw_machine, profile_for
from assistant.simulation.caller import Operator
from assistant.simulation.clock import SimulatedClock
from assistant.simulation.rehearsal import Rehearsal, rehearse, same_meaning
from assistant.simulation.wording import EVERYDAY
from grammar.meaning import Command, Reading
from grammar.parse import parse
from grammar.scale import Scale, System
from grammar.sentences import sentences
from tests.grammar.languages import sample
from tests.simulation.text_carrier import TextCarrier

MACHINES = range(1, 25)
FEWER = range(1, 13)
"""Metric machines are drawn from the same distributions, in other counts."""


class Garbler:
    """Text that is heard as any other sentence of the offer at a given rate."""

    def __init__(self, clock: SimulatedClock, seed: int, rate: float) -> None:
        self._clock = clock
        self._chance = random.Random(f"garble {seed}")
        self._rate = rate

    def carry(self, words: str, listen: Listen) -> Sequence[Heard]:
        self._clock.pass_time(2.0)
        if self._chance.random() < self._rate:
            words = sample(sentences(listen.offer), self._chance)
        meaning = parse(words, listen.offer.scale)
        return [Heard(self._clock.now(), listen.turn, "voice", "accept", words, meaning)]


@cache
def _play(seed: int, system: System = "thou", garbled: float = 0.0) -> tuple[Bench, Rehearsal]:
    bench = Bench(draw_machine(seed, system))
    clock = SimulatedClock()
    operator = Operator(bench, profile_for(system), random.Random(seed), EVERYDAY)
    carrier = Garbler(clock, seed, garbled) if garbled else TextCarrier(clock)
    return bench, rehearse(operator, carrier, clock)


def _square(bench: Bench, played: Rehearsal) -> bool:
    return bench.tilt <= tolerance_counts(played.state.profile)


@pytest.mark.parametrize(("system", "machines"), [("thou", MACHINES), ("mm", FEWER)])
def test_machines_end_square_or_say_why_not(system: System, machines: Sequence[int]) -> None:
    square = claimed_falsely = 0
    for seed in machines:
        bench, played = _play(seed, system)
        assert played.tally.ended == "", f"seed {seed}"
        assert played.state.phase is Close.CLOSED
        assert played.committed_wrong() == 0, f"seed {seed}"
        assert played.tally.misheard == 0
        left = played.state.as_left
        assert left is not None
        claimed_falsely += left.verdict == "within" and not _square(bench, played)
        square += _square(bench, played)
    assert square >= len(machines) - 1
    # The guard band allows one in twenty of those that come to lie at its edge.
    assert claimed_falsely <= 1


def test_the_machine_comes_out_as_the_dialogue_says() -> None:
    inside = 0
    for seed in MACHINES:
        bench, played = _play(seed, "thou")
        left = played.state.as_left
        assert left is not None
        front = left.budget.front_minus_back.expanded()
        right = left.budget.right_minus_left.expanded()
        inside += (
            abs(left.front_minus_back - bench.front_minus_back) <= front
            and abs(left.right_minus_left - bench.right_minus_left) <= right
        )
    # Two intervals of 95 % that hold together nine times in ten at least.
    assert inside >= 0.88 * len(MACHINES)


@pytest.mark.parametrize("pivot", [-0.6, 0.5])
def test_a_pivot_aside_is_tapped_right_when_it_is_known(pivot: float) -> None:
    profile = profile_for()
    profile = replace(
        profile, pivot_offset=Length(profile.sweep_diameter.mm / 2 * Decimal(str(pivot)))
    )
    for seed in range(1, 7):
        bench = Bench(replace(draw_machine(seed), pivot=pivot))
        clock = SimulatedClock()
        operator = Operator(bench, profile, random.Random(seed), EVERYDAY)
        played = rehearse(operator, TextCarrier(clock), clock)
        assert played.tally.ended == ""
        assert _square(bench, played), f"seed {seed}"


def test_a_wrong_hearing_in_thirty_is_always_put_right() -> None:
    wrong = 0
    unfinished = 0
    for seed in MACHINES:
        bench, played = _play(seed, garbled=0.03)
        wrong += played.committed_wrong()
        unfinished += bool(played.tally.ended) or not _square(bench, played)
    assert wrong == 0
    # A "stop" and then a "yes" that nobody said can end a job; it can be gone on with.
    assert unfinished <= 1


def test_one_in_ten_misheard_seldom_leaves_anything_wrong() -> None:
    bad = 0
    heard_wrongly = 0
    for seed in MACHINES:
        _, played = _play(seed, garbled=0.1)
        heard_wrongly += played.tally.misheard
        bad += played.committed_wrong() > 0
    assert heard_wrongly > 60
    assert bad <= 1


def test_events_of_a_job_give_its_state_again() -> None:
    for seed in range(1, 6):
        _, played = _play(seed, garbled=0.03)
        assert fold(played.events) == played.state


def test_wrong_readings_are_counted_when_they_are_kept() -> None:
    """The count itself, by a person who does not listen to the read-back."""

    class Deaf(Operator):
        def hear(self, text: str) -> None:
            super().hear("" if "again?" in text or "zero" not in text else text)

    found = 0
    for seed in range(1, 11):
        bench = Bench(draw_machine(seed))
        clock = SimulatedClock()
        person = Deaf(
            bench, profile_for(), random.Random(seed), replace(EVERYDAY, slip=0.3, bare=0)
        )
        found += rehearse(person, TextCarrier(clock), clock).committed_wrong()
    assert found > 5


def test_a_job_without_an_end_is_given_up() -> None:
    class Mute:
        def carry(self, words: str, listen: Listen) -> Sequence[Heard]:
            del words, listen
            return []

    clock = SimulatedClock()
    operator = Operator(Bench(draw_machine(1)), profile_for(), random.Random(1))
    played = rehearse(operator, Mute(), clock)
    # Not the same word every time: yes, affirm, and again.
    assert played.tally.ended == '"affirm" was never heard'
    assert played.tally.missed == played.tally.utterances == 4


def test_meanings_are_compared_by_what_they_come_to() -> None:
    six = parse("front plus six thou", Scale())
    assert same_meaning(six, parse("front plus six", Scale()))
    assert not same_meaning(six, parse("front minus six", Scale()))
    assert not same_meaning(six, parse("left plus six", Scale()))
    assert not same_meaning(six, parse("front six", Scale()))
    assert isinstance(six, Reading)
    assert same_meaning(Command("yes"), parse("affirm", Scale()))
