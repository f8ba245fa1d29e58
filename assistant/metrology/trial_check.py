"""Did a shimming step do what it should? And what to try next while the response is uncertain.

Belongs here: judging one step, and choosing the next stack. Signs as in ``response``: shims
positive above the bolt, front_minus_back = found - response * shim. Lengths in one unit.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from math import inf, sqrt
from typing import Literal

from assistant.metrology.leaves import stacks_of
from assistant.metrology.problem import Place
from assistant.metrology.response import Response, TrialStep
from assistant.metrology.t_distribution import coverage_factor

StepOutcome = Literal["as_expected", "less", "more", "none", "wrong_way", "too_small"]
"""as_expected, less, more: by the response believed before. none: it should have shown and did not:
check the clamping first. wrong_way: the front went the other way, the shim is on the wrong side or
something else moved. too_small: no step of this size can show in this noise."""


def check_step(
    step: TrialStep, response: Response, u_difference: float, dof: float = inf
) -> StepOutcome:
    """What a step did, against the response believed before it.

    ``u_difference`` is the standard uncertainty of one front_minus_back from clamping to clamping,
    known to ``dof`` degrees of freedom. One honest step in twenty is called odd.
    """
    added = step.shim_after - step.shim_before
    if added == 0:
        return "too_small"
    clear = coverage_factor(dof)
    # The change in the direction in which this shim should move the front.
    effect = (step.before - step.after) * (1 if added > 0 else -1)
    expected = response.value * abs(added)
    u_effect = sqrt(2) * u_difference
    if effect < -clear * u_effect:
        return "wrong_way"
    if effect <= clear * u_effect:
        # Nearer to nothing than to what was expected, and too far from that for chance.
        missed = effect < expected / 2 and expected - effect > clear * u_effect
        return "none" if missed else "too_small"
    off = effect - expected
    if abs(off) <= clear * left_uncertainty(response, added, u_difference):
        return "as_expected"
    return "more" if off > 0 else "less"


def left_uncertainty(
    response: Response, change: float, u_difference: float, u_stack: float = 0.0
) -> float:
    """Standard uncertainty of the front_minus_back that will be read after changing the shim.

    Both readings scatter, the response is known only so well, and so is the stack: ``u_stack`` is
    the standard uncertainty of its thickness. What is left is reckoned from the last reading, and
    if the response was learnt from it, too, both errors have it in common (GUM 5.2.2): a trial of
    1.5 and 1.5 more predict 2 b1 - b0, which the next reading misses by sqrt 6 of one of them.
    """
    variance = (
        2 * u_difference**2
        + (response.uncertainty * change) ** 2
        - 2 * change * response.with_reading
        + (response.value * u_stack) ** 2
    )
    return sqrt(max(variance, 0.0))


def next_stack(
    front_minus_back: float,
    response: Response,
    stock: Sequence[Decimal],
    max_leaves: int,
    place: Place,
    fitted: Decimal = Decimal(0),
) -> tuple[Decimal, ...]:
    """The stack to fit next at ``place``: the one with the smallest expected square left.

    Minimises (front_minus_back - k d)^2 + (u(k) d)^2 - 2 d cov(k, reading) over the changes d that
    the stock allows from ``fitted`` (signed). A guessed response makes it hold back, a known one
    goes all the way; so it serves as the first trial too. Ties to fewer leaves. Empty: nothing is
    better than no shim.
    """
    side = 1 if place == "above" else -1
    scale = front_minus_back**2 or 1.0

    def badness(stack: tuple[Decimal, ...]) -> tuple[float, int]:
        change = float(side * sum(stack, Decimal(0)) - fitted)
        left = front_minus_back - response.value * change
        square = left**2 + (response.uncertainty * change) ** 2
        square -= 2 * change * response.with_reading
        # Rounded, so that ties are ties, in whatever unit.
        return round(square / scale, 9), len(stack)

    return min(stacks_of(stock, max_leaves), key=badness)
