"""What a shim does to this machine: a first guess, and learning from trials.

Shims are signed here: positive above the tilt bolt, negative below. The model is
front_minus_back = found - response * shim, so that a response above zero is the right way round.
Lengths are floats in one unit; the response has none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot, inf, sqrt
from statistics import NormalDist
from typing import Final

import numpy as np

from assistant.metrology.least_squares import fit_linear
from assistant.metrology.lengths import Length
from assistant.metrology.t_distribution import coverage_factor
from assistant.metrology.uncertainty import dof_of_guess, effective_dof

_NORMAL: Final = NormalDist()

# The span counts from the edge on which the table hinges when the bolt is tightened, and that edge
# is guessed: half as much either way is not rare (derived from a bolt in the middle of its flange).
_SPAN_KNOWN_RELATIVE: Final = 0.5

USUAL_SPAN: Final = Length.of("4", "in")
"""From the edge on which a table hinges to the shim at its tilt bolt, where nobody measured it: a
flange of six inches with the bolt a third of the way in (judgement)."""

# Guessed altogether, it may be half as far or twice.
_SPAN_GUESSED_RELATIVE: Final = 0.7
# Sweep diameters over the usual span, where not even the diameter is known.
_USUAL_RATIO: Final = 2.5

# What a response may be, in those that geometry lets expect: a shim that moves the far reading by
# less than a tenth of that is not being clamped, by more than five times it is something else.
_LEAST, _MOST = 0.1, 5.0
# A turn may be no more than this many times what the pivot lets expect, nor less: beyond it the
# pivot would lie outside the table.
_TURN_REACH: Final = 2.5
# Posteriors this far from their bounds, in standard uncertainties, are left as they are.
_CLEAR_OF_BOUNDS: Final = 2.0


@dataclass(frozen=True, slots=True)
class Response:
    """Change of front_minus_back per unit of shim, its standard uncertainty, trials behind it.

    ``with_reading``: covariance of the value with the last reading that it was learnt from. What is
    left after the next shim is reckoned from that same reading, and an error in it counts twice.
    """

    value: float
    uncertainty: float
    trials: int = 0
    with_reading: float = 0.0


@dataclass(frozen=True, slots=True)
class TrialStep:
    """One shimming step: signed shim and front_minus_back before and after."""

    shim_before: float
    before: float
    shim_after: float
    after: float


def prior_response(diameter_over_span: float | None) -> Response:
    """The response to expect before any trial: sweep diameter over span, and very uncertain.

    Similar triangles: the table hinges on an edge ``span`` from the shim. None: nothing is known.
    """
    if diameter_over_span is None:
        return Response(_USUAL_RATIO, _SPAN_GUESSED_RELATIVE * _USUAL_RATIO)
    return Response(diameter_over_span, _SPAN_KNOWN_RELATIVE * diameter_over_span)


def prior_of_machine(sweep_diameter: Length | None, span: Length | None) -> Response:
    """The same from the machine's measures, with a usual span where it was not measured."""
    if sweep_diameter is None:
        return prior_response(None)
    if span is None:
        ratio = float(sweep_diameter / USUAL_SPAN)
        return Response(ratio, _SPAN_GUESSED_RELATIVE * ratio)
    return prior_response(float(sweep_diameter / span))


# From one day to another, table and shim clamped again, a response repeats to within a fifth of
# itself, and wanders by a quarter in a year, with the root of the time. Both are judged, to within
# a quarter of what they are.
_ANOTHER_DAY: Final = 0.2
_WANDERS_IN_A_YEAR: Final = 0.25
_JUDGED_DOF: Final = dof_of_guess(0.25)
_DAYS_OF_A_YEAR: Final = 365.0


def remembered(learnt: Response, days: float, guess: Response) -> Response:
    """What a response that was learnt so many days ago is worth today, before any trial.

    Its uncertainty grows by how far a response wanders from day to day and over the years. How far
    is judged and known to few degrees of freedom, so the sum is widened until its 95 % interval is
    that of Student's t (GUM G.4.1, G.4.2). It is never worth less than the ``guess`` of a machine
    that nobody has measured.
    """
    aged = _WANDERS_IN_A_YEAR * sqrt(max(days, 0.0) / _DAYS_OF_A_YEAR)
    wandered = hypot(_ANOTHER_DAY, aged) * abs(learnt.value)
    dof = effective_dof([(learnt.uncertainty, inf), (wandered, _JUDGED_DOF)])
    widened = hypot(learnt.uncertainty, wandered) * coverage_factor(dof) / coverage_factor(inf)
    doubt_of_guess = guess.uncertainty / guess.value
    return Response(learnt.value, min(widened, doubt_of_guess * abs(learnt.value)))


def learn_response(prior: Response, steps: Sequence[TrialStep], u_difference: float) -> Response:
    """The prior and all steps together, each weighted by its uncertainty.

    Minimises the squared misfit of front_minus_back = found - response * shim over all readings (in
    units of ``u_difference``) plus that of the prior. A step that starts where the one before it
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
    design = np.array(rows, dtype=np.float64)
    fit = fit_linear(design, np.array(seen, dtype=np.float64))
    uncertainty = u_difference * sqrt(float(fit.covariance_factor[0, 0]))
    # The value is a weighted sum of what was seen; the reading before the prior is the last one.
    weight_of_last = float((fit.covariance_factor @ design.T)[0, -2])
    return Response(
        float(fit.coefficients[0]),
        uncertainty,
        prior.trials + len(useful),
        weight_of_last * u_difference**2,
    )


def learn_positive(prior: Response, steps: Sequence[TrialStep], u_difference: float) -> Response:
    """``learn_response``, held to what geometry allows: between a tenth of the prior and five
    times.

    A trial inside the noise may well come out negative; what is known of it then is that part of
    its normal distribution that lies within the bounds (a truncated normal). A response that is
    clearly negative stays so: the shim is on the wrong side, or it is not the shim that moved.
    """
    learnt = learn_response(prior, steps, u_difference)
    if learnt is prior:
        return prior
    return bounded(learnt, _LEAST * prior.value, _MOST * prior.value)


def bounded(response: Response, low: float, high: float) -> Response:
    """The mean and standard deviation of a normal cut off below ``low`` and above ``high``.

    Johnson, Kotz and Balakrishnan, Continuous Univariate Distributions, 13.10 (from memory;
    checked by quadrature). Left alone where it lies well within, or clearly below zero.
    """
    mean, sd = response.value, response.uncertainty
    clear = _CLEAR_OF_BOUNDS * sd
    if low <= mean - clear and mean + clear <= high:
        return response
    if mean + clear < min(low, 0.0):
        return response
    a, b = (low - mean) / sd, (high - mean) / sd
    inside = _NORMAL.cdf(b) - _NORMAL.cdf(a)
    if inside < 1e-6:
        # Far outside: at the bound, with an uncertainty that does not leave it.
        at = low if mean < low else high
        return replace(response, value=at, uncertainty=min(sd, at / 2), with_reading=0.0)
    below, above = _NORMAL.pdf(a), _NORMAL.pdf(b)
    shift = (below - above) / inside
    share = 1 + (a * below - b * above) / inside - shift**2
    return replace(
        response,
        value=mean + sd * shift,
        uncertainty=sd * sqrt(max(share, 0.0)),
        with_reading=response.with_reading * share,
    )


# A pivot is told to within about a quarter of the sweep radius (judgement): tables are not
# symmetrical about their clamp.
_TURN_RELATIVE: Final = 0.25

_OUTLIER: Final = 3.0
"""Standard deviations; one good tap in 370 is further off."""

_ALIKE: Final = 2
"""Taps that no likely pivot explains from which on the pivot is an unlikely one."""

HEAD_RELATIVE: Final = 0.5
"""The same where the pivot is far off, or is only guessed, as in a head that nods (judgement)."""


def learn_turn(
    pivot_over_radius: float,
    taps: Sequence[tuple[float, float, float]],
    u_difference: float,
    relative: float = _TURN_RELATIVE,
) -> Response:
    """Change of right_minus_left per change of height at the right station, from taps.

    Each tap is (change at the right, right_minus_left before, after). Before any it is 2 / (1 -
    pivot), give or take ``relative`` of it; taps count by their uncertainty, and take it no further
    than two and a half times that, either way: a turn near zero would ask for a tap without end. A
    tap that no likely pivot explains was a dial that slipped, or something else: it teaches nothing
    while another one fits, or until a second is like it. A pivot under the right station, which
    would move nothing there, is taken as one nine tenths of the way.
    """
    believed = 2 / (1 - min(pivot_over_radius, 0.9))
    prior = Response(believed, relative * believed)
    fitting = [tap for tap in taps if _off_pivot(prior, tap, u_difference) <= _OUTLIER]
    counted = fitting if fitting or len(taps) < _ALIKE else taps
    steps = [TrialStep(0.0, before, -change, after) for change, before, after in counted]
    learnt = learn_response(prior, steps, u_difference)
    if learnt is prior or learnt.value + _CLEAR_OF_BOUNDS * learnt.uncertainty < 0:
        # A tap that went the wrong way says nothing of the pivot.
        return prior
    return bounded(learnt, believed / _TURN_REACH, believed * _TURN_REACH)


def _off_pivot(prior: Response, tap: tuple[float, float, float], u_difference: float) -> float:
    """Standard deviations by which a tap misses what is believed of the pivot."""
    change, before, after = tap
    sd = hypot(prior.uncertainty * change, sqrt(2) * u_difference)
    return abs(after - before - prior.value * change) / sd


def pivot_of_turn(turn: float) -> float:
    """The pivot in sweep radii to the right of the axis that turns a table so: 1 - 2 / turn."""
    return 1 - 2 / turn


def _chains(steps: Sequence[TrialStep]) -> list[list[tuple[float, float]]]:
    chains: list[list[tuple[float, float]]] = []
    end: tuple[float, float] | None = None
    for step in steps:
        start = (step.shim_before, step.before)
        if start != end:
            chains.append([start])
        end = (step.shim_after, step.after)
        chains[-1].append(end)
    return chains
