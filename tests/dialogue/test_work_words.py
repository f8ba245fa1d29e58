"""What a tilt means at the work: spoken, and in print."""

from dataclasses import replace
from decimal import Decimal

import pytest

from assistant.dialogue.machine import Profile
from assistant.metrology.lengths import Length
from assistant.metrology.solve import solve
from assistant.records.readings.answer_text import answer_text
from assistant.records.report.lean_text import depth_text
from assistant.simulation.bench import profile_for
from tests.dialogue.typed import LEVEL, READY, USUAL, TypedJob
from tests.metrology.sweeps import sweep


def lean_said(profile: Profile, *readings: str) -> str:
    """The last sentence of the status after one sweep."""
    job = TypedJob.begin(profile)
    job.say(*READY, "zeroed", *readings)
    said = job.say("status")
    return next(sentence for sentence in said.split(". ") if sentence.startswith("A "))


@pytest.mark.parametrize(
    ("readings", "said"),
    [
        # Five in ten inches are one in two (similar triangles, derived). The drill goes straight
        # down through work that slopes: it comes out on the low side.
        (("minus two and a half", "minus five", "minus two and a half", "zero"),
         "A two inch hole leans one thou to the front"),
        (("plus five", "plus ten", "plus five", "zero"),
         "A two inch hole leans two thou to the back"),
        (("plus six", "zero", "minus six", "zero"),
         "A two inch hole leans two and a half thou to the left"),
        (("zero", "minus six", "minus six", "zero"),
         "A two inch hole leans one and a half thou to the front left"),
    ],
)  # fmt: skip
def test_the_lean_of_a_hole_is_told_in_status(readings: tuple[str, ...], said: str) -> None:
    assert lean_said(Profile(), *readings).rstrip(".") == said


def test_inside_the_noise_only_the_most_is_told() -> None:
    """One and a half of uncertainty in ten inches is three tenths in two: under half a thou."""
    assert lean_said(USUAL, *LEVEL).startswith("A two inch hole leans under half a thou")


def test_metric_and_a_depth_of_the_persons_own() -> None:
    known = tuple(Decimal(value) for value in ("0", "1", "-1", "0", "1"))
    metric = replace(profile_for("mm"), hole_depth=Length.of(100, "mm"), surface=known)
    said = lean_said(metric, "minus five", "minus ten", "minus five", "zero")
    assert said.startswith("A one hundred millimetre hole leans four hundredths to the front")


def test_the_last_words_tell_the_lean_as_left() -> None:
    job = TypedJob.begin()
    said = job.say(*READY, "zeroed", *LEVEL, "yes", "done")
    assert said.endswith("and still is. A two inch hole leans under half a thou.")


def test_depths_are_fractions_of_an_inch() -> None:
    assert depth_text(Length.of(Decimal("0.75"), "in"), inch=True) == "3/4 in"
    assert depth_text(Length.of(Decimal("2"), "in"), inch=True) == "2 in"


def test_the_written_answer_tells_where_the_drill_comes_out() -> None:
    """0.1 in 300 mm is 69 seconds, and a sixtieth of a millimetre in fifty (derived)."""
    text = answer_text(solve(sweep("0 0.05 0.1 0.05", unit="mm", diameter="300 mm")))
    assert "0.1 mm per 300 mm, 4 thou per foot, 68.8 seconds of arc (0° 1′ 9″)" in text
    assert "a hole 50 mm deep comes out 0.017 mm to the back" in text
