"""The judgement of a sweep: within tolerance or not, worth chasing or only noise.

Belongs here: putting estimate, budget and tolerance together. The probabilities are in
``conformance``.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf, sqrt

from assistant.metrology.budget import SweepBudget
from assistant.metrology.combining import reduced, sources_redrawn
from assistant.metrology.conformance import (
    Covariance,
    Disc,
    HalfDisc,
    Region,
    Verdict,
    decide,
    guard_band,
    proving_limits,
    region_probability,
)
from assistant.metrology.f_distribution import ellipse_factor
from assistant.metrology.problem import FrontMayBe
from assistant.metrology.t_distribution import coverage_factor
from assistant.metrology.uncertainty import Budget


@dataclass(frozen=True, slots=True)
class Judgement:
    """What may be said of a tilt. Lengths in the unit of the budget.

    ``verdict`` and ``probability`` (that the true tilt is within): None without a tolerance.
    ``accept_up_to``: the largest tilt, the way this one points, that is proven within (None: even a
    level table could not prove itself with this uncertainty); ``reject_from``: the smallest that is
    proven beyond; both None for a tolerance that depends on direction. ``guard_band``: how far
    inside the limit the proof begins (for a tolerance that depends on direction, and where nothing
    can be proven, that of a single limit). ``inside_noise``: a level table may read like this: the
    two differences lie within their ellipse of 95 %. ``front_matters``, ``side_matters``: that
    difference stands out of its own noise and the table is not proven good; if neither does,
    chasing it is chasing noise.
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
    """Tilt within ``tolerance``, and with the front on one side only where that is asked for.

    The tolerance is of the tilt, whichever way it points (ISO 1101: the zone of perpendicularity
    of an axis is a cylinder where the diameter sign is given). Allowing the front one side takes
    half of that disc away, and never adds to it.
    """
    return Disc(tolerance) if front_may_be == "either" else HalfDisc(tolerance, front_may_be)


def judge(
    front_minus_back: float, right_minus_left: float, budget: SweepBudget, region: Region | None
) -> Judgement:
    """The judgement of two differences with their budget against a region of tolerance."""
    differences = (front_minus_back, right_minus_left)
    dof = budget.tilt.dof
    noise = inside_ellipse(differences, budget.covariance, dof)
    verdict = probability = band = accept = reject = None
    if region is not None:
        probability = region_probability(region, *differences, budget.covariance, dof)
        verdict = decide(probability)
        match region:
            case Disc(limit):
                accept, reject = proving_limits(limit, budget.covariance, differences, dof)
                band = guard_band(budget.tilt.u, dof) if accept is None else limit - accept
            case HalfDisc():
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


def budget_of_more(
    budget: SweepBudget, share: float, relocked: bool, of_surface: float = 1.0
) -> SweepBudget:
    """The budget of more sweeps, by which the variance of what is redrawn for each sweep
    (``combining``) falls to a ``share`` of what it is, the surface's to ``of_surface`` of it.
    """
    factor = sqrt(share)
    redrawn = sources_redrawn(relocked)
    front, right, tilt = (
        reduced(reduced(one, factor, redrawn), sqrt(of_surface), frozenset({"surface"}))
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


def inside_ellipse(differences: tuple[float, float], covariance: Covariance, dof: float) -> bool:
    """Whether zero lies in the 95 % ellipse of two differences. JCGM 102:2011, ellipse_factor.

    A length in the plane is compared with k = 2.45 (more for few degrees of freedom), not with
    the 1.96 of a single difference, which calls one level table in seven tilted.
    """
    (a, b), (_, d) = covariance
    front, right = differences
    determinant = a * d - b * b
    if determinant <= 0:
        return front == right == 0
    square = (d * front**2 - 2 * b * front * right + a * right**2) / determinant
    return square <= ellipse_factor(dof) ** 2


def stands_out(difference: float, budget: Budget) -> bool:
    """Whether a difference is larger than its expanded uncertainty at 95 %."""
    return abs(difference) > budget.expanded()


def as_expected(
    found: float, expected: float, u_found: float, u_expected: float, dof: float = inf
) -> bool:
    """Whether a re-check agrees with what a correction should have left, at 95 %.

    ``u_expected``: of the forecast, with what it shares of readings counted once
    (``left_uncertainty`` has both readings in it, and ``u_found`` is then zero). ``dof``: those of
    the readings' scatter. Five in a hundred good forecasts are missed.
    """
    return abs(found - expected) <= coverage_factor(dof) * sqrt(u_found**2 + u_expected**2)
