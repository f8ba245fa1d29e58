"""The metrology against the outside: every number, its source, what is expected and what comes out.

    python -m tests.metrology.outside_checks

prints the table; the test beside it runs every row.
"""

import csv
import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from math import sqrt
from pathlib import Path

import numpy as np
from scipy.stats import t as student
from uncertainties import ufloat

from assistant.metrology.combining import combine_half_turn
from assistant.metrology.conformance import (
    Disc,
    conformance_probability,
    guard_band,
    region_probability,
    scaled_tolerance,
)
from assistant.metrology.coupling import correction
from assistant.metrology.dial import lever_factor
from assistant.metrology.lean import lean_of_slope
from assistant.metrology.least_squares import LinearFit, fit_linear
from assistant.metrology.lengths import Length, parse_length
from assistant.metrology.response import Response, Step, prior_response, response_of
from assistant.metrology.scatter import resolution_sd
from assistant.metrology.shims import plan_shim
from assistant.metrology.solve import solve
from assistant.metrology.spindle import lean_limits
from assistant.metrology.t_distribution import coverage_factor
from assistant.metrology.tap import needed_change
from assistant.metrology.trial_check import left_uncertainty
from assistant.metrology.uncertainty import (
    combined,
    effective_dof,
    evaluate_sample,
    rectangular,
    triangular,
)
from tests.metrology.sweeps import sweep

DATA = Path(__file__).parent.parent / "data"


@dataclass(frozen=True, slots=True)
class Check:
    """One number: `within` is how far off it may be, for the digits that the source prints."""

    what: str
    source: str
    expected: float
    got: Callable[[], float]
    within: float


def _fit(name: str, response: int, shift: float = 0.0) -> LinearFit:
    lines = [line for line in (DATA / name).read_text().splitlines() if not line.startswith("#")]
    table = np.array(list(csv.reader(lines))[1:], dtype=np.float64)
    others = [column for column in range(table.shape[1]) if column != response]
    design = np.column_stack([np.ones(len(table)), table[:, others] - shift])
    return fit_linear(design, table[:, response])


def _norris() -> LinearFit:
    return _fit("nist-strd-norris.csv", 0)


def _delivery(which: int) -> float:
    return float(_fit("delivery-time.csv", 0).coefficients[which])


def _residual_sd(fit: LinearFit) -> float:
    assert fit.residual_sd is not None
    return fit.residual_sd


def _sd(fit: LinearFit, which: int) -> float:
    return _residual_sd(fit) * sqrt(float(fit.covariance_factor[which, which]))


TEMPERATURES = [
    96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07, 100.33, 100.42, 100.68,
    100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
]  # fmt: skip
G41 = [(0.25, 9.0), (0.57, 4.0), (0.82, 14.0)]
H1 = [(25.0, 18.0), (9.7, 25.6), (2.9, 50.0), (16.6, 2.0)]

NORRIS = "NIST StRD Norris"
PLANE = "Montgomery, Peck, Vining table 3.2 (from memory)"
GUM = "JCGM 100:2008 "
J106 = "JCGM 106:2012 "
MEMORY = " (from memory)"
DERIVED = "derived"
PRACTICE = "common practice, no source"
LEVER = "page on JIS B 7533"


SPREAD = ((0.81, 0.2), (0.2, 0.49))


def _disc_by_chance() -> float:
    drawn = np.random.default_rng(11).multivariate_normal((3, 1), SPREAD, 1_000_000)
    return float(np.mean(np.hypot(drawn[:, 0], drawn[:, 1]) <= 4))


def _left_by_uncertainties() -> float:
    """What is left is read once before and once after; response and stack are known so well."""
    before, after, response, stack = (
        ufloat(8, 0.3), ufloat(0, 0.3), ufloat(2, 0.4), ufloat(1.5, 0.2)
    )  # fmt: skip
    return float((before - response * stack + after).std_dev)


def _balancing() -> complex:
    found, tried = 7 * np.exp(1j * np.radians(160)), 5 * np.exp(1j * np.radians(70))
    a = (tried - found) / 100
    answer = correction(np.array([[a.real, -a.imag], [a.imag, a.real]]), found.real, found.imag)
    assert answer is not None
    return complex(*answer)


def _trial_total() -> float:
    response = response_of(Step(0, 12, 5, 7), 0.1)
    assert response is not None
    total = plan_shim(7, response).total
    assert total is not None
    return total + 5


def _total(front_minus_back: float, diameter_over_span: float) -> float:
    total = plan_shim(front_minus_back, prior_response(diameter_over_span)).total
    assert total is not None
    return total


def _doubled() -> float:
    response = response_of(Step(0, 6, 1.5, 3), 0.1)
    assert response is not None
    return 6 - response.value * 3


CHECKS = [
    Check("1 in, in mm", "NIST SP 811", 25.4, lambda: float(parse_length("1 in", "mm").mm), 0),
    Check("intercept", NORRIS, -0.262323073774029, lambda: float(_norris().coefficients[0]), 1e-10),
    Check("slope", NORRIS, 1.00211681802045, lambda: float(_norris().coefficients[1]), 1e-12),
    Check("residual sd", NORRIS, 0.884796396144373, lambda: _residual_sd(_norris()), 1e-11),
    Check("sd of intercept", NORRIS, 0.232818234301152, lambda: _sd(_norris(), 0), 1e-11),
    Check("sd of slope", NORRIS, 0.000429796848199937, lambda: _sd(_norris(), 1), 1e-14),
    *(
        Check(f"coefficient {n}", PLANE, value, partial(_delivery, n), 5e-9)
        for n, value in enumerate((2.34123115, 1.61590721, 0.01438483))
    ),
    Check("residual variance", PLANE, 10.62417,
          lambda: _residual_sd(_fit("delivery-time.csv", 0)) ** 2, 5e-6),
    Check("y1 at 20", GUM + "H.3" + MEMORY, -0.1712,
          lambda: float(_fit("gum-h3.csv", 1, 20).coefficients[0]), 5e-5),
    Check("u of y1", GUM + "H.3" + MEMORY, 0.0029, lambda: _sd(_fit("gum-h3.csv", 1, 20), 0), 5e-5),
    Check("y2", GUM + "H.3" + MEMORY, 0.00218,
          lambda: float(_fit("gum-h3.csv", 1, 20).coefficients[1]), 5e-6),
    Check("correction at 30", GUM + "H.3" + MEMORY, -0.1494,
          lambda: float(_fit("gum-h3.csv", 1, 30).coefficients[0]), 5e-5),
    Check("u of it", GUM + "H.3" + MEMORY, 0.0041,
          lambda: _sd(_fit("gum-h3.csv", 1, 30), 0), 5e-5),
    Check("mean", GUM + "4.4.3" + MEMORY, 100.145,
          lambda: evaluate_sample(TEMPERATURES).mean, 5e-4),
    Check("sd", GUM + "4.4.3" + MEMORY, 1.489, lambda: evaluate_sample(TEMPERATURES).sd, 5e-4),
    Check("sd of mean", GUM + "4.4.3" + MEMORY, 0.333,
          lambda: evaluate_sample(TEMPERATURES).sd_of_mean, 5e-4),
    Check("limits 96 to 104", GUM + "4.4.5" + MEMORY, 2.3, lambda: rectangular(4), 0.05),
    Check("triangle 96 to 104", GUM + "4.4.6" + MEMORY, 1.6, lambda: triangular(4), 0.05),
    Check("resolution 1", GUM + "F.2.2.1" + MEMORY, 0.29, lambda: resolution_sd(1), 0.005),
    Check("u, per cent", GUM + "G.4.1" + MEMORY, 1.03, lambda: combined([u for u, _ in G41]), 5e-3),
    Check("effective dof", GUM + "G.4.1" + MEMORY, 19.0, lambda: effective_dof(G41), 0.05),
    Check("t at 95 %", GUM + "G.4.1" + MEMORY, 2.09, lambda: coverage_factor(19), 0.005),
    Check("u, nm", GUM + "H.1" + MEMORY, 32, lambda: combined([u for u, _ in H1]), 0.5),
    Check("dof, truncated", GUM + "H.1" + MEMORY, 16, lambda: float(int(effective_dof(H1))), 0),
    Check("U at 99 %, nm", GUM + "H.1" + MEMORY, 93,
          lambda: coverage_factor(16, 0.99) * combined([u for u, _ in H1]), 1),
    Check("within two limits", J106 + "7.4, recomputed", 0.6626,
          lambda: conformance_probability(13.6, 1.8, 12.5, 16.3), 5e-5),
    Check("diode", J106 + MEMORY.strip(), 0.92,
          lambda: conformance_probability(-5.47, 0.05, high=-5.40), 0.005),
    Check("speeding at 106.6", J106 + MEMORY.strip(), 0.999,
          lambda: conformance_probability(106.6, 2.132, low=100), 2e-4),
    Check("risk with w = 2u", J106 + DERIVED, 0.023,
          lambda: 1 - conformance_probability(-2, 1, high=0), 5e-4),
    Check("pass up to, limit 0.10", "ISO 14253-1 rule, " + DERIVED, 0.0753,
          lambda: 0.10 - guard_band(0.015), 5e-5),
    Check("fail from, limit 0.10", "ISO 14253-1 rule, " + DERIVED, 0.1247,
          lambda: 0.10 + guard_band(0.015), 5e-5),
    Check("t, 97.5 % at 3.7 dof", "scipy", float(student.ppf(0.975, 3.7)),
          lambda: coverage_factor(3.7), 1e-9),
    Check("disc of 4 at (3, 1)", "seeded Monte Carlo", _disc_by_chance(),
          lambda: region_probability(Disc(4), 3, 1, SPREAD), 2e-3),
    Check("u of left after a shim", "uncertainties", _left_by_uncertainties(),
          lambda: left_uncertainty(Response(2, 0.4), 1.5, 0.3, 0.2), 1e-12),
    *(
        Check(f"lever at {angle} degrees", LEVER, factor, partial(lever_factor, angle), 0.0051)
        for angle, factor in ((10, 0.98), (20, 0.94), (30, 0.87), (40, 0.77), (50, 0.64), (60, 0.5))
    ),
    Check(".004 in at 60 degrees", "web page on test indicators", 0.002,
          lambda: 0.004 * lever_factor(60), 1e-9),
    Check("shim, 30 in, 5 in, .012", "machine installation manual", 0.072,
          lambda: _total(0.012, 5 / 30), 1e-9),
    Check("offset of TIR 6", "machine installation manual", 3,
          lambda: lean_limits(6, 0, 1)[1], 1e-9),
    Check("trial 5, 12 to 7", "scalar influence coefficient, " + DERIVED, 12, _trial_total, 1e-9),
    Check("trial weight", "web tutorial on balancing, recomputed", 81.37,
          lambda: abs(_balancing()), 0.005),
    Check("its angle", "web tutorial on balancing, recomputed", 35.54,
          lambda: abs(float(np.degrees(np.angle(_balancing())))), 0.005),
    Check("1 thou, span 3 in, sweep 10", DERIVED, 3.33, lambda: 1 / _total(1, 10 / 3), 0.005),
    Check("B6 R3 F0 L3, to back", DERIVED, 6, lambda: -solve(sweep("6 3 0 3")).front_minus_back, 0),
    Check("B6 R4 F0 L3, mean", DERIVED, 3.25, lambda: solve(sweep("6 4 0 3")).mean, 0),
    Check("B6 R4 F0 L3, saddle", DERIVED, -1, lambda: solve(sweep("6 4 0 3")).saddle or 0, 0),
    Check("0.1 in 300 mm, arcsec", DERIVED, 68.8,
          lambda: solve(sweep("0.1 0.05 0 0.05", unit="mm", diameter="300 mm")).angle_arcsec or 0,
          0.05),
    Check("0.1 in 300 mm, thou per foot", DERIVED, 4,
          lambda: scaled_tolerance(0.1, 300, 304.8) / 0.0254, 1e-9),
    Check("0.1 in 300, 50 deep, mm out", "similar triangles, " + DERIVED, 1 / 60,
          lambda: lean_of_slope(0.1 / 300, Length.of(50, "mm"), 0).exit_offset_mm, 1e-12),
    Check("slip 4 as 10 and 2", "half-turn refit, " + DERIVED, 4,
          lambda: combine_half_turn((10, 0), (2, 0), (0, 0), (0, 0)).slip[0], 0),
    Check("six high right, right moves", PRACTICE, -3, lambda: needed_change(6), 0),
    Check("pivot under the far side", DERIVED, -6, lambda: needed_change(6, -1), 0),
    Check("leaf 1.5 takes 6 to 3, 3 to", PRACTICE, 0, _doubled, 1e-9),
]  # fmt: skip


def table() -> str:
    """Every check, one a line."""
    lines = [f"{'what':<32}{'source':<52}{'expected':>16}{'got':>18}"]
    for check in CHECKS:
        got = check.got()
        mark = "" if abs(got - check.expected) <= check.within else "  WRONG"
        lines.append(
            f"{check.what:<32}{check.source:<52}{check.expected:>16.12g}{got:>18.12g}{mark}"
        )
    return "\n".join(lines)


if __name__ == "__main__":
    sys.stdout.write(table() + "\n")
