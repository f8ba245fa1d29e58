"""The judgement of a sweep: within tolerance or not, worth chasing or only noise.

Belongs here: putting estimate, budget and tolerance together. The probabilities are in
`conformance`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import hypot, sqrt

from assistant.metrology.budget import SweepBudget
from assistant.metrology.combining import reduced, sources_drawn_anew
from assistant.metrology.conformance import (
    Box,
    Disc,
    Region,
    Verdict,
    decide,
    guard_band,
    proving_limits,
    region_probability,
)
from assistant.metrology.problem import FrontMayBe
from assistant.metrology.uncertainty import Budget


@dataclass(frozen=True, slots=True)
class Judgement:
    """What may be said of a tilt. Lengths in the unit of the budget.

    `verdict` and `probability` (that the true tilt is within): None without a tolerance.
    `accept_up_to`: the largest tilt, the way this one points, that is proven within (None: even a
    level table could not prove itself with this uncertainty); `reject_from`: the smallest that is
    proven beyond; both None for a tolerance that depends on direction. `guard_band`: how far
    inside the limit the proof begins (for a tolerance that depends on direction, and where nothing
    can be proven, that of a single limit). `inside_noise`: the tilt is no larger than its expanded
    uncertainty.
    `front_matters`, `side_matters`: that difference stands out of its own noise and the table is
    not proven good; if neither does, chasing it is chasing noise.
    """

    verdict: Verdict | None
    probability: float | None
    guard_band: float | None
    accept_up_to: float | None
    reject_from: float | None
    inside_noise: bool
    front_matters: bool
    side_matters: bool


def tolerance_region(tolerance: float, front_may_be: FrontMayBe) -> Region:
    """Tilt within `tolerance`; or each difference, with the front allowed one way only."""
    match front_may_be:
        case "either":
            return Disc(tolerance)
        case "high":
            return Box(0.0, tolerance, -tolerance, tolerance)
        case "low":
            return Box(-tolerance, 0.0, -tolerance, tolerance)


def judge(
    front_minus_back: float, right_minus_left: float, budget: SweepBudget, region: Region | None
) -> Judgement:
    """The judgement of two differences with their budget against a region of tolerance."""
    differences = (front_minus_back, right_minus_left)
    dof = budget.tilt.dof
    noise = not stands_out(hypot(*differences), budget.tilt)
    verdict = probability = band = accept = reject = None
    if region is not None:
        probability = region_probability(region, *differences, budget.covariance, dof)
        verdict = decide(probability)
        match region:
            case Disc(limit):
                accept, reject = proving_limits(limit, budget.covariance, differences, dof)
                band = guard_band(budget.tilt.u, dof) if accept is None else limit - accept
            case Box():
                band = guard_band(budget.tilt.u, dof)
    return Judgement(
        verdict=verdict,
        probability=probability,
        guard_band=band,
        accept_up_to=accept,
        reject_from=reject,
        inside_noise=noise,
        front_matters=verdict != "within" and stands_out(front_minus_back, budget.front_minus_back),
        side_matters=verdict != "within" and stands_out(right_minus_left, budget.right_minus_left),
    )


def sweeps_to_decide(
    differences: tuple[float, float],
    budget: SweepBudget,
    region: Region,
    made: int,
    most: int,
    relocked: bool,
) -> int | None:
    """How many sweeps in all should settle whether the table is within; None when `most` do not.

    `budget` is that of the mean of the `made` sweeps there are. Reckoned as if further sweeps
    gave the same differences: their sources fall with the root of the number (`combining`).
    """
    for count in range(made + 1, most + 1):
        less = budget_of_more(budget, made / count, relocked)
        probability = region_probability(region, *differences, less.covariance, less.tilt.dof)
        if decide(probability) != "undecided":
            return count
    return None


def budget_of_more(budget: SweepBudget, share: float, relocked: bool) -> SweepBudget:
    """The budget of the mean of more sweeps, of which those that `budget` is of are a `share`.

    What is drawn anew for each sweep (`combining`) falls with the root of their number.
    """
    factor = sqrt(share)
    anew = sources_drawn_anew(relocked)
    front, right, tilt = (
        reduced(one, factor, anew)
        for one in (budget.front_minus_back, budget.right_minus_left, budget.tilt)
    )
    # The axes share little (none for four stations), and less of it with every sweep.
    across = budget.covariance[0][1] * factor**2
    return replace(
        budget,
        front_minus_back=front,
        right_minus_left=right,
        tilt=tilt,
        covariance=((front.u**2, across), (across, right.u**2)),
    )


def stands_out(difference: float, budget: Budget) -> bool:
    """Whether a difference is larger than its expanded uncertainty at 95 %."""
    return abs(difference) > budget.expanded()


def as_expected(found: float, expected: float, u_found: float, u_expected: float) -> bool:
    """Whether a re-check agrees with what a correction should have left: within 2 u of both."""
    return abs(found - expected) <= 2 * sqrt(u_found**2 + u_expected**2)
