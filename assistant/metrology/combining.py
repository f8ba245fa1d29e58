"""Several sweeps of one table: repeats, and the indicator refitted half a turn round.

Belongs here: one result from many. Lengths are floats in one unit; a pair is (front_minus_back,
right_minus_left).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import sqrt
from typing import Final

from assistant.metrology.uncertainty import (
    Budget,
    Component,
    Source,
    dof_of_guess,
    effective_dof,
    evaluate_sample,
    pooled,
)

Pair = tuple[float, float]

# Sources that are redrawn for each sweep, and those redrawn by relocking between sweeps. The
# surface is none of them: the tip comes back to the same spots.
_EACH_SWEEP: Final[frozenset[Source]] = frozenset({"reading", "resolution", "drift", "end_play"})
_EACH_LOCKING: Final[frozenset[Source]] = frozenset({"relock"})

# What is known of the scatter beforehand is right to within a quarter of itself (judgement), which
# is worth eight degrees of freedom.
_ALLOWED_DOF: Final = dof_of_guess(0.25)


@dataclass(frozen=True, slots=True)
class Combined:
    """One pair from several sweeps and its budgets, in the order of the pair.

    ``scatter`` is the standard deviation of one sweep about the mean, None for a single sweep.
    """

    pair: Pair
    budgets: tuple[Budget, Budget]
    scatter: Pair | None


def combine_repeats(
    pairs: Sequence[Pair],
    budgets: tuple[Budget, Budget],
    relocked: bool,
) -> Combined:
    """The mean of repeated sweeps, with the budget of one of them cut down accordingly.

    Reading, resolution and drift fall with the root of the number of sweeps, relocking only if the
    table was unlocked in between, the rest not at all: least of all the surface, whose bumps lie
    under the same stations every time. Where the sweeps
    scatter more than twice what those sources allow (judgement), both together take their place,
    pooled by their degrees of freedom (GUM H.3.6): two sweeps alone, with one degree of freedom,
    would say next to nothing.
    """
    if not pairs:
        raise ValueError("there is no sweep to combine; give one at least")
    count = len(pairs)
    if count == 1:
        return Combined(pairs[0], budgets, None)
    redrawn = sources_redrawn(relocked)
    means, scatters, cut = [], [], []
    for axis, budget in enumerate(budgets):
        sample = evaluate_sample([pair[axis] for pair in pairs])
        means.append(sample.mean)
        scatters.append(sample.sd)
        falling = Budget(tuple(c for c in budget.components if c.source in redrawn))
        if sample.sd > 2 * falling.u:
            kept = tuple(c for c in budget.components if c.source not in redrawn)
            known = min(falling.dof, _ALLOWED_DOF)
            sd, dof = pooled([(falling.u, known), (sample.sd, sample.dof)])
            cut.append(Budget((*kept, Component("sweeps", sd / sqrt(count), dof))))
        else:
            cut.append(reduced(budget, 1 / sqrt(count), redrawn))
    return Combined((means[0], means[1]), (cut[0], cut[1]), (scatters[0], scatters[1]))


def sources_redrawn(relocked: bool) -> frozenset[Source]:
    """Sources whose errors differ from sweep to sweep, so that a mean has less of them."""
    return _EACH_SWEEP | (_EACH_LOCKING if relocked else frozenset())


def reduced(budget: Budget, factor: float, sources: frozenset[Source]) -> Budget:
    """The budget with the components of some sources multiplied."""
    return Budget(
        tuple(replace(c, u=c.u * factor) if c.source in sources else c for c in budget.components)
    )


@dataclass(frozen=True, slots=True)
class HalfTurn:
    """Result of two sweeps, the indicator refitted half a turn round the spindle for the second.

    ``pair``: the table's, free of what the spindle adds once a turn. ``slip``: what the spindle
    adds, as a pair. ``u_pair``: standard uncertainty of each of both.
    """

    pair: Pair
    slip: Pair
    u_pair: Pair


def combine_half_turn(first: Pair, refitted: Pair, u_first: Pair, u_refitted: Pair) -> HalfTurn:
    """The mean cancels axial slip once a turn, half the difference is that slip (derived).

    Axial slip looks exactly like a tilted table in one sweep, since both go once round with the
    spindle; refitted half a turn round, the indicator meets the slip upside down.
    """
    u = tuple(sqrt(a * a + b * b) / 2 for a, b in zip(u_first, u_refitted, strict=True))
    return HalfTurn(
        pair=((first[0] + refitted[0]) / 2, (first[1] + refitted[1]) / 2),
        slip=((first[0] - refitted[0]) / 2, (first[1] - refitted[1]) / 2),
        u_pair=(u[0], u[1]),
    )


def mean_budget(one: Budget, other: Budget, redrawn: frozenset[Source]) -> Budget:
    """The budget of the mean of two results, source by source.

    Sources redrawn add in squares and are halved; the others are shared by both results, and the
    larger is kept.
    """
    parts = []
    for source in dict.fromkeys(c.source for c in (*one.components, *other.components)):
        found = [c for c in (*one.components, *other.components) if c.source == source]
        largest = max(found, key=lambda c: c.u)
        if source in redrawn or source == "sweeps":
            u = sqrt(sum(c.u**2 for c in found)) / 2
            dof = effective_dof([(c.u, c.dof) for c in found])
            parts.append(replace(largest, u=u, dof=dof))
        else:
            parts.append(largest)
    return Budget(tuple(parts))
