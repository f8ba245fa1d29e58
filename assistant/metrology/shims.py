"""Front to back: where the shim goes, how thick, from which leaves, and what to expect.

Shims inside are signed: positive above the tilt bolt, which lowers the front of a table hung on a
vertical face in front of its arm; negative below, which raises it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import sqrt

from assistant.metrology.leaves import best_stack, stacks_of
from assistant.metrology.lengths import Unit
from assistant.metrology.problem import Place, Trial
from assistant.metrology.response import Response, TrialStep
from assistant.metrology.trial_check import left_uncertainty, next_stack
from assistant.metrology.uncertainty import rectangular


@dataclass(frozen=True, slots=True)
class ShimPlan:
    """What to shim. Lengths are in one unit, ``leaves`` exactly as in the stock.

    ``place``: None when front and back are level. ``total``: all the shim that should be in place;
    None when the response is not known to be the right way. ``add``: ``total`` less what is in at
    the same place (negative: take out); a shim on the other side comes out altogether. ``leaves``:
    the stack for ``total``. ``expected_left``: front_minus_back with that stack in; None without a
    stock. ``left_uncertainty``: standard uncertainty of that as it will be read; None without a
    stock. ``next_leaves``: the stack to fit next, holding back while the response is uncertain.
    ``step_moves``: what the smallest step of the stock does to front_minus_back; when that is more
    than what is wrong now, the stock is ``too_coarse``.
    """

    place: Place | None
    response: Response
    total: float | None
    add: float | None
    leaves: tuple[Decimal, ...]
    expected_left: float | None
    left_uncertainty: float | None = None
    next_leaves: tuple[Decimal, ...] = ()
    step_moves: float | None = None
    too_coarse: bool = False


def place_for(front_minus_back: float) -> Place | None:
    """Above the bolt if the front is high, below if it is low."""
    if front_minus_back == 0:
        return None
    return "above" if front_minus_back > 0 else "below"


def signed(total: Decimal, place: Place) -> Decimal:
    """The shim as a signed thickness, positive above."""
    return total if place == "above" else -total


def plan_shim(
    front_minus_back: float,
    response: Response,
    stock: Sequence[Decimal] = (),
    max_leaves: int = 3,
    fitted: Decimal = Decimal(0),
    u_difference: float = 0.0,
    leaf_tolerance: float = 0.0,
) -> ShimPlan:
    """The shim that should level the table front to back, ``fitted`` (signed) being in now.

    ``u_difference`` is the standard uncertainty of one front_minus_back from clamping to clamping.
    ``leaf_tolerance`` is the largest error of one leaf; each adds rectangular(leaf_tolerance) (GUM
    4.3.7), independently. The stack is chosen for the smallest difference left, ties to fewer
    leaves.
    """
    if front_minus_back == 0 and not fitted:
        return ShimPlan(None, response, 0.0, 0.0, (), 0.0)
    if response.value <= 0:
        return ShimPlan(place_for(front_minus_back), response, None, None, (), None)
    target = float(fitted) + front_minus_back / response.value
    place = place_for(target)
    if place is None:
        return ShimPlan(None, response, 0.0, -float(abs(fitted)), (), 0.0)
    same_side = fitted and (fitted > 0) == (target > 0)
    add = abs(target) - float(abs(fitted)) if same_side else abs(target)
    if not stock:
        return ShimPlan(place, response, abs(target), add, (), None)
    # With a tie the stack that leaves the front high is taken: drilling thrust pushes it down.
    leaves = best_stack(Decimal(abs(target)), stock, max_leaves, thicker=place == "below")
    stack = signed(sum(leaves, Decimal(0)), place)
    left = front_minus_back - response.value * float(stack - fitted)
    step_moves = response.value * float(_smallest_step(stock, max_leaves, abs(fitted)))
    coarse = front_minus_back != 0 and step_moves > abs(front_minus_back)
    return ShimPlan(
        place=place,
        response=response,
        total=abs(target),
        add=add,
        leaves=leaves,
        expected_left=left,
        left_uncertainty=left_uncertainty(
            response,
            float(stack - fitted),
            u_difference,
            sqrt(len(leaves)) * rectangular(leaf_tolerance),
        ),
        next_leaves=next_stack(front_minus_back, response, stock, max_leaves, place, fitted),
        step_moves=step_moves,
        too_coarse=coarse,
    )


def _smallest_step(stock: Sequence[Decimal], max_leaves: int, fitted: Decimal) -> Decimal:
    """The smallest change of thickness, from what is fitted to some stack."""
    sums = (sum(stack, Decimal(0)) for stack in stacks_of(stock, max_leaves))
    return min(abs(total - fitted) for total in sums if total != fitted)


@dataclass(frozen=True, slots=True)
class ExactStep:
    """One shimming step with exact signed shims and differences, in one unit."""

    shim_before: Decimal
    before: Decimal
    shim_after: Decimal
    after: Decimal

    def rough(self) -> TrialStep:
        """The same as floats, for the fit."""
        return TrialStep(
            float(self.shim_before), float(self.before), float(self.shim_after), float(self.after)
        )


def steps_of(trials: Sequence[Trial], unit: Unit) -> tuple[ExactStep, ...]:
    """The trials as steps counted in ``unit``, with the shim before each of them worked out.

    A trial without a base continues from the one before it, unless its ``before`` is nearer to what
    was found at first: then it started from no shim.
    """
    steps: list[ExactStep] = []
    for trial in trials:
        before, total = trial.before.to(unit), trial.total.to(unit)
        continues = bool(steps) and (abs(before - steps[-1].after) <= abs(before - steps[0].before))
        place = trial.place
        if place is None:
            if continues and steps[-1].shim_after:
                place = place_for(float(steps[-1].shim_after))
            place = place or place_for(float(before)) or "above"
        if trial.base is not None:
            base = signed(trial.base.to(unit), place)
        else:
            base = steps[-1].shim_after if continues else Decimal(0)
        steps.append(ExactStep(base, before, signed(total, place), trial.after.to(unit)))
    return tuple(steps)


def fitted_now(steps: Sequence[ExactStep], front_minus_back: Decimal) -> Decimal:
    """The signed shim that was in when ``front_minus_back`` was read: after or before the trials.

    The last trial's, if that left about this difference; none, if the table is as it was found or
    as in no trial at all (the trials are then those of another day). Unit of the steps.
    """
    if not steps:
        return Decimal(0)
    last, first = steps[-1], steps[0]
    from_after = abs(front_minus_back - last.after)
    moved = abs(last.before - last.after)
    if from_after <= abs(front_minus_back - first.before) and from_after <= moved:
        return last.shim_after
    return Decimal(0)
