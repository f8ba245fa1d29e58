"""The budget and the judgement of a sweep: hand-worked, and against Monte Carlo."""

from math import inf, sqrt

import numpy as np
import pytest

from assistant.metrology.budget import SweepEvidence, difference_factor, sweep_budget
from assistant.metrology.drift import shares_of, without_drift
from assistant.metrology.evidence import Swept
from assistant.metrology.judgement import as_expected, judge, stands_out, tolerance_region
from assistant.metrology.plane import StationHeight, fit_plane
from assistant.metrology.problem import Noise
from assistant.metrology.scatter import finest_step
from assistant.metrology.solve import solve
from assistant.metrology.uncertainty import Source, combined, effective_dof
from tests.metrology.sweeps import length, lengths, sweep

FOUR = (0.0, 90.0, 180.0, 270.0)
QUARTERS = (0.0, 0.25, 0.5, 0.75)
QUIET = Noise(reading_sd=length("0.5"), reading_dof=inf, resolution=length("0.5"))


def parts(noise: Noise, drift: float | None = None) -> dict[Source, tuple[float, float]]:
    shares = None if drift is None else QUARTERS
    sweep = Swept(FOUR, (0, 0, 0, 0), shares, drift)
    budget = sweep_budget(noise, "thou", 0.5, sweep, (3, 0), SweepEvidence())
    return {part.source: (part.u, part.dof) for part in budget.tilt.components}


def test_half_thou_dial() -> None:
    """Reading to half a thou: u 0.144, a difference of two sqrt 2 times (GUM F.2.2.1, derived)."""
    u, dof = parts(QUIET)["resolution"]
    assert u == pytest.approx(0.144 * sqrt(2), abs=5e-4)
    assert dof == inf


def test_each_source_by_hand() -> None:
    noise = Noise(
        surface=lengths("0 1 -1"),
        relock=lengths("0 2 1"),
        lock_pull=length("2"),
        indicator_limit=length("0.3"),
    )
    found = parts(noise)
    rounding = 0.25 / 12
    assert found["surface"] == pytest.approx((sqrt(2 * (1 - rounding)), 2))
    # A side station of a table hinged 1.3 radii behind the axis: half of sqrt(1 + 1.3^2) (derived).
    # 0 2 1 lies half, one and half off the line 0.5 1 1.5, which leaves one degree of freedom.
    assert found["relock"] == pytest.approx((sqrt(1.5 - rounding) / (sqrt(2.69) / 2), 1))
    assert found["lock_pull"] == pytest.approx((2 / sqrt(12) / (sqrt(2.69) / 2), inf))
    assert found["indicator"] == pytest.approx((0.3 / sqrt(3), inf))


def test_relock_factor_against_a_hinged_table() -> None:
    """Seeded nods about the column and tilts about the middle: scatter of the right station."""
    random = np.random.default_rng(10)
    front, right = random.normal(0, 0.7, (2, 100_000))
    station = right / 2 - front / 2 * (0 - 1.3)
    sd = float(np.std(station))
    noise = Noise(relock=lengths("0 2 1"), resolution=length("0.01"))
    factor = parts(noise)["relock"][0] / sqrt(1.5)
    assert sd * factor == pytest.approx(0.7, rel=0.01)


def test_a_dial_that_drifts_does_not_make_the_lock_scatter() -> None:
    """However far it goes on from one locking to the next; what is left by numpy's polyfit."""
    told = [0.0, 0.5, -0.5, 1.0, 0.0, -0.5]
    at = np.arange(len(told))
    square = float(np.polyfit(at, told, 1, full=True)[1][0]) / (len(told) - 2)
    sds = []
    for drift in (0.0, 0.5, -3.0):
        drifted = " ".join(f"{value + drift * k:g}" for k, value in enumerate(told))
        noise = Noise(relock=lengths(drifted), resolution=length("0.01"))
        u, dof = parts(noise)["relock"]
        assert dof == len(told) - 2
        sds.append(u * sqrt(2.69) / 2)
    assert sds == pytest.approx([sqrt(square - 0.25 / 12)] * 3)


def test_drift_adds_half_of_itself_as_a_rectangle() -> None:
    u, _ = parts(Noise(reading_sd=length("0"), resolution=length("0.5")), drift=4)["drift"]
    assert u == pytest.approx(sqrt(16 - 2 * 0.25 / 12) / (2 * sqrt(3)))
    # Two readings of one spot share its bumps: only rounding can part them by chance.
    assert parts(QUIET, drift=4)["drift"][0] == pytest.approx(u)
    assert "drift" not in parts(QUIET, drift=0.2)


def test_closing_the_sweep_carries_its_own_noise() -> None:
    """Three quarters of the variance from averaging at the first station, five from the rest.

    back-front: v2 - (v0 + c)/2, variance 1.5; left-right: v3 - v1 - (c - v0)/2, variance 2.5.
    """
    factor = difference_factor(FOUR, QUARTERS)
    assert np.diag(factor) == pytest.approx([1.5, 2.5])
    assert difference_factor(FOUR, None) == pytest.approx(np.diag([2.0, 2.0]), abs=1e-12)


@pytest.mark.parametrize("closed", [False, True])
def test_factor_against_monte_carlo(closed: bool) -> None:
    """Seeded readings through drift correction and fit, stations at uneven bearings."""
    random = np.random.default_rng(2)
    bearings = (10.0, 95.0, 170.0, 240.0, 330.0)
    seen = []
    for _ in range(4000):
        readings = random.normal(size=6)
        closing = readings[5] if closed else None
        level = without_drift([*readings[:5]], closing)
        plane = fit_plane(
            [StationHeight(b, float(h)) for b, h in zip(bearings, level, strict=True)]
        )
        seen.append((plane.front_minus_back, plane.right_minus_left))
    expected = np.cov(np.array(seen).T)
    shares = shares_of(range(5), 5) if closed else None
    assert difference_factor(bearings, shares) == pytest.approx(expected, abs=0.15)


def test_saddle_within_noise_joins_the_surface() -> None:
    """Scatter 1 of two dof and a saddle of 2 (2 / 2 = s 1, one dof): s 1 of three dof."""
    noise = Noise(surface=lengths("0 1 -1"), resolution=length("0.01"))
    answer = solve(sweep("0.5 -0.5 0.5 -0.5", noise=noise, diameter=None))
    shown = [c for c in answer.budget.front_minus_back.components if c.source in SHOWN]
    assert combined([part.u for part in shown]) == pytest.approx(sqrt(2), rel=0.05)
    dof = effective_dof([(part.u, part.dof) for part in shown])
    # What is judged of how readings repeat adds a little.
    assert dof == pytest.approx(3, abs=0.6)


SHOWN = ("surface", "reading")
"""What readings show of their scatter: the part of the spot, and the part that is redrawn."""


def test_saddle_beyond_noise_is_form() -> None:
    answer = solve(sweep("9 1 6 1", noise=QUIET))
    form = [part for part in answer.budget.tilt.components if part.source == "form"]
    assert form[0].u == pytest.approx(13 / 4 * sqrt(2))
    assert "saddle" in {notice.code for notice in answer.warnings}


def test_nothing_known_is_said_to_be_assumed() -> None:
    answer = solve(sweep("6 3 0 3"))
    assert "noise_assumed" in {notice.code for notice in answer.warnings}
    assert answer.budget.tilt.components[0].assumed
    assert not solve(sweep("6 3 0 3", noise=QUIET)).budget.tilt.components[0].assumed


def test_ordinary_drill_press_is_not_worth_chasing_below_ten() -> None:
    """Roughness moves the dial three, the lock a couple: about ten thou. Common practice, no
    source; all extremes added up (3 + 3 + 2 + 2). Added in squares it is between half of that and
    all of it."""
    noise = Noise(surface=lengths("0 1 3 2"), relock=lengths("0 2 1"), resolution=length("0.5"))
    small = solve(sweep("4 2 0 2", tolerance="4", noise=noise))
    large = solve(sweep("12 6 0 6", tolerance="4", noise=noise))
    assert small.inside_noise
    assert not small.judgement.front_matters
    assert not large.inside_noise
    assert large.judgement.front_matters
    assert not large.judgement.side_matters
    assert 4.5 < small.expanded_uncertainty < 10


def test_verdicts() -> None:
    for back, verdict in [("1", "within"), ("4", "undecided"), ("9", "beyond")]:
        answer = solve(sweep(f"{back} 0 0 {back}", tolerance="6", noise=QUIET))
        assert answer.verdict == verdict, back
    assert solve(sweep("6 3 0 3")).verdict is None


def test_finished_table() -> None:
    """All four stations within two thou: done. Common practice, no source."""
    answer = solve(sweep("0 1 1 0", closing="0", tolerance="4", noise=QUIET))
    assert answer.verdict == "within"
    assert not answer.judgement.front_matters


def test_front_may_be_high_only() -> None:
    """Front three high is within, front three low is not, though the tilt is the same."""
    region = tolerance_region(6, "high")
    fine = Noise(reading_sd=length("0.2"), resolution=length("0.1"))
    high = solve(sweep("0 1.5 3 1.5", noise=fine))
    low = solve(sweep("3 1.5 0 1.5", noise=fine))
    assert judge(3, 0, high.budget, region).verdict == "within"
    assert judge(-3, 0, low.budget, region).verdict == "beyond"
    assert judge(-3, 0, low.budget, tolerance_region(6, "low")).verdict == "within"


def test_tolerance_stated_over_another_length() -> None:
    """4 thou over 12 in is 2 thou over 6 in."""
    problem = sweep("0 0 0 0", diameter="6 in", tolerance="2", noise=QUIET)
    assert solve(problem).judgement.reject_from is not None


def test_unprovable_tolerance_is_said() -> None:
    noise = Noise(surface=lengths("0 2 -2 1"), resolution=length("0.5"))
    answer = solve(sweep("1 0 0 0", tolerance="1", noise=noise))
    assert answer.judgement.accept_up_to is None
    text = {notice.code: notice.text for notice in answer.warnings}["unprovable"]
    assert "surface" in text


def test_stands_out_and_as_expected() -> None:
    budget = solve(sweep("6 3 0 3", noise=QUIET)).budget
    assert stands_out(6, budget.front_minus_back)
    assert not stands_out(0.5, budget.front_minus_back)
    assert as_expected(1, 0, 0.5, 0.5)
    assert not as_expected(3, 0, 0.5, 0.5)


@pytest.mark.parametrize(
    ("values", "step"), [("6 3 0", "1"), ("6.5 3", "0.5"), ("0.25 1", "0.25"), ("1.1", "0.1")]
)
def test_step_shown_by_the_calls(values: str, step: str) -> None:
    assert str(finest_step(lengths(values)).to("thou")) == step
