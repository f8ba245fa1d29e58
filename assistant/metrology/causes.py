"""Why a job does not come to an end: the likely cause by its pattern.

Belongs here: naming causes from what repeated. What is said of them, and what to do, is the
dialogue's. Lengths are floats in one unit.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

Cause = Literal["drift", "slip", "loose"]
"""drift: the dial wanders evenly, warm up and tighten its clamp. slip: it jumped once. loose:
clamp or bar give, differently each time."""


def of_returns(returns: Sequence[float], limit: float) -> Cause | None:
    """The cause of sweeps that do not return to their first reading; None while they do.

    ``returns``: drift of each sweep in order, ``limit``: what a good one stays within. Two of one
    sign and about one size are a drift, both signs a clamp that gives, and a single one among good
    ones a slip.
    """
    beyond = [value for value in returns if abs(value) > limit]
    if not beyond:
        return None
    if len(beyond) == 1:
        return "slip" if len(returns) > 1 else "drift"
    same_way = min(beyond) > 0 or max(beyond) < 0
    sizes = [abs(value) for value in beyond]
    return "drift" if same_way and max(sizes) <= 3 * min(sizes) else "loose"
