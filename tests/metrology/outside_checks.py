"""The metrology against the outside: every number, its source, what is expected and what comes out.

    python -m tests.metrology.outside_checks

prints the table; the test beside it runs every row.
"""

import csv
import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from math import inf, sqrt
from pathlib import Path

import numpy as np
from scipy.stats import f as fisher
from scipy.stats import t as student
from uncertainties import ufloat

from assistant.metrology.answer import Answer
from assistant.metrology.combining import combine_half_turn
from assistant.metrology.conformance import (
    Disc,
    guard_band,
    region_probability,
    scaled_tolerance,
)
from assistant.metrology.dial import lever_factor
from assistant.metrology.f_distribution import ellipse_factor, f_quantile
from assistant.metrology.judgement import inside_ellipse
from assistant.metrology.lean import lean_of_slope
from assistant.metrology.least_squares import LinearFit, fit_linear
from assistant.metrology.lengths import Length, parse_length
from assistant.metrology.problem import Noise, Problem, Shimming, Trial
from assistant.metrology.response import Response, prior_response
from assistant.metrology.scatter import difference_sd, resolution_sd
from assistant.metrology.shims import plan_shim
from assistant.metrology.solve import solve
from assistant.metrology.t_distribution import coverage_factor
from assistant.metrology.tap import needed_change
from assistant.metrology.trial_check import left_uncertainty
from assistant.metrology.uncertainty import (
    combined,
    effective_dof,
    evaluate_sample,
    rectangular,
)
from tests.metrology.single_limits import probability_between
from tests.metrology.sweeps import bearings, sweep

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
COSINES = "Abramowitz and Stegun, cosines by degrees (from memory)"
F_TABLE = "F table, e.g. NIST/SEMATECH e-Handbook 1.3.6.7.3"
J102 = "JCGM 102:2011 6.5.2"
RAYLEIGH = "Rayleigh distribution, sqrt(-2 ln(1 - p))"
G8 = "ILAC-G8:09/2019 (from memory)"
LEVELS = "JIS B 7510 sensitivities (from memory)"


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


def _total(front_minus_back: float, diameter_over_span: float) -> float:
    total = plan_shim(front_minus_back, prior_response(diameter_over_span)).total
    assert total is not None
    return total


def _level_called_tilted() -> float:
    """Share of level tables, read with a scatter that is known, that are not inside the noise."""
    read = np.random.default_rng(12).normal(0, 0.4, (20_000, 4))
    noise = Noise(
        reading_sd=Length.of("0.4", "thou"), reading_dof=inf, resolution=Length.of("0.001", "thou")
    )
    budget = solve(sweep("0 0 0 0", noise=noise, diameter=None)).budget
    pairs = zip(read[:, 2] - read[:, 0], read[:, 1] - read[:, 3], strict=True)
    return float(
        np.mean(
            [not inside_ellipse((float(a), float(b)), budget.covariance, inf) for a, b in pairs]
        )
    )


def _risk_at_limit(band: float) -> float:
    """Risk of a false accept at the acceptance limit, the guard band in standard uncertainties."""
    return 1 - probability_between(-band, 1.0, high=0.0)


def _arcsec_of_a_metre(rise: str) -> float:
    half = float(rise) / 2
    answer = solve(sweep(f"{rise} {half} 0 {half}", unit="mm", diameter="1000 mm"))
    return answer.angle_arcsec or 0.0


TWELVE = (3.1, 4.7, 2.2, 5.9, 4.4, 7.3, 6.6, 5.1, 6.9, 2.8, 3.7, 1.6)


def _twelve() -> Answer:
    """Twelve stations, thirty degrees apart, of a table that is anything but flat."""
    readings = bearings({str(30 * k): str(value) for k, value in enumerate(TWELVE)})
    return solve(Problem("thou", readings))


def _harmonic() -> tuple[float, float]:
    """The same by the first harmonic: X1 = sum of h exp(-i b), a cosine towards the back."""
    first = 2 * np.fft.fft(TWELVE)[1] / len(TWELVE)
    return -2 * float(first.real), -2 * float(first.imag)


TRIED = Shimming(
    stock=(Length.of("2", "thou"), Length.of("4", "thou"), Length.of("5", "thou")),
    span=Length.of("5", "in"),
    trials=(Trial(Length.of("4", "thou"), Length.of("17", "thou"), Length.of("9", "thou")),),
)
TRIED_NOISE = Noise(
    reading_sd=Length.of("0.3", "thou"), reading_dof=inf, relock_sd=Length.of("0.2", "thou"),
    relock_dof=inf, resolution=Length.of("0.001", "thou"),
)  # fmt: skip


def _trial_solved() -> Answer:
    """Seventeen high, nine with a leaf of four in: what another leaf should leave of the nine."""
    return solve(sweep("0 4.5 9 4.5", shim=TRIED, noise=TRIED_NOISE))


def _trial_by_uncertainties() -> tuple[float, float]:
    """Response and what is left, built from the trial's own readings and the prior.

    Errors of three readings and of the prior are variables; the library follows them through.
    """
    u = difference_sd(TRIED_NOISE, "thou", 0.001)
    found, after, following = (ufloat(0, u) for _ in range(3))
    prior = ufloat(0, prior_response(2.0).uncertainty)
    added, more = 4.0, float(sum(_trial_solved().shim.leaves)) - 4.0
    weight = (added**2 / (2 * u**2)) / (added**2 / (2 * u**2) + 1 / prior.std_dev**2)
    response = weight * (found - after) / added + (1 - weight) * prior
    return float(response.std_dev), float((following - after + response * more).std_dev)


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
    Check("resolution 1", GUM + "F.2.2.1" + MEMORY, 0.29, lambda: resolution_sd(1), 0.005),
    Check("u, per cent", GUM + "G.4.1" + MEMORY, 1.03, lambda: combined([u for u, _ in G41]), 5e-3),
    Check("effective dof", GUM + "G.4.1" + MEMORY, 19.0, lambda: effective_dof(G41), 0.05),
    Check("t at 95 %", GUM + "G.4.1" + MEMORY, 2.09, lambda: coverage_factor(19), 0.005),
    Check("u, nm", GUM + "H.1" + MEMORY, 32, lambda: combined([u for u, _ in H1]), 0.5),
    Check("dof, truncated", GUM + "H.1" + MEMORY, 16, lambda: float(int(effective_dof(H1))), 0),
    Check("U at 99 %, nm", GUM + "H.1" + MEMORY, 93,
          lambda: coverage_factor(16, 0.99) * combined([u for u, _ in H1]), 1),
    Check("within two limits", J106 + "7.4, recomputed", 0.6626,
          lambda: probability_between(13.6, 1.8, 12.5, 16.3), 5e-5),
    Check("diode", J106 + MEMORY.strip(), 0.92,
          lambda: probability_between(-5.47, 0.05, high=-5.40), 0.005),
    Check("speeding at 106.6", J106 + MEMORY.strip(), 0.999,
          lambda: probability_between(106.6, 2.132, low=100), 2e-4),
    Check("risk with w = 2u", J106 + DERIVED, 0.023,
          lambda: 1 - probability_between(-2, 1, high=0), 5e-4),
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
        Check(f"lever at {angle} degrees", COSINES, factor, partial(lever_factor, angle), 5e-6)
        for angle, factor in (
            (10, 0.98481), (20, 0.93969), (30, 0.86603), (40, 0.76604), (50, 0.64279), (60, 0.5),
        )
    ),
    *(
        Check(f"F 95 % of 2 and {nu}", F_TABLE, value, partial(f_quantile, 0.95, 2.0, nu), 0.005)
        for nu, value in ((2, 19.00), (3, 9.55), (4, 6.94), (5, 5.79), (10, 4.10), (20, 3.49))
    ),
    *(
        Check(f"F {p} of {a} and {b}", "scipy", float(fisher.ppf(p, a, b)),
              partial(f_quantile, p, a, b), 1e-6)
        for p, a, b in ((0.99, 1, 4), (0.99, 5, 3.7), (0.95, 2, 2.5), (0.99, 9, 40))
    ),
    Check("ellipse of 95 %", J102, 2.45, lambda: ellipse_factor(inf), 0.005),
    Check("rectangle of 95 %", J102, 2.24, lambda: coverage_factor(inf, sqrt(0.95)), 0.005),
    Check("circular error, 50 %", RAYLEIGH, 1.1774, lambda: ellipse_factor(inf, 0.5), 5e-5),
    Check("circular error, 95 %", RAYLEIGH, 2.4477, lambda: ellipse_factor(inf, 0.95), 5e-5),
    Check("level tables called tilted", "seeded Monte Carlo", 0.05, _level_called_tilted, 0.006),
    Check("507 over 490, u 8", J106 + MEMORY, 0.98,
          lambda: probability_between(507, 8, low=490), 0.005),
    *(
        Check(f"risk with a guard band of {name}", G8, risk, partial(_risk_at_limit, band), within)
        for name, band, risk, within in (
            ("U", 2.0, 0.025, 0.003), ("1.64 u", 1.64, 0.05, 0.001), ("3 u", 3.0, 0.00135, 1e-5),
            ("none", 0.0, 0.5, 1e-12),
        )
    ),
    *(
        Check(f"level of {text} mm/m", LEVELS, seconds, partial(_arcsec_of_a_metre, text), within)
        for text, seconds, within in (
            ("0.02", 4.13, 0.005), ("0.05", 10.3, 0.05), ("0.1", 20.6, 0.05),
        )
    ),
    Check("12 stations, front less back", "numpy.fft", _harmonic()[0],
          lambda: _twelve().front_minus_back, 1e-9),
    Check("12 stations, right less left", "numpy.fft", _harmonic()[1],
          lambda: _twelve().right_minus_left, 1e-9),
    Check("response of a trial, u", "uncertainties", _trial_by_uncertainties()[0],
          lambda: _trial_solved().shim.response.uncertainty, 1e-9),
    Check("what its next shim leaves, u", "uncertainties", _trial_by_uncertainties()[1],
          lambda: _trial_solved().shim.left_uncertainty or 0, 1e-9),
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
    Check("pivot under the far side", DERIVED, -6, lambda: needed_change(6, -1), 0),
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
