"""Setting a table by touch: what rounds of first and second to drag say, and what to try next.

Belongs here: ranking only. No round says by how much; the amount is found by halving between a
shim that was too thin and one that was too thick.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final, Literal

from assistant.metrology.leaves import best_stack
from assistant.metrology.stations import OPPOSITE, StationName

Axis = Literal["front to back", "side to side"]

AXIS_OF: Final[dict[StationName, Axis]] = {
    "front": "front to back", "back": "front to back",
    "right": "side to side", "left": "side to side",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Round:
    """The rod lowered once: which side dragged first, and second if that could be told.

    ``first`` None: all dragged alike. ``shim``: the signed shim that was in, above the bolt
    positive.
    """

    first: StationName | None
    second: StationName | None
    shim: Decimal


def high_at(one: Round, axis: Axis) -> StationName | None:
    """The higher side of an axis in a round, None when it cannot be told."""
    touched = (one.first, one.second)
    return next((side for side in touched if side is not None and AXIS_OF[side] == axis), None)


def no_plane(first: StationName, second: StationName) -> bool:
    """Whether these two cannot be the two highest of a plane: they lie opposite, or are one."""
    return second in (first, OPPOSITE[first])


def next_shim(
    rounds: Sequence[Round], stock: Sequence[Decimal], max_leaves: int, trial: Decimal
) -> Decimal | None:
    """The signed shim to try, above positive; None when none lies between too thin and too thick.

    While only one end is known the step is a ``trial`` leaf and then doubles; between both ends the
    stack nearest to the middle is taken.
    """
    low = high = None
    for one in rounds:
        side = high_at(one, "front to back")
        if side == "front":
            low = one.shim if low is None else max(low, one.shim)
        elif side == "back":
            high = one.shim if high is None else min(high, one.shim)
    if low is not None and high is not None:
        return _between(low, high, stock, max_leaves)
    if low is not None:
        return _stack(_further(low, rounds, trial), stock, max_leaves)
    if high is not None:
        return -_stack(_further(-high, rounds, trial), stock, max_leaves)
    return None


def _further(end: Decimal, rounds: Sequence[Round], trial: Decimal) -> Decimal:
    """One trial leaf at first, then twice what was tried."""
    tried = max((abs(one.shim) for one in rounds), default=Decimal(0))
    return end + (trial if not tried else max(tried, trial))


def _between(
    low: Decimal, high: Decimal, stock: Sequence[Decimal], max_leaves: int
) -> Decimal | None:
    middle = (low + high) / 2
    found = _stack(abs(middle), stock, max_leaves) * (1 if middle >= 0 else -1)
    return found if low < found < high else None


def _stack(target: Decimal, stock: Sequence[Decimal], max_leaves: int) -> Decimal:
    if not stock:
        return target
    return sum(best_stack(target, stock, max_leaves, thicker=False), Decimal(0))
