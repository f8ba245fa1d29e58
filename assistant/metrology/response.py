"""What a shim does to this machine: a first guess, and learning from trials.

Shims are signed here: positive above the tilt bolt, negative below. The model is
front_minus_back = found - response * shim, so that a response above zero is the right way round.
Lengths are floats in one unit; the response has none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Final

import numpy as np

from assistant.metrology.least_squares import fit_linear

# The span counts from the edge on which the table hinges when the bolt is tightened, and that edge
# is guessed: half as much either way is not rare (derived from a bolt in the middle of its flange).
_SPAN_KNOWN_RELATIVE: Final = 0.5

# A leaf of one and a half may move the far reading by three: common practice, no source.
_SPAN_UNKNOWN: Final = (2.0, 2.0)


@dataclass(frozen=True, slots=True)
class Response:
    """Change of front_minus_back per unit of shim, its standard uncertainty, trials behind it."""

    value: float
    uncertainty: float
    trials: int = 0


@dataclass(frozen=True, slots=True)
class Step:
    """One shimming step: signed shim and front_minus_back before and after."""

    shim_before: float
    before: float
    shim_after: float
    after: float


def prior_response(diameter_over_span: float | None) -> Response:
    """The response to expect before any trial: sweep diameter / span, and very uncertain.

    Without a span it is two, give or take two.
    """
    if diameter_over_span is None:
        return Response(*_SPAN_UNKNOWN)
    return Response(diameter_over_span, _SPAN_KNOWN_RELATIVE * diameter_over_span)


def response_of(step: Step, u_difference: float) -> Response | None:
    """The response that one step shows by itself; None if the shim was not changed.

    `u_difference` is the standard uncertainty of one front_minus_back.
    """
    change = step.shim_after - step.shim_before
    if change == 0:
        return None
    return Response((step.before - step.after) / change, sqrt(2) * u_difference / abs(change), 1)


def learn_response(prior: Response, steps: Sequence[Step], u_difference: float) -> Response:
    """The prior and all steps together, each weighted by its uncertainty.

    Minimises the squared misfit of front_minus_back = found - response * shim over all readings
    (in units of `u_difference`) plus that of the prior. A step that starts where the one before it
    ended shares that reading; any other starts from its own, unknown, table.
    """
    useful = [step for step in steps if step.shim_after != step.shim_before]
    if not useful:
        return prior
    if u_difference <= 0:
        raise ValueError("u_difference is not above zero; a reading is never exact")
    chains = _chains(useful)
    rows = [[-shim if i == 0 else float(i == n + 1) for i in range(len(chains) + 1)]
            for n, chain in enumerate(chains) for shim, _ in chain]  # fmt: skip
    seen = [difference for chain in chains for _, difference in chain]
    weight = u_difference / prior.uncertainty
    rows.append([weight] + [0.0] * len(chains))
    seen.append(weight * prior.value)
    fit = fit_linear(np.array(rows, dtype=np.float64), np.array(seen, dtype=np.float64))
    uncertainty = u_difference * sqrt(float(fit.covariance_factor[0, 0]))
    return Response(float(fit.coefficients[0]), uncertainty, prior.trials + len(useful))


# A pivot is told to within about a quarter of the sweep radius (judgement): tables are not
# symmetrical about their clamp.
_TURN_RELATIVE: Final = 0.25

HEAD_RELATIVE: Final = 0.5
"""The same where the pivot is far off, or is only guessed, as in a head that nods (judgement)."""


def learn_turn(
    pivot_over_radius: float,
    taps: Sequence[tuple[float, float, float]],
    u_difference: float,
    relative: float = _TURN_RELATIVE,
) -> Response:
    """Change of right_minus_left per change of height at the right station, from taps.

    Each tap is (change at the right, right_minus_left before, after). Before any it is
    2 / (1 - pivot), give or take `relative` of it; taps count by their uncertainty. A pivot under
    the right station, which would move nothing there, is taken as one nine tenths of the way.
    """
    believed = 2 / (1 - min(pivot_over_radius, 0.9))
    prior = Response(believed, relative * believed)
    steps = [Step(0.0, before, -change, after) for change, before, after in taps]
    return learn_response(prior, steps, u_difference)


def pivot_of_turn(turn: float) -> float:
    """The pivot in sweep radii to the right of the axis that turns a table so: 1 - 2 / turn."""
    return 1 - 2 / turn


def _chains(steps: Sequence[Step]) -> list[list[tuple[float, float]]]:
    chains: list[list[tuple[float, float]]] = []
    end: tuple[float, float] | None = None
    for step in steps:
        start = (step.shim_before, step.before)
        if start != end:
            chains.append([start])
        end = (step.shim_after, step.after)
        chains[-1].append(end)
    return chains
