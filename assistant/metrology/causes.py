"""Why a job does not come to an end: the likely cause by its pattern.

Belongs here: naming causes from what repeated. What is said of them, and what to do, is the
dialogue's. Lengths are floats in one unit.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf
from typing import Literal

from assistant.metrology.t_distribution import coverage_factor

Cause = Literal["drift", "slip", "loose", "seized", "warped", "slack"]
"""drift: the dial wanders evenly, warm up and tighten its clamp. slip: it jumped once. loose:
clamp or bar give, differently each time. seized: what is moved does not follow. warped: the same
stations miss the plane alike each time. slack: it follows, and does not stay."""


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


def of_misfits(
    misfits: Sequence[float], limit: float, u_again: float, dof: float = inf
) -> Cause | None:
    """The cause of sweeps whose stations are no plane; None while they are.

    ``misfits``: the saddle of each sweep in order, ``limit``: what a good one stays within,
    ``u_again``: standard uncertainty by which a saddle comes out differently when the same spots
    are read again. A table that is not flat shows the same each time (two sweeps at least say so).
    """
    beyond = [value for value in misfits if abs(value) > limit]
    if not beyond:
        return None
    if len(misfits) < 2:
        return "slip"
    spread = max(misfits) - min(misfits)
    same = spread <= coverage_factor(dof, 0.99) * 2**0.5 * u_again
    if same and len(beyond) == len(misfits):
        return "warped"
    return "slip" if len(beyond) == 1 else "loose"


def of_moves(asked: Sequence[float], followed: Sequence[float], u: float) -> Cause | None:
    """The cause of moves that do not come to what was asked; None while they do.

    ``asked`` and ``followed``: changes of the same reading, in order; ``u``: standard uncertainty
    of one change. Only moves that were large enough to show count (three u). Two that did not
    follow at all, or less than a quarter, are a table that is seized; two that went far enough and
    the wrong way are one that does not stay.
    """
    shares = [
        done / wanted for wanted, done in zip(asked, followed, strict=True) if abs(wanted) > 3 * u
    ]
    if len(shares) < 2:
        return None
    last = shares[-2:]
    if all(abs(share) < 0.25 for share in last):
        return "seized"
    return "slack" if all(share < -0.25 for share in last) else None
