"""The words about how sure a verdict is."""

from math import inf

import pytest

from assistant.metrology.problem import Noise
from assistant.metrology.solve import solve
from assistant.records.readings.answer_text import answer_text
from assistant.records.report.proof_text import proof_text
from tests.metrology.sweeps import length, sweep

# One standard uncertainty of a difference: 0.5 sqrt 2.
KNOWN = Noise(reading_sd=length("0.5"), reading_dof=inf, resolution=length("0.001"))


def test_the_guard_band_is_told_with_what_it_proves() -> None:
    """Four less 1.645 u, u being 0.707, is 2.84 for one axis (ISO 14253-1 rule).

    The other axis has its share of the disc, too: a little less is proven, and from less on.
    """
    text = answer_text(solve(sweep("0 1 2 1", tolerance="4", noise=KNOWN, diameter=None)))
    assert "verdict        within the tolerance" in text
    assert "proven within up to 2.7" in text
    assert "(guard band 1.2" in text
    assert "beyond from 5." in text


@pytest.mark.parametrize(
    ("front", "probability"), [("0", "over 99.9 %"), ("4", "50 %"), ("16", "under 0.1 %")]
)
def test_the_probability_is_never_certainty(front: str, probability: str) -> None:
    """At its very limit a tilt is within as likely as not, a little less for the second axis."""
    half = str(int(front) // 2)
    found = solve(sweep(f"0 {half} {front} {half}", tolerance="4", noise=KNOWN))
    told = proof_text(found.judgement, str)
    if front == "4":
        assert found.judgement.probability == pytest.approx(0.46, abs=0.05)
    else:
        assert f"with a probability of {probability};" in told


def test_without_a_tolerance_nothing_is_said_to_be_proven() -> None:
    assert proof_text(solve(sweep("0 1 2 1")).judgement, str) == ""


def test_noise_that_can_prove_nothing_is_said_so() -> None:
    answer = solve(sweep("0 0 0 0", tolerance="0.5", noise=KNOWN))
    assert "no table could be proven square" in proof_text(answer.judgement, str)
