"""The dial at the watched station: read before a tap or a move and after it is tight (invented)."""

from dataclasses import replace
from decimal import Decimal
from random import Random

import pytest

from assistant.dialogue.formatting import rounded
from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Step
from assistant.dialogue.missed import EXCHANGED, MOVED, SIDES_EXCHANGED
from assistant.dialogue.procedures.head import NOD_SNUG_THERE, Head
from assistant.dialogue.procedures.sweep import Sweeping, drifted
from assistant.dialogue.procedures.tap import (
    CORRECTION,
    EASE_THERE,
    HOLD_AND_SLACK,
    LOCK_GIVES,
    NOTHING_TO_TAP,
    SEIZED_SIDES,
    Tap,
    ease,
    lock_and_call,
    locking_jumped,
    locking_moved,
    tap_past,
)
from assistant.dialogue.returns import SLIPPED
from assistant.dialogue.view import view
from assistant.dialogue.watching import before_moving
from assistant.dialogue.wording import NOT_WHILE_LOOSE, call_again
from assistant.metrology.lengths import Length
from grammar.numerals import number_words
from grammar.scale import Scale
from tests.dialogue.typed import HEAD, LEVEL, READY, TypedJob

RIGHT_HIGH = ("plus five", "zero", "minus five", "zero")
FINE = Profile(scale=Scale("thou", 30, Decimal("0.5")), tolerance=Length.of(1, "thou"))


def _swept(readings: tuple[str, ...] = RIGHT_HIGH, profile: Profile | None = None) -> TypedJob:
    job = TypedJob.begin() if profile is None else TypedJob.begin(profile)
    job.say(*READY, "zeroed", *readings)
    return job


def _tapped(job: TypedJob) -> TypedJob:
    """Locked once more, and swept level, so that the sides are known from two sweeps."""
    job.say("plus five", "done", "zero", "zero", "zeroed")
    return job


def test_the_target_is_from_the_dial_as_it_stands_now() -> None:
    """It drifted by one since the sweep: tapped to what the sweep showed, that went in doubled."""
    job = _swept()
    assert job.said.endswith(before_moving("right"))
    assert job.say("plus six") == f"Right plus six. {EASE_THERE}"
    assert job.step == Step("loosen", what="table lock", station="right")
    assert job.say("done") == "Soft mallet. Tap right down to plus one."
    assert job.step == Step("tap", station="right", change=Decimal(-5), dial_target=Decimal(1))
    assert job.state.taps.goal == 1


def test_without_a_reading_it_is_tapped_as_the_sweep_says() -> None:
    job = _swept()
    assert job.say("done") == f"{HOLD_AND_SLACK} Soft mallet. Tap right down to zero."


def test_the_dial_is_not_sent_where_it_was_just_read() -> None:
    job = _swept()
    assert view(job.state).headline == "RIGHT"
    assert job.say("plus five") == f"Right plus five. {EASE_THERE}"
    assert view(job.state).headline == "EASE"
    # Swept since, it stands at the back.
    job.say("done", "zero", "zero", "zeroed")
    assert job.say("plus two", "zero", "minus two", "zero").endswith(ease("right"))


def test_nor_the_dial_on_a_head() -> None:
    job = TypedJob.begin(HEAD)
    job.say(*READY, "zeroed", "plus three", "plus six", "plus three", "zero")
    assert view(job.state).headline == "FRONT"
    assert job.say("plus six") == f"Front plus six. {NOD_SNUG_THERE}"
    assert view(job.state).headline == "SNUG"


def test_it_can_be_read_again_and_taken_back() -> None:
    job = _swept()
    job.say("plus four")
    assert job.say("plus six") == f"Right plus six. {EASE_THERE}"
    assert job.say("disregard") == before_moving("right")
    job.say("plus five")
    assert job.say("left plus five").startswith("Watch the right now.")
    job.say("done")
    assert job.step is not None
    assert job.step.dial_target == 0


def test_whoever_has_loosened_it_cannot_read_it_any_more() -> None:
    job = _swept()
    job.say("done", "disregard")
    assert job.state.phase is Tap.EASE
    assert job.say("plus five").startswith(NOT_WHILE_LOOSE)


def test_it_is_asked_where_it_pays_only() -> None:
    """Of the first sweep, which nothing confirms, and of a dial that is seen to wander."""
    job = _tapped(_swept())
    assert job.say("plus two", "zero", "minus two", "zero").endswith(ease("right"))
    job = _tapped(_swept())
    wandered = job.say("plus three", "plus half", "minus two", "plus one")
    assert wandered.endswith(before_moving("right"))


def test_sides_that_changed_places_in_the_first_sweep_show_before_anything_is_moved() -> None:
    job = _swept()
    assert job.say("minus five") == f"Right minus five. {call_again('right')}"
    said = job.say("minus five")
    assert SIDES_EXCHANGED in said
    assert job.state.phase is Sweeping.ZERO
    assert [sweep.refused for sweep in job.state.sweeps] == [EXCHANGED]
    # Once it is told it stands: the next one is tapped from what the dial shows.
    job.say("zeroed", *RIGHT_HIGH, "minus five")
    assert SLIPPED in job.say("minus five")
    job.say("done")
    assert job.step is not None
    assert job.step.dial_target == -10


CORNERS = tuple(Decimal(value) for value in ("3", "2", "-6", "-6.5", "-4"))
"""Read on from right high: the same slope on a dial that falls by four meanwhile."""


def _read_on(corners: tuple[Decimal, ...]) -> TypedJob:
    job = _swept()
    *before, last = job.state.sweeps
    job.state = replace(job.state, sweeps=(*before, replace(last, corners=corners)))
    return job


def test_what_was_called_opposite_drifted_on_as_well() -> None:
    """The right shows plus one now, and the left minus nine: minus three is nearer to the right."""
    level = (*[Decimal(0)] * 4, Decimal(-4))
    for corners, mirrored in ((CORNERS, False), (level, True)):
        said = _read_on(corners).say("minus three", "minus three")
        assert (SIDES_EXCHANGED in said) == mirrored


def test_sides_that_all_other_readings_bear_out_did_not_change_places() -> None:
    """It shows what was called opposite, drift and all; by the sweep alone that would be it."""
    shows = ("minus eight and a half", "minus eight and a half")
    assert SIDES_EXCHANGED not in _read_on(CORNERS).say(*shows)
    by_itself = _swept()
    assert SIDES_EXCHANGED in by_itself.say("minus five and a half", "minus five and a half")


def test_what_is_far_from_both_sides_is_no_exchange() -> None:
    """Fifteen was called for five: minus seven and a half opposite, and five is neither."""
    job = _swept(("plus fifteen", "plus four", "minus seven and a half", "zero"))
    assert SIDES_EXCHANGED not in job.say("zero", "zero")


def test_a_call_that_was_wrong_is_found_out_by_asking_again() -> None:
    job = _swept()
    job.say("minus five")
    assert job.say("plus five").endswith(f"five. {EASE_THERE}")


def test_a_dial_that_moved_by_more_than_any_sweep_may_is_swept_again() -> None:
    job = _swept()
    job.say("plus fourteen")
    assert drifted("right", "nine") in job.say("plus fourteen")
    assert [sweep.refused for sweep in job.state.sweeps] == [MOVED]
    assert job.state.phase is Sweeping.ZERO


def test_what_locking_did_is_tapped_again_at_once_and_allowed_for() -> None:
    job = _swept()
    job.say("plus five", "done")
    assert job.say("zero").endswith(lock_and_call("right"))
    said = job.say("minus two")
    assert locking_moved(Decimal(-2)) in said
    assert said.endswith(f"Once more. {EASE_THERE}")
    assert job.state.loosened
    assert -2 < job.state.taps.pull < -0.5
    said = job.say("done")
    assert tap_past("one", False) in said
    assert job.step is not None
    assert job.step.dial_target == 1
    assert job.say("plus one").endswith(lock_and_call("right"))
    assert job.say("zero").endswith("Say zeroed.")
    job.say("zeroed", *LEVEL)
    done = job.state.taps.done
    assert [(tap.change, tap.before, tap.after) for tap in done] == [(Decimal(-5), 10.0, 0.0)]


def test_what_little_locking_does_is_left_to_the_sweep() -> None:
    job = _swept()
    job.say("plus five", "done", "zero")
    assert job.say("minus one").endswith("Say zeroed.")


def test_where_locking_is_given_up_it_is_tightened_first() -> None:
    job = _swept()
    job.say("plus five", "done", "zero", "minus two")
    job.say("skip", "yes")
    assert job.state.phase.value == "tighten again"


def test_a_lock_that_lands_anywhere_is_told() -> None:
    job = _swept()
    job.say("plus five", "done", "zero", "minus six")
    assert LOCK_GIVES in job.said
    assert job.state.causes.loose == 1
    # What it did teaches nothing, and what comes after it stands.
    job.say("locked", "zeroed", *RIGHT_HIGH)
    assert job.state.taps.done == ()
    assert job.state.taps.pulls == ()


def test_a_table_that_taps_do_not_move_is_not_tapped_once_more_for_it() -> None:
    job = _swept()
    job.say("plus five", "done", *["plus five and a half"] * 6)
    assert SEIZED_SIDES in job.said
    assert job.say("plus five").endswith("Say zeroed.")


def test_a_dial_that_wanders_tells_nothing_of_the_lock() -> None:
    job = _swept(("plus five", "zero", "minus five", "plus one and a half"), Profile())
    job.say("plus six", "done")
    assert job.say("right zero", "right plus half", "right plus one").endswith("Say locked.")


@pytest.mark.parametrize("kind", ["head", "free"])
def test_a_head_is_read_before_it_is_moved_as_well(kind: str) -> None:
    profile = HEAD if kind == "head" else replace(HEAD, kind="free")
    job = _swept(("plus three", "zero", "minus three", "zero"), profile)
    assert job.state.phase is Head.SNUG_UP
    assert job.said.endswith(before_moving("right"))
    job.say("plus four", "done")
    assert job.step is not None
    assert job.step.dial_target == 1
    assert job.state.moving.start == 4
    assert job.state.moving.goal == 1


def test_no_move_is_aimed_beyond_the_dial() -> None:
    reach = HEAD.scale.reach
    far = ("plus fourteen", "zero", "minus fourteen", "zero")
    job = _swept(far, replace(HEAD, pivot_offset=Length.of(-5, "in")))
    assert job.say("plus fourteen").startswith("Right plus fourteen.")
    job.say("done")
    assert job.step is not None
    assert job.step.dial_target is not None
    assert abs(job.step.dial_target) <= reach


def test_nobody_is_told_to_tap_to_where_the_dial_is() -> None:
    """Drawn sweeps, over dials that wander: every target is off what the dial shows by a mark."""
    random = Random(7)
    tapped = 0
    for _ in range(120):
        high, wandered = random.randint(-9, 9), random.choice((0, 1, -1, 2, -2))
        job = TypedJob.begin(FINE)
        job.say(*READY, "zeroed")
        for half in (high, random.randint(-2, 2), wandered - high, wandered):
            job.say(_called(Decimal(half) / 2))
        step = job.state.plan.step if job.state.plan else None
        if job.state.phase is Tap.EASE and step and step.dial_target is not None:
            tapped += 1
            assert job.state.as_left is not None
            tap = job.state.as_left.tap
            assert tap.dial_target is not None
            assert step.dial_target != rounded(tap.dial_target - tap.change, Decimal("0.5"))
            said = job.say(_called(step.dial_target))
            told = job.state.plan.step.dial_target if job.state.plan else None
            assert told != step.dial_target or NOTHING_TO_TAP in said or "again?" in said
    assert tapped > 12


def test_half_a_mark_is_not_tapped() -> None:
    """The dial stands between two marks, and shows the one that it should come to."""
    job = _swept(("minus two", "zero", "plus two", "plus one"), FINE)
    answer = job.state.as_left
    assert answer is not None
    assert answer.tap.dial_target is not None
    assert answer.tap.dial_target - answer.tap.change == pytest.approx(-1.25)
    for off, told in ((0.25, 0), (0.75, 1)):
        known = replace(job.state.taps, pull=answer.tap.change + off)
        assert len(CORRECTION.plan(replace(job.state, taps=known), answer)) == told


def _called(value: Decimal) -> str:
    sign = "plus " if value > 0 else "minus " if value < 0 else ""
    return f"{sign}{number_words(abs(value))}"


def test_what_the_dial_does_not_reach_is_not_expected() -> None:
    """Derived: about a pivot seven inches to the left of five it takes 9 (1 + 7/5) = 21.6 at the
    right; from minus nine the dial shows 19 of them, which leave 18 - 19 * 2 / 2.4."""
    profile = replace(
        FINE,
        scale=Scale("thou", 10, Decimal("0.5")),
        tolerance=Length.of(4, "thou"),
        pivot_offset=Length.of(-7, "in"),
    )
    job = _swept(("minus nine", "zero", "plus nine", "zero"), profile)
    plan = job.state.plan
    assert plan is not None
    assert plan.step.dial_target == 10
    assert plan.expected_rl == pytest.approx(-(18 - 19 * 2 / 2.4), abs=0.3)


def test_a_pull_that_was_called_wrongly_is_not_believed_without_end() -> None:
    """Twenty eight for two and a half: it is aimed off by three thou, or by as much as the move."""
    job = _swept(("plus two", "zero", "minus two", "zero"), HEAD)
    job.say("plus two", "done", "zero", "plus twenty eight")
    job.say("done")
    assert job.step is not None
    assert job.step.dial_target == -3


def test_a_wandering_dial_is_not_tapped_after() -> None:
    """What it wanders by may be all that locking seems to do."""
    retapped = []
    for closing in ("zero", "plus one"):
        job = _swept(("plus five", "zero", "minus five", closing), Profile())
        job.say("plus five", "done")
        assert job.step is not None
        assert job.step.dial_target is not None
        job.say(_called(job.step.dial_target), _called(job.step.dial_target + Decimal("1.5")))
        retapped.append(job.state.phase is Tap.EASE)
    assert retapped == [True, False]


def test_done_in_place_of_the_reading_is_still_told_to_hold_the_table() -> None:
    """Nobody is sent to tap before the caution was said (common practice, no source)."""
    job = TypedJob.begin()
    assert "Hold the table" not in job.say(*READY, "zeroed", *RIGHT_HIGH)
    said = job.say("done")
    assert said.startswith("Hold the table. Slack the lock, keep some drag. Soft mallet.")
    assert [effect.do for effect in job.effects if isinstance(effect, Step)] == ["loosen", "tap"]
    head = TypedJob.begin(HEAD)
    assert "Support" not in head.say(*READY, "zeroed", *RIGHT_HIGH)
    assert head.say("done").startswith("Support the head. Bolts just snug. ")


def test_a_dial_that_jumps_while_locking_is_not_tapped_after() -> None:
    """Once it locked without moving; four of a sudden may be the dial, and a sweep tells."""
    job = _swept(RIGHT_HIGH, Profile())
    job.say("plus five", "done", "zero", "zero", "zeroed")
    job.say("plus three", "zero", "minus three", "zero", "done", "minus two")
    known = job.state.taps
    said = job.say("plus two")
    assert said.startswith(f"Right plus two. {locking_jumped(Decimal(4))}")
    assert job.state.phase is Sweeping.ZERO
    # Neither pivot nor lock is learnt of the jump.
    job.say("zeroed", *LEVEL)
    assert job.state.taps.pulls == known.pulls
    assert job.state.taps.done == known.done


@pytest.mark.parametrize("word", ["no", "yes", "locked"])
def test_a_word_where_the_dial_is_to_be_read_is_told_so(word: str) -> None:
    job = _swept()
    assert job.say(word) == f"Type the number, or skip. {before_moving('right')}"
    job.say("plus five")
    assert job.say(word) == "Type done when it is."
    job.say("done")
    assert job.say(word).startswith("Type the number.")
    job.say("zero")
    if word != "locked":
        assert job.say(word) == f"Type the number. {lock_and_call('right')}"
