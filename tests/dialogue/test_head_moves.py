"""Mill heads, free tables and locating pins: no shim, targets by geometry, coached and learnt."""

from dataclasses import replace
from decimal import Decimal

import pytest

from assistant.dialogue import watching, wording
from assistant.dialogue.facts import MoveDone, Pull
from assistant.dialogue.formatting import SPOKEN_STEP, spoken_step
from assistant.dialogue.machine import MachineKind, Profile
from assistant.dialogue.messages import Step
from assistant.dialogue.planner import TRIAL_SHIM
from assistant.dialogue.procedures import head, lock, noise, pin, safety, shim, sweep, tap
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.head import SUPPORT_AND_SNUG, Head, turn_of
from assistant.dialogue.procedures.sweep import LIFT_TIP, Sweeping
from assistant.metrology.lengths import Length
from assistant.records.machines.presets import LAYOUTS, preset
from tests.dialogue.typed import (
    FRONT_HIGH_SIX,
    HEAD,
    LEVEL,
    PINNED,
    READY,
    RIGHT_HIGH_SIX,
    TypedJob,
)

FREE = replace(HEAD, kind="free", nod_offset=Length.of(0, "in"))


def _swept(profile: Profile, readings: tuple[str, ...]) -> TypedJob:
    job = TypedJob.begin(profile)
    job.say(*READY, "zeroed", *readings)
    return job


def test_the_front_goes_further_than_the_difference_when_the_nod_is_far_behind() -> None:
    # Derived: the front lies 8 + 5 inches from the pivot, the back 8 - 5. To take six out of
    # their difference over ten inches the head turns by 0.6 thou an inch: 13 of them at the front.
    job = _swept(HEAD, FRONT_HIGH_SIX)
    assert job.said.endswith(watching.before_moving("front"))
    assert job.say("plus six") == f"Front plus six. {head.NOD_SNUG_THERE}"
    assert job.step == Step("loosen", what="nod bolts", station="front")
    assert job.say("done") == "Nod up. Front to minus two."
    # Plus six less 7.8, to the half thou that this dial is read in.
    assert job.step == Step("nod", station="front", change=Decimal(-8), dial_target=Decimal(-2))


def test_the_sides_take_half_the_difference() -> None:
    # Derived: similar triangles about a pivot over the axis; the same as for a table.
    job = _swept(HEAD, RIGHT_HIGH_SIX)
    assert job.said.endswith(watching.before_moving("right"))
    assert job.say("plus three") == f"Right plus three. {head.TILT_SNUG_THERE}"
    assert job.say("done") == "Tilt, right side up. Right to zero."
    assert job.step == Step("tilt", station="right", change=Decimal(-3), dial_target=Decimal(0))


def test_a_move_is_coached_and_its_pull_aimed_off() -> None:
    job = _swept(HEAD, FRONT_HIGH_SIX)
    job.say("done")
    assert job.say("plus one") == "Front plus one. Three more."
    assert job.say("minus four") == "Front minus four. Too far. Back two."
    assert job.say("right zero").startswith("Watch the front now.")
    assert job.say("minus two") == f"Front minus two. {wording.ON_TARGET} Tighten evenly. Front?"
    said = job.say("plus one")
    assert said == f"Front plus one. Tightening pulled plus three. Once more. {head.NOD_SNUG_THERE}"
    assert job.state.moving.pulls == (Pull("front", Decimal(3)),)
    # Three below the goal, for tightening to bring it there.
    assert job.say("done") == f"{SUPPORT_AND_SNUG} Nod up. Front to minus five."
    job.say("minus five")
    told = f"Front minus two. {LIFT_TIP} Dial to zero at the back. Say zeroed."
    assert job.say("minus two") == told
    job.say("zeroed", *LEVEL)
    assert job.said.startswith("Back zero. As expected.")
    assert job.state.moving.moves == (MoveDone("front", Decimal(-8), 6.0, 0.0),)
    assert job.state.phase is Close.DECIDE


def test_a_small_pull_is_left_to_the_sweep() -> None:
    job = _swept(HEAD, FRONT_HIGH_SIX)
    job.say("done", "minus two")
    assert job.say("minus one and a half").endswith(sweep.zero("back"))


def test_tightened_without_a_reading_goes_on_to_the_sweep() -> None:
    job = _swept(HEAD, FRONT_HIGH_SIX)
    job.say("done", "minus two")
    assert job.say("locked") == f"{LIFT_TIP} {sweep.zero('back')}"


def test_the_ratio_is_learnt_from_each_move() -> None:
    job = _swept(HEAD, ("plus five", "plus ten", "plus five", "zero"))
    before = turn_of(job.state, "front")
    assert before.value == pytest.approx(2 / (1 + 8 / 5))
    assert job.say("done") == f"{SUPPORT_AND_SNUG} Nod up. Front to minus three."
    job.say("minus three", "minus three", "zeroed", "plus two", "plus four", "plus two", "zero")
    # Thirteen at the front took six out of the difference: not the ten that were expected.
    assert "Expected zero, got plus four." in job.said
    after = turn_of(job.state, "front")
    assert after.value == pytest.approx(6 / 13, rel=0.05)
    assert after.uncertainty < before.uncertainty / 3
    # Four by that ratio: about eight and a half lower.
    job.say("done")
    assert job.step is not None
    assert job.step.dial_target in (Decimal("-4.5"), Decimal(-4))


def test_a_move_that_did_not_stay_is_said_and_not_learnt() -> None:
    job = _swept(HEAD, FRONT_HIGH_SIX)
    job.say("done", "minus two", "minus two", "zeroed", *FRONT_HIGH_SIX)
    assert head.MOVE_NOT_HELD in job.said
    assert job.state.moving.moves == ()


def test_taking_back_the_last_reading_forgets_what_it_taught() -> None:
    job = _swept(HEAD, FRONT_HIGH_SIX)
    job.say("done", "minus two", "minus two", "zeroed", *LEVEL)
    assert job.state.moving.moves
    job.say("disregard")
    assert job.state.moving.moves == ()
    job.say("zero")
    assert len(job.state.moving.moves) == 1


def test_what_the_dial_cannot_show_is_not_aimed_at() -> None:
    job = _swept(HEAD, ("plus ten", "plus thirty", "plus twenty", "zero"))
    job.say("done")
    assert job.step is not None
    assert job.step.dial_target is not None
    assert abs(job.step.dial_target) <= HEAD.scale.reach


@pytest.mark.parametrize("readings", [FRONT_HIGH_SIX, RIGHT_HIGH_SIX])
@pytest.mark.parametrize("kind", ["head", "free"])
def test_no_shim_is_ever_asked_for(kind: MachineKind, readings: tuple[str, ...]) -> None:
    job = _swept(replace(HEAD, kind=kind), readings)
    assert job.state.phase is Head.SNUG_UP
    answer = job.state.as_left
    assert answer is not None
    assert not {"coarse_stock", "no_stock", "no_total"} & {note.code for note in answer.warnings}


def test_a_free_table_is_tapped_front_to_back_too() -> None:
    job = _swept(FREE, FRONT_HIGH_SIX)
    assert job.say("plus six") == f"Front plus six. {tap.EASE_THERE}"
    assert job.say("done") == "Soft mallet. Tap front down to plus three."
    assert job.say("plus five") == "Front plus five. Two more."
    assert job.say("plus three").endswith("Lock it. Front?")


def test_the_head_is_held_and_not_the_table() -> None:
    job = TypedJob.begin(HEAD)
    assert job.say("yes", "yes") == safety.HEAD_HELD
    assert job.say("no").startswith(safety.HOLD_HEAD_FIRST)
    job.say("yes")
    assert job.say("yes") == lock.LOCK_HEAD


def test_a_locating_pin_comes_out_once_before_the_first_correction() -> None:
    job = _swept(PINNED, ("plus five and a half", "plus seven", "plus one and a half", "zero"))
    assert job.said.endswith(pin.PIN_OUT)
    assert job.step == Step("pull pin", what="locating pin")
    assert job.say("done") == f"{TRIAL_SHIM} {shim.LOOSEN}"
    job.say("done", "done", "locked", "zeroed", *RIGHT_HIGH_SIX)
    assert job.said.endswith(tap.ease("right"))


def test_a_level_pinned_table_keeps_its_pin() -> None:
    job = _swept(PINNED, LEVEL)
    assert job.state.phase is Close.DECIDE
    assert not job.state.pin_out


def test_a_head_by_keypad_alone() -> None:
    job = TypedJob.begin(HEAD)
    reached = []
    for keys in (
        "enter enter enter enter enter enter",
        "+ 3 enter + 6 enter + 3 enter 0 enter",
        "enter - 2 enter",
        "- 2 enter",
    ):
        job.press(keys)
        reached.append(job.state.phase)
    assert reached == [Sweeping.SWEEP, Head.SNUG_UP, Head.CLAMP, Sweeping.ZERO]


@pytest.mark.parametrize("layout", LAYOUTS, ids=lambda layout: layout.name)
def test_every_layout_is_set_in_its_own_way(layout: object) -> None:
    kinds: dict[str, MachineKind] = {
        "knee mill": "head", "free table": "free", "drill press with a locating pin": "pinned",
        "radial drill": "packed", "vise on a table": "packed",
    }  # fmt: skip
    name = getattr(layout, "name", "")
    for units in ("inch", "metric"):
        profile = preset(name, "inch" if units == "inch" else "metric")
        assert profile is not None
        assert profile.kind == kinds.get(name, "bolted")
        assert bool(profile.stock) is (profile.kind in ("bolted", "pinned", "packed"))


def test_what_a_mill_is_held_to_is_told_finer_than_half_a_thou() -> None:
    profile = preset("knee mill", "inch")
    assert profile is not None
    assert spoken_step(profile) == profile.scale.step < SPOKEN_STEP
    assert spoken_step(Profile()) == SPOKEN_STEP


def test_settling_a_head_tightens_its_bolts_again() -> None:
    job = TypedJob.begin(HEAD)
    job.say(*READY[:-1], "settle")
    assert job.say("skip") == noise.tighten_again("right")
