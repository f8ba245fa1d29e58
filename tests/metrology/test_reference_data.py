"""Reference data sets through the same least squares that fits a table.

NIST StRD certified values (https://www.itl.nist.gov/div898/strd), Hald's cement data and JCGM
100:2008 H.5, all from memory; the data are fitted again in exact fractions beside each, so that a
value that memory got wrong would show.
"""

from collections.abc import Sequence
from fractions import Fraction
from math import sqrt

import numpy as np
import pytest

from assistant.metrology.combining import combine_repeats
from assistant.metrology.evidence import relock_shown
from assistant.metrology.least_squares import LinearFit, fit_linear
from assistant.metrology.uncertainty import Budget, Component, evaluate_sample, pooled
from tests.metrology.exact_fit import ExactFit, exact_fit, table_of

Rows = list[list[Fraction]]


def both(design: Rows, seen: Sequence[Fraction]) -> tuple[LinearFit, ExactFit]:
    rough = fit_linear(
        np.array([[float(value) for value in row] for row in design]),
        np.array([float(value) for value in seen]),
    )
    return rough, exact_fit(design, seen)


def agree(fit: LinearFit, exact: ExactFit, rel: float) -> None:
    assert tuple(fit.coefficients) == pytest.approx(exact.coefficients, rel=rel)
    spread = fit.residual_sd or 0.0
    assert spread == pytest.approx(exact.residual_sd, rel=rel)
    deviations = spread * np.sqrt(np.diag(fit.covariance_factor))
    assert tuple(deviations) == pytest.approx(exact.deviations, rel=rel)


def with_intercept(rows: Rows) -> tuple[Rows, list[Fraction]]:
    return [[Fraction(1), *row[1:]] for row in rows], [row[0] for row in rows]


def test_longley() -> None:
    """Higher difficulty: the predictors are almost one another."""
    fit, exact = both(*with_intercept(table_of("nist-strd-longley.csv")))
    certified = (
        -3482258.63459582, 15.0618722713733, -0.0358191792925910, -2.02022980381683,
        -1.03322686717359, -0.0511041056535807, 1829.15146461355,
    )  # fmt: skip
    assert exact.coefficients == pytest.approx(certified, rel=1e-13)
    assert exact.residual_sd == pytest.approx(304.854073561965, rel=1e-13)
    assert exact.deviations[0] == pytest.approx(890420.383607373, rel=1e-13)
    agree(fit, exact, 1e-8)


def test_wampler1() -> None:
    """Higher difficulty: 1 + x + ... + x^5 at 0 to 20, every coefficient one, no residual."""
    design = [[Fraction(x) ** power for power in range(6)] for x in range(21)]
    fit, exact = both(design, [sum(row, Fraction(0)) for row in design])
    assert list(exact.coefficients) == [1.0] * 6
    assert exact.residual_sd == 0
    assert tuple(fit.coefficients) == pytest.approx((1,) * 6, abs=1e-7)
    assert fit.residual_sd == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize(
    ("x", "y", "slope", "deviation", "residual"),
    [
        (range(60, 71), range(130, 141), 2.07438016528926, 0.0165289256198347, 3.56753034006338),
        ((4, 5, 6), (3, 4, 4), 0.727272727272727, 0.0420827318078432, 0.369274472937998),
    ],
    ids=["NoInt1", "NoInt2"],
)
def test_no_intercept(
    x: Sequence[int], y: Sequence[int], slope: float, deviation: float, residual: float
) -> None:
    fit, exact = both([[Fraction(value)] for value in x], [Fraction(value) for value in y])
    assert exact.coefficients == pytest.approx((slope,), rel=1e-13)
    assert exact.deviations == pytest.approx((deviation,), rel=1e-13)
    assert exact.residual_sd == pytest.approx(residual, rel=1e-13)
    agree(fit, exact, 1e-12)


@pytest.mark.parametrize(
    ("start", "low", "high", "pairs", "mean", "sd", "rel"),
    [
        ("10000001", "10000003", "10000002", 0, 10000002.0, 1.0, 1e-8),
        ("1.2", "1.1", "1.3", 500, 1.2, 0.1, 1e-12),
        ("1000000.2", "1000000.1", "1000000.3", 500, 1000000.2, 0.1, 1e-8),
        ("10000000.2", "10000000.1", "10000000.3", 500, 10000000.2, 0.1, 1e-6),
    ],
    ids=["NumAcc1", "NumAcc2", "NumAcc3", "NumAcc4"],
)
def test_numerical_accuracy(
    start: str, low: str, high: str, pairs: int, mean: float, sd: float, rel: float
) -> None:
    """Mean and standard deviation (n - 1), as a fit of a constant and as a sample."""
    texts = [start, *([low, high] * pairs)] if pairs else [start, low, high]
    fit, exact = both([[Fraction(1)] for _ in texts], [Fraction(text) for text in texts])
    assert exact.coefficients == pytest.approx((mean,), rel=1e-15)
    assert exact.residual_sd == pytest.approx(sd, rel=1e-13)
    assert fit.coefficients[0] == pytest.approx(mean, rel=1e-14)
    assert fit.residual_sd == pytest.approx(sd, rel=rel)
    sample = evaluate_sample([float(text) for text in texts])
    assert (sample.mean, sample.sd) == pytest.approx((mean, sd), rel=rel)


def test_hald_cement() -> None:
    """y on x1 and x2: 52.57735, 1.46831, 0.66225, s 2.40634."""
    fit, exact = both(*with_intercept(table_of("hald-cement.csv")))
    assert exact.coefficients == pytest.approx((52.57735, 1.46831, 0.66225), abs=5e-6)
    assert exact.residual_sd == pytest.approx(2.40634, abs=5e-6)
    agree(fit, exact, 1e-10)


MEANS = (172, 116, 13, 144, 106, 31, 60, 125, 163, 41)
DEVIATIONS = (60, 77, 111, 101, 67, 93, 80, 73, 88, 86)


def test_between_days_and_within_days() -> None:
    """GUM H.5: ten days of five observations each, in microvolts over ten volts.

    Printed: mean 97, sd of a day's mean 57, within days 85 (40 dof), between days 43, u 18 (9 dof).
    """
    days = evaluate_sample([float(value) for value in MEANS])
    assert (days.mean, days.sd) == pytest.approx((97, 57), abs=0.5)
    assert days.dof == 9
    within, dof = pooled([(float(sd), 4.0) for sd in DEVIATIONS])
    assert within == pytest.approx(85, abs=0.5)
    assert dof == 40
    # A day's mean scatters by what is between days and by within days over five: as sweeps do that
    # were relocked in between, and were read within each.
    between = relock_shown([(float(value), float(value)) for value in MEANS], within / sqrt(5))
    assert between is not None
    assert between.sd == pytest.approx(43, abs=0.5)
    assert days.sd_of_mean == pytest.approx(18, abs=0.5)
    # And as a budget of one sweep that is far too small: the scatter takes its place.
    budget = Budget((Component("reading", 1.0, 1e-6),))
    mean = combine_repeats([(float(v), float(v)) for v in MEANS], (budget, budget), relocked=True)
    assert mean.pair[0] == pytest.approx(97, abs=0.5)
    assert mean.budgets[0].u == pytest.approx(18, abs=0.5)
    assert mean.budgets[0].dof == pytest.approx(9, abs=0.01)
