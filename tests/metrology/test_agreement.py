"""Sweeps against one another: chance, mirror images, and what moved."""

from dataclasses import replace
from math import inf

import numpy as np
import pytest

from assistant.metrology.agreement import compare, repeats_agree
from assistant.metrology.causes import likely_drift, of_returns
from assistant.metrology.problem import Noise, StationReading, Sweep
from assistant.metrology.solve import solve
from assistant.metrology.stations import BEARING_OF
from tests.metrology.sweeps import length, lengths, sweep

U = (0.7, 0.7)


@pytest.mark.parametrize("dof", [3, 8, inf])
def test_one_good_pair_in_a_hundred_is_questioned(dof: float) -> None:
    """Seeded pairs about what was expected, their scatter known to `dof` degrees of freedom."""
    random = np.random.default_rng(50)
    count, questioned = 6000, 0
    for _ in range(count):
        off = random.normal(0, 0.7, 2)
        known = 0.7 if dof == inf else 0.7 * float(np.sqrt(random.chisquare(dof) / dof))
        found = (9 + float(off[0]), 4 + float(off[1]))
        questioned += compare((9, 4), found, (known, known), dof) != "alike"
    assert questioned / count == pytest.approx(0.01, abs=0.005)


@pytest.mark.parametrize(
    ("found", "how"),
    [
        ((5.2, -31.9), "sides_exchanged"),
        ((-4.6, 33.0), "ends_exchanged"),
        ((-5.0, -33.0), "reversed"),
        ((5.0, 20.0), "apart"),
        ((5.4, 32.8), "alike"),
    ],
)
@pytest.mark.parametrize("dof", [2, 6, inf])
def test_a_mirror_image_is_named(found: tuple[float, float], how: str, dof: float) -> None:
    assert compare((5.0, 32.5), found, U, dof) == how


def test_a_level_axis_has_no_mirror_image() -> None:
    assert compare((8.0, 0.3), (8.1, -0.4), U) == "alike"
    with pytest.raises(ValueError, match="not above zero"):
        compare((1, 1), (1, 1), (0, 1))


def test_sides_exchanged_are_seldom_named_in_good_sweeps() -> None:
    """Seeded: at the worst size of tilt (1.5 u) less than three good ones in a thousand."""
    random = np.random.default_rng(51)
    called = sum(
        compare((0.0, 1.06), (float(a), 1.06 + float(b)), U) in ("sides_exchanged", "reversed")
        for a, b in random.normal(0, 0.7, (20_000, 2))
    )
    assert called / 20_000 < 0.003


def test_the_repeat_that_does_not_belong() -> None:
    pairs = ((2.0, 33.5), (2.3, 33.1), (1.8, -32.8))
    assert repeats_agree(pairs, U) == (2, "sides_exchanged")
    assert repeats_agree(pairs[:2], U) is None
    assert repeats_agree((pairs[0], pairs[2]), U) == (1, "sides_exchanged")
    assert repeats_agree(pairs[:1], U) is None
    assert repeats_agree(((0.0, 0.0), (9.0, 0.0), (0.3, 0.0)), U) == (1, "apart")


def repeat(text: str) -> Sweep:
    values = zip(BEARING_OF, lengths(text), strict=True)
    return Sweep(tuple(StationReading.at(name, value) for name, value in values))


@pytest.mark.parametrize(
    ("text", "code"),
    [("0 -17 -1 16", "sides_exchanged"), ("0 16 -1 -17", None), ("0 5 -1 -5", "repeats_apart")],
)
def test_solve_says_which_repeat_is_odd(text: str, code: str | None) -> None:
    noise = Noise(
        reading_sd=length("0.5"), reading_dof=inf, relock_sd=length("0.5"), relock_dof=inf,
        resolution=length("0.5"),
    )  # fmt: skip
    told = solve(replace(sweep("0 16.5 -1 -17", noise=noise), repeats=(repeat(text),)))
    odd = {"sides_exchanged", "ends_exchanged", "reversed", "repeats_apart"}
    assert {w.code for w in told.warnings} & odd == ({code} if code else set())


def test_why_sweeps_do_not_return() -> None:
    assert of_returns([0.2, -0.4], 1.0) is None
    assert of_returns([0.2, 2.4, -0.1], 1.0) == "slip"
    assert of_returns([2.4], 1.0) == "drift"
    assert of_returns([2.4, 1.9, 2.8], 1.0) == "drift"
    assert of_returns([2.4, -1.9, 2.8], 1.0) == "loose"


@pytest.mark.parametrize("returns", [[1.0], [1.3, 0.8], [2.0, 2.2, 1.6, 2.6]])
def test_the_likely_drift_of_a_dial_is_the_mean_of_its_posterior(returns: list[float]) -> None:
    """Against the product of the normal densities, summed over a fine grid."""
    u, usual = 0.7, 0.9
    drifts = np.linspace(-9.0, 9.0, 20_001)
    logs = -((drifts / usual) ** 2) / 2
    for each in returns:
        logs = logs - ((each - drifts) / u) ** 2 / 2
    weights = np.exp(logs)
    mean = float((drifts * weights).sum() / weights.sum())
    assert likely_drift(returns, u, usual) == pytest.approx(mean, abs=1e-9)
