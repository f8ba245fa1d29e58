"""A vise or a box table is set square by shims under its low side, on either axis."""

import random
from dataclasses import dataclass
from decimal import Decimal
from math import hypot

import pytest

from assistant.dialogue.facts import LastJob, Packing, PackTrial
from assistant.dialogue.formatting import rounded, tolerance_counts
from assistant.dialogue.keys import legend
from assistant.dialogue.machine import Profile
from assistant.dialogue.procedures import packing
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.last_time import LastTime
from assistant.dialogue.procedures.noise import Settling
from assistant.dialogue.procedures.packing import Feet, response_of
from assistant.dialogue.procedures.shim import Bolt
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.questions import offer_now
from assistant.dialogue.state import PACK_LENGTHWISE
from assistant.dialogue.view import view
from assistant.dialogue.wording import bad_entry
from assistant.records.machines.presets import Units, preset
from assistant.records.report.wording import Words
from grammar.meaning import Command
from grammar.say import signed_words
from grammar.sentences import sentences
from grammar.written import wide_sentences
from tests.dialogue.typed import AT, PACKED, SHIM_IN, USUAL, TypedJob
from tests.grammar.languages import accepts

PACKED_IN = LastJob(AT, "yesterday", under_back=Decimal(2))
FRONT_HIGH = ("plus three", "plus six", "plus three", "zero")


def test_shims_go_under_the_low_side() -> None:
    """Front high is shimmed under the back, right high under the left: the low side is raised."""
    job = TypedJob.at(Sweeping.ZERO, PACKED)
    said = job.say("zeroed", *FRONT_HIGH)
    assert said.endswith(packing.UNBOLT)
    assert "under the back" in job.say("done")
    assert "under the left" in TypedJob.at(Feet.PACK).said
    assert job.say("done") == packing.BOLT_DOWN
    assert "Dial to zero" in job.say("locked")


def test_what_is_really_in_is_called_and_taken_back() -> None:
    job = TypedJob.at(Feet.PACK)
    assert job.say("shim three") == f"Shim three under the left. {packing.BOLT_DOWN}"
    assert job.state.packing.under_left == 3
    assert job.say("disregard").startswith("Shim ")
    assert job.state.packing == Packing()
    job.press("4 enter")
    assert job.state.packing.under_left == Decimal(4)
    assert Words(job.state.profile).shims_of(job.state) == "4 thou under the left"


def test_under_feet_the_side_is_told_and_not_called() -> None:
    """Above and below are sides of a tilt bolt: here they are neither offered nor taken."""
    job = TypedJob.at(Feet.PACK)
    assert job.hear("help", Command("help")) == (
        "Flat and clean, close to the bolt. "
        "Say shim and a number, done, disregard, say again, status, stand by, stop."
    )
    assert view(job.state).offers[0] == "shim and a number"
    assert not accepts(sentences(offer_now(job.state)), "shim three above")
    assert not accepts(wide_sentences(offer_now(job.state)), "shim three below")
    asked = job.state.to_repeat
    assert job.say("shim three above") == f"Not now: shim three above. {asked}"
    assert job.press("- 3 enter") == bad_entry()
    assert job.state.phase is Feet.PACK
    assert job.say("shim three").startswith("Shim three under the left.")


def test_at_a_tilt_bolt_both_sides_are_offered_to_voice_and_keys() -> None:
    job = TypedJob.at(Bolt.SHIM)
    assert "Type shim, a number, above or below, done" in job.say("help")
    assert "Number and enter, plus before it is above, minus below, enter done" in job.press("/ 2")
    assert dict(legend(job.state))["- 0-9"] == "below"
    job.press("- 3 enter")
    assert job.state.shims.total == -3


@pytest.mark.parametrize(("last", "offered"), [(SHIM_IN, True), (PACKED_IN, False)])
def test_of_a_shim_that_was_left_in_its_side_is_called_at_a_bolt_only(
    last: LastJob, offered: bool
) -> None:
    job = TypedJob.begin(USUAL if last is SHIM_IN else PACKED, last=last)
    job.say("yes", "yes", "yes")
    assert job.state.phase is LastTime.STILL_IN
    assert ("above or below" in job.say("help")) is offered
    # By key minus is no there: nothing is told of sides.
    assert "above" not in job.press("/ 2")


def test_a_shim_that_changes_sides_is_taken_out_of_the_other() -> None:
    job = TypedJob.at(Sweeping.ZERO, PACKED)
    job.say("zeroed", *FRONT_HIGH, "done", "shim six", "locked", "zeroed")
    # Ten less for six put in: far too much, though the response was to be one.
    said = job.say("minus two", "minus four", "minus two", "zero", "done")
    assert "under the back" in said or "out" in said
    job = TypedJob.at(Sweeping.ZERO, PACKED)
    job.say("zeroed", *FRONT_HIGH, "done", "shim two", "locked", "zeroed")
    job.say("minus six", "minus twelve", "minus six", "zero")
    # No shim raises five times what the feet let expect: out with it first.
    assert "out" in job.say("done")


def test_skipping_one_axis_leaves_the_other() -> None:
    job = TypedJob.at(Sweeping.ZERO, PACKED)
    job.say("zeroed", "plus six", "plus six", "zero", "zero")
    first = job.state.plan
    assert first is not None
    job.say("skip", "yes")
    second = job.state.plan
    assert second is not None
    assert {first.kind, second.kind} == {"pack front to back", "pack side to side"}


def test_taking_a_sweep_back_unlearns_its_trial() -> None:
    job = TypedJob.at(Sweeping.ZERO, PACKED)
    job.say("zeroed", *FRONT_HIGH, "done", "shim three", "locked", "zeroed")
    job.say("plus one and a half", "plus three", "plus one and a half", "zero")
    trial = PackTrial(Decimal(0), Decimal(3), 6.0, 3.0)
    assert job.state.packing == Packing(under_back=Decimal(3), lengthwise=(trial,))
    learnt = response_of(job.state, PACK_LENGTHWISE)
    assert learnt.value == pytest.approx(1, abs=0.1)
    job.say("disregard")
    assert job.state.packing == Packing(under_back=Decimal(3))


@dataclass(slots=True)
class Vise:
    """A vise on its bolts: what it really does, hidden from the job."""

    random: random.Random
    fb: float
    rl: float
    response: tuple[float, float]
    noise: float = 0.3

    def sweep(self, packing: Packing, step: Decimal = Decimal("0.5")) -> list[str]:
        """Called readings, right, front, left and back again, in steps of the dial."""
        fb = self.fb - self.response[0] * float(packing.under_back)
        rl = self.rl - self.response[1] * float(packing.under_left)
        heights = [-fb / 2, rl / 2, fb / 2, -rl / 2, -fb / 2]
        read = [height + self.random.gauss(0, self.noise) for height in heights]
        values = [rounded(value - read[0], step) for value in read[1:]]
        return [signed_words(value) for value in values]

    def tilt(self, packing: Packing) -> float:
        """What is truly left."""
        fb = self.fb - self.response[0] * float(packing.under_back)
        return hypot(fb, self.rl - self.response[1] * float(packing.under_left))


def _played(seed: int, profile: Profile) -> tuple[float, int]:
    chance = random.Random(seed)
    ratio = float(profile.sweep_diameter / (profile.span or profile.sweep_diameter))
    responses = (ratio * chance.uniform(0.7, 1.4), ratio * chance.uniform(0.7, 1.4))
    vise = Vise(chance, chance.uniform(-9, 9), chance.uniform(-9, 9), responses)
    job = TypedJob.begin(profile)
    for _ in range(200):
        listen = job.listening
        if job.state.phase is Close.CLOSED or listen is None:
            break
        if job.state.phase is Sweeping.SWEEP and not job.state.doubts.again:
            for line in vise.sweep(job.state.packing):
                job.say(line)
        else:
            suspect = job.state.phase is Sweeping.SWEEP
            spots = job.state.phase is Settling.SURFACE and len(job.state.settling) < 6
            if spots:
                job.say(signed_words(Decimal(chance.choice((0, 1, -1))) / 2))
            else:
                job.say("next" if suspect else listen.offer.phrases()[0])
    assert job.state.phase is Close.CLOSED
    return vise.tilt(job.state.packing), len(job.state.sweeps)


def test_vises_end_square() -> None:
    profile = preset("vise on a table", "inch")
    assert profile is not None
    ended = [_played(seed, profile) for seed in range(1, 16)]
    square = sum(tilt <= tolerance_counts(profile) for tilt, _ in ended)
    # Where it cannot be proven the job says so, and ends no further out than it may be.
    assert square >= 12
    assert max(tilt for tilt, _ in ended) < 2 * tolerance_counts(profile)
    assert sum(sweeps for _, sweeps in ended) <= 6.5 * len(ended)


@pytest.mark.parametrize("name", ["radial drill", "vise on a table"])
def test_what_stands_on_feet_is_never_sent_to_a_tilt_bolt(name: str) -> None:
    units: tuple[Units, ...] = ("inch", "metric")
    for each in units:
        profile = preset(name, each)
        assert profile is not None
        assert profile.kind == "packed"
        job = TypedJob.at(Sweeping.ZERO, profile)
        said = job.say("zeroed", "plus ten", "plus twenty", "plus ten", "zero")
        assert "Pry" in said
        assert "bolt." not in said.replace("Ease the bolts.", "")
