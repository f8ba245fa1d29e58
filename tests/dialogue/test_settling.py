"""Settle: the noise measured by voice, used at once and told to the shell."""

from dataclasses import replace
from decimal import Decimal

from assistant.dialogue.formatting import amount
from assistant.dialogue.machine import Instrument, Profile
from assistant.dialogue.messages import Learned
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.lock import Lock
from assistant.dialogue.procedures.noise import NEXT_SPOT, OR_DONE, Settling
from assistant.dialogue.questions import asked_now, offer_now
from assistant.dialogue.spots import SPOTS
from assistant.dialogue.state import AskReading
from assistant.dialogue.sweep_answer import noise_of, reading_known
from assistant.metrology.lengths import Length
from assistant.metrology.scatter import relock_scatter, surface_scatter
from grammar.meaning import Command
from grammar.numerals import number_words
from grammar.scale import Scale
from tests.dialogue.typed import READY, TypedJob

SMALL = replace(Profile(), sweep_diameter=Length.of(4, "in"))
METRIC = Profile(scale=Scale("mm", 50, Decimal("0.5")))


def _settled() -> TypedJob:
    job = TypedJob.at(Settling.SURFACE)
    job.say("plus one", "zero", "plus half", "done")
    job.say("plus one", "plus three", "minus one", "disregard", "zero", "done")
    job.say("plus two")
    assert job.say("plus four").startswith(
        "Plus four. Surface one and a half, locking four, lock pull two."
    )
    return job


def test_the_three_measurements_end_at_the_lock() -> None:
    job = _settled()
    assert job.state.phase is Lock.LOCK
    profile = job.state.profile
    assert profile.surface == (Decimal(1), Decimal(0), Decimal("0.5"))
    assert profile.relock == (Decimal(1), Decimal(3), Decimal(0))
    assert profile.lock_pull == 2
    assert Learned(profile) in job.effects


def test_what_was_measured_is_what_the_answer_is_weighed_by() -> None:
    noise = noise_of(_settled().state.profile)
    assert [value.to("thou") for value in noise.surface] == [1, 0, Decimal("0.5")]
    assert noise.lock_pull == Length.of(2, "thou")


def test_the_spots_lie_as_far_apart_as_they_are_asked_for() -> None:
    for profile, words, apart in (
        (Profile(), "eight spots, an inch apart, clockwise.", Length.of(1, "in")),
        (SMALL, "eight spots, half an inch apart, clockwise.", Length.of("0.5", "in")),
        (METRIC, "eight spots, thirty millimetres apart, clockwise.", Length.of(30, "mm")),
    ):
        job = TypedJob.begin(profile)
        job.say(*READY[:-1])
        assert f"Dial to {words}" in job.say("settle")
        assert noise_of(profile).surface_apart == apart
        assert words.startswith(number_words(Decimal(SPOTS)))


def test_as_many_spots_as_were_asked_for_are_enough() -> None:
    job = TypedJob.at(Settling.SURFACE)
    asked = []
    for _ in range(SPOTS):
        job.say("plus one")
        asked.append(asked_now(job.state))
    assert asked == [NEXT_SPOT] * (SPOTS - 1) + [OR_DONE]


def test_a_table_out_of_square_is_no_rougher_for_it() -> None:
    """It slopes along the spots; one that goes up and down by as much is rough."""
    even, rough = TypedJob.at(Settling.SURFACE), TypedJob.at(Settling.SURFACE)
    even.say("zero", "plus one", "plus two", "plus three", "done")
    rough.say("zero", "plus three", "plus one", "plus two", "done")
    assert 3 * reading_known(even.state.profile).sd < reading_known(rough.state.profile).sd


def test_what_is_told_is_what_is_reckoned_with() -> None:
    """A line through the readings, a dial that drifts or a table that slopes, is in neither.

    Locking by hand: off the line through 1, 3, 0 lie -5/6, 5/3, -5/6, of one degree of freedom;
    twice the root of 25/6 is 4.1.
    """
    drifting = ("zero", "plus one", "plus two", "plus three", "plus four")
    for spots, relocked, told in (
        (drifting, drifting, "Surface half, locking half."),
        (("zero", "plus four", "plus one"), drifting, "locking half."),
        (drifting, ("plus one", "plus three", "zero"), "locking four."),
    ):
        job = TypedJob.at(Settling.SURFACE)
        job.say(*spots, "done", *relocked, "done")
        assert told in job.say("skip")
        surface = surface_scatter(noise_of(job.state.profile), "thou", 0.5)
        assert f"Surface {amount(2 * surface.sd, Decimal('0.5'))}," in job.said


def test_within_a_narrow_tolerance_it_is_told_as_finely_as_other_figures() -> None:
    """Tenths of a thou would all be half a thou, or nothing."""
    dial, tolerance = Scale("thou", 15, Decimal("0.1")), Length.of(1, "thou")
    fine = replace(Profile(), scale=dial, tolerance=tolerance)
    job = TypedJob.at(Settling.RELOCK, fine)
    job.say("zero", "plus point two", "minus point two", "zero", "plus point one", "done")
    job.say("plus point one")
    # Off their line: variance 0.029, less rounding 0.0008; twice the root is 0.33.
    assert "Locking zero point three, lock pull zero point four." in job.say("minus point three")


def test_a_wider_scatter_makes_a_wider_answer() -> None:
    plain = TypedJob.at(Close.DECIDE)
    rough = _settled()
    rough.say("locked", "zeroed", "zero", "zero", "zero", "zero")
    assert plain.state.as_left is not None
    assert rough.state.as_left is not None
    assert rough.state.as_left.expanded_uncertainty > 2 * plain.state.as_left.expanded_uncertainty


def test_too_few_readings_are_not_a_scatter() -> None:
    job = TypedJob.at(Settling.SURFACE)
    job.say("plus one", "plus two")
    assert job.say("done").startswith("Three readings at least.")
    assert job.state.phase is Settling.SURFACE


def test_skipping_all_changes_nothing() -> None:
    job = TypedJob.at(Settling.SURFACE)
    before = job.state.profile
    job.say("skip", "skip")
    # What was measured in an earlier job is told.
    assert job.say("skip").startswith("Surface half, locking half.")
    assert job.state.profile == before


def test_no_sign_is_asked_here_too() -> None:
    job = TypedJob.at(Settling.SURFACE)
    assert job.say("two") == "Plus or minus two?"
    assert job.say("minus") == "Minus two."
    assert job.state.settling == (Decimal(-2),)


def test_a_number_that_may_be_either_is_asked_about_and_is_noise_all_the_same() -> None:
    """Half a turn of a dial that counts one way round: up or down, and no reading of a sweep."""
    one_way = replace(Profile(), instrument=Instrument(face="continuous", per_turn=20))
    job = TypedJob.at(Settling.SURFACE, one_way)
    job.say("ten")
    assert isinstance(job.state.pending, AskReading)
    job.say("yes")
    assert job.state.phase is Settling.SURFACE
    assert job.state.readings == ()
    assert [abs(value) for value in job.state.settling] == [10]


def test_what_was_measured_ages() -> None:
    """Known two years ago it is worth fewer degrees of freedom than today."""
    eight = tuple(map(Decimal, ("0", "0.5", "-0.5", "0", "1", "-1", "0.5", "0")))
    known = replace(Profile(), surface=eight, relock=eight)
    old = replace(known, surface_days=731.0, relock_days=731.0)
    now, then = (reading_known(profile) for profile in (known, old))
    assert now.sd == then.sd
    assert then.dof < now.dof / 1.5
    # Measured again it is new, each by itself.
    job = TypedJob.begin(old)
    job.say("yes", "yes", "yes", "yes", "settle", "zero", "plus half", "minus half", "done")
    assert job.state.profile.surface_on == "2026-01-05"
    assert (job.state.profile.surface_days, job.state.profile.relock_days) == (0, 731)
    noise = noise_of(job.state.profile)
    assert (noise.days_old, noise.relock_days_old) == (0, 731)
    assert relock_scatter(noise, "thou", 0.5) == relock_scatter(noise_of(old), "thou", 0.5)
    assert relock_scatter(noise, "thou", 0.5) != relock_scatter(noise_of(known), "thou", 0.5)


def test_a_correction_replaces_the_last_spot() -> None:
    job = TypedJob.at(Settling.SURFACE)
    assert "correction" not in offer_now(job.state).commands
    job.say("plus one", "plus six")
    assert "correction" in offer_now(job.state).commands
    assert job.say("correction plus half") == "Now plus half."
    assert list(job.state.settling) == [1, Decimal("0.5")]
    assert job.hear("correction", Command("correction")) == f"Taken back. {NEXT_SPOT}"
    assert list(job.state.settling) == [1]
    job.say("zero", "zero", "done", "plus one", "correction plus two")
    assert job.state.phase is Settling.RELOCK
    assert list(job.state.settling) == [2]


def test_while_it_is_pulled_hard_a_correction_is_of_the_snug_reading() -> None:
    job = TypedJob.at(Settling.HARD)
    assert job.say("correction plus one") == "Now plus one."
    assert job.say("plus four").endswith(
        "lock pull three. Lock table, column and quill. Say locked."
    )
