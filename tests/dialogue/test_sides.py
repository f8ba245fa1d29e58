"""Sides of a sweep that may have changed places: one station is asked for once more (invented)."""

from dataclasses import replace
from decimal import Decimal

import pytest

from assistant.dialogue.machine import Profile
from assistant.dialogue.missed import (
    ENDS_EXCHANGED,
    EXCHANGED,
    MOVED,
    SIDES_EXCHANGED,
)
from assistant.dialogue.procedures.form import Form, form_moved
from assistant.dialogue.procedures.lock import Lock
from assistant.dialogue.procedures.sides import Sides, once_more
from assistant.dialogue.procedures.sweep import Sweeping, corrected
from tests.dialogue.typed import READY, TypedJob


def _shimmed(first: tuple[str, ...], then: tuple[str, ...]) -> tuple[TypedJob, str]:
    """A sweep, a shim that is to take its front to back off, and the sweep after it."""
    job = TypedJob.begin(Profile())
    job.say(*READY, "zeroed", *first, "zero")
    job.say("done", "done", "locked", "zeroed")
    return job, job.say(*then, "zero")


LEFT_HIGH = ("minus two", "minus twelve", "minus ten")
MIRRORED = ("minus four", "zero", "plus four")
"""Twelve high at the back and eight at the right; the back taken off, and eight at the left."""


@pytest.mark.parametrize(
    ("first", "then", "doubted"),
    [
        (("minus four", "minus twelve", "minus eight"), ("minus two", "zero", "plus two"), True),
        # As it was, or hardly out of level: no call is worth that.
        (("minus four", "minus twelve", "minus eight"), ("plus two", "zero", "minus two"), False),
        (("minus six", "minus twelve", "minus six"), ("minus half", "zero", "plus half"), False),
    ],
)
def test_a_side_is_asked_for_once_more_where_sides_seem_to_have_changed_places(
    first: tuple[str, ...], then: tuple[str, ...], doubted: bool
) -> None:
    job, said = _shimmed(first, then)
    assert (job.state.phase is Sides.ONCE_MORE) == doubted
    assert (once_more("right") in said) == doubted
    assert SIDES_EXCHANGED not in said


def test_what_the_side_shows_tells_whether_they_had() -> None:
    job, _ = _shimmed(LEFT_HIGH, MIRRORED)
    said = job.say("plus four")
    assert SIDES_EXCHANGED in said
    assert job.state.sweeps[-1].refused == EXCHANGED
    assert job.state.phase is Lock.LOCK
    # It is swept again from where it was: the shim is still to be weighed.
    assert job.state.plan is not None
    job, _ = _shimmed(LEFT_HIGH, MIRRORED)
    said = job.say("minus four")
    assert SIDES_EXCHANGED not in said
    assert job.state.sweeps[-1].usable
    assert len(job.state.sweeps) == 2


def test_a_call_that_was_wrong_is_put_right_by_what_the_side_shows() -> None:
    """Neither minus four, as called, nor the plus four of the left: the call itself was wrong."""
    job, _ = _shimmed(LEFT_HIGH, MIRRORED)
    said = job.say("plus twelve")
    assert said.startswith(corrected("right", Decimal(12)))
    assert SIDES_EXCHANGED not in said
    assert job.state.phase is Sweeping.SWEEP
    assert job.state.doubts.read_again == ("right",)
    assert {one.station: one.value for one in job.state.readings}["right"] == 12


def test_sides_that_are_read_so_twice_are_as_they_are() -> None:
    job, _ = _shimmed(LEFT_HIGH, MIRRORED)
    assert SIDES_EXCHANGED in job.say("plus four")
    said = job.say("locked", "zeroed", *MIRRORED, "zero")
    assert job.state.phase is not Sides.ONCE_MORE
    assert SIDES_EXCHANGED not in said
    assert job.state.sweeps[-1].usable


def test_not_wanted_it_stands_and_taken_back_the_sweep_goes_on() -> None:
    job, _ = _shimmed(LEFT_HIGH, MIRRORED)
    begun = replace(job, events=[*job.events])
    job.say("skip")
    assert job.state.sweeps[-1].usable
    assert len(job.state.sweeps) == 2
    job = replace(begun, events=[*begun.events])
    job.say("disregard")
    assert job.state.phase is Sweeping.SWEEP
    assert job.state.awaited == "back"
    job = replace(begun, events=[*begun.events])
    assert job.say("left plus four").startswith("Watch the right")
    assert job.state.phase is Sides.ONCE_MORE


# -- by what was read between the stations -----------------------------------------------

FRONT_LOW = ("minus one and a half", "minus three", "minus one and a half", "zero")
"""Three high at the back by the four, with the corners three high at the front."""


def _between(first: tuple[str, ...], *corners: str) -> tuple[TypedJob, str]:
    job = TypedJob.begin(Profile())
    job.say(*READY, "zeroed", *first)
    assert job.state.phase is Form.CORNERS
    return job, job.say(*corners)


HIGH = ("minus two", "plus two", "plus two", "minus two")
"""Corners of a table whose front is high by three, from a zero at its middle."""


def test_corners_that_contradict_the_four_ask_for_the_front() -> None:
    level = ("minus two", "minus two", "minus two", "minus two")
    job, _ = _between(FRONT_LOW, *level, "zero")
    assert job.state.phase is not Sides.ONCE_MORE
    # Zeroed at the front, which is three high: the back is three lower, so are the corners there.
    lower = ("minus three", "zero", "zero", "minus three")
    job, said = _between(FRONT_LOW, *lower, "minus three")
    assert once_more("front") in said
    assert ENDS_EXCHANGED in job.say("zero")
    assert not job.state.sweeps[-1].usable
    assert job.state.phase is Sweeping.ZERO


def test_a_front_that_shows_neither_is_swept_again() -> None:
    lower = ("minus three", "zero", "zero", "minus three")
    job, _ = _between(FRONT_LOW, *lower, "minus three")
    said = job.say("plus nine")
    assert ENDS_EXCHANGED not in said
    assert "Front moved" in said
    assert [sweep.refused for sweep in job.state.sweeps] == [MOVED]


def test_the_front_that_shows_what_was_called_there_lets_the_sweep_stand() -> None:
    lower = ("minus three", "zero", "zero", "minus three")
    job, _ = _between(FRONT_LOW, *lower, "minus three")
    said = job.say("minus six")
    assert ENDS_EXCHANGED not in said
    assert len(job.state.sweeps) == 1
    assert job.state.sweeps[-1].usable


@pytest.mark.parametrize("called", [True, False])
def test_a_return_too_far_off_is_no_slip_where_the_zero_was_at_the_front(called: bool) -> None:
    """Six high at the front, and zeroed there; read again at the back the dial shows six less."""
    first = ("minus three", "minus six", "minus three", "zero")
    job = TypedJob.begin(Profile())
    job.say(*READY, "zeroed", *first)
    looked = replace(job.state.form, for_tilt=True)
    job.state = replace(job.state, phase=Form.CORNERS, form=looked, plan=None)
    corners = ("minus five", "minus one", "minus one", "minus five")
    level = ("minus three", "minus three", "minus three", "minus three")
    said = job.say(*(corners if called else level), "minus six" if called else "plus six")
    assert (form_moved("back") in said) != called
    assert (once_more("front") in said) == called
    if called:
        assert ENDS_EXCHANGED in job.say("zero")
