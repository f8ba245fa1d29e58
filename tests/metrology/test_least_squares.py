"""The fit, against certified data, textbook data and scipy."""

import csv
from pathlib import Path

import numpy as np
import pytest
import scipy.linalg

from assistant.metrology.least_squares import Array, FitError, fit_linear

DATA = Path(__file__).parent.parent / "data"


def columns(name: str) -> Array:
    lines = [line for line in (DATA / name).read_text().splitlines() if not line.startswith("#")]
    rows = list(csv.reader(lines))[1:]
    return np.array(rows, dtype=np.float64)


def test_norris() -> None:
    """NIST StRD, linear regression, Norris: itl.nist.gov/div898/strd/lls/data/Norris.shtml."""
    table = columns("nist-strd-norris.csv")
    fit = fit_linear(np.column_stack([np.ones(len(table)), table[:, 1]]), table[:, 0])
    assert fit.dof == 34
    assert fit.coefficients == pytest.approx([-0.262323073774029, 1.00211681802045], rel=1e-11)
    assert fit.residual_sd == pytest.approx(0.884796396144373, rel=1e-11)
    assert fit.residual_sd is not None
    errors = fit.residual_sd * np.sqrt(np.diag(fit.covariance_factor))
    assert errors == pytest.approx([0.232818234301152, 0.429796848199937e-03], rel=1e-11)


def test_delivery_time_plane() -> None:
    """Montgomery, Peck, Vining, table 3.2 (from memory): b 2.34123115, 1.61590721, 0.01438483."""
    table = columns("delivery-time.csv")
    fit = fit_linear(np.column_stack([np.ones(len(table)), table[:, 1:]]), table[:, 0])
    assert fit.coefficients == pytest.approx([2.34123115, 1.61590721, 0.01438483], abs=5e-9)
    assert fit.residual_sd is not None
    assert fit.residual_sd**2 == pytest.approx(10.62417, abs=5e-6)


def test_thermometer_line() -> None:
    """JCGM 100:2008 H.3 (from memory): y1 -0.1712(29), y2 0.00218(67), r -0.930, s 0.0035."""
    table = columns("gum-h3.csv")
    fit = fit_linear(np.column_stack([np.ones(len(table)), table[:, 0] - 20]), table[:, 1])
    assert fit.residual_sd is not None
    covariance = fit.residual_sd**2 * fit.covariance_factor
    sd = np.sqrt(np.diag(covariance))
    assert fit.coefficients == pytest.approx([-0.1712, 0.00218], abs=5e-5)
    assert sd == pytest.approx([0.0029, 0.00067], abs=5e-5)
    assert covariance[0, 1] / sd[0] / sd[1] == pytest.approx(-0.930, abs=5e-4)
    assert fit.residual_sd == pytest.approx(0.0035, abs=5e-5)
    # At 30 degrees, the same source: correction -0.1494 with standard uncertainty 0.0041.
    at_30 = np.array([1.0, 10.0])
    assert at_30 @ fit.coefficients == pytest.approx(-0.1494, abs=5e-5)
    assert np.sqrt(at_30 @ covariance @ at_30) == pytest.approx(0.0041, abs=5e-5)


def test_random_problems_against_scipy() -> None:
    """scipy.linalg.lstsq on seeded random problems, predictors of very different sizes."""
    random = np.random.default_rng(7)
    for _ in range(20):
        design = random.normal(size=(9, 3)) * np.array([1.0, 1e4, 1e-3])
        seen = random.normal(size=9)
        fit = fit_linear(design, seen)
        expected = scipy.linalg.lstsq(design, seen)[0]
        assert fit.coefficients == pytest.approx(expected, rel=1e-9)
        assert fit.covariance_factor == pytest.approx(scipy.linalg.inv(design.T @ design), rel=1e-7)


def test_no_spare_observation_has_no_residual_sd() -> None:
    assert fit_linear(np.eye(2), np.array([1.0, 2.0])).residual_sd is None


@pytest.mark.parametrize(
    ("design", "seen", "reason"),
    [
        (np.ones((1, 2)), np.ones(1), "2 unknowns need 2"),
        (np.ones((3, 2)), np.ones(3), "depend"),
        (np.array([[1.0, 0.0], [1.0, 0.0]]), np.ones(2), "all zero"),
        (np.ones((3, 1)), np.ones(2), "3 rows"),
    ],
)
def test_what_cannot_be_fitted(design: Array, seen: Array, reason: str) -> None:
    with pytest.raises(FitError, match=reason):
        fit_linear(design, seen)
