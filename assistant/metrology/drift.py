"""Drift of the dial during a sweep: its size, and taking it out."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal


def drift_of(readings: Sequence[Decimal], closing: Decimal) -> Decimal:
    """Second reading at the first station minus the first reading there."""
    return closing - readings[0]


def shares_of(turns: Sequence[float], closed_at: float) -> tuple[float, ...]:
    """The part of the return error that each station had picked up when it was read.

    ``turns``: when, in readings since the first; ``closed_at``: when the first was read again. A
    station read again after closing had picked up more than all of it.
    """
    return tuple((turn - turns[0]) / (closed_at - turns[0]) for turn in turns)


def without_drift(
    readings: Sequence[Decimal],
    closing: Decimal | None,
    turns: Sequence[float] | None = None,
    closed_at: float | None = None,
) -> tuple[Decimal, ...]:
    """The readings, in the order taken, less a drift that grew evenly through the sweep.

    With n stations and a return error d, the k-th reading (from 0) loses d k/n: ``turns`` and
    ``closed_at`` where they were read in another order, or again. Without a closing reading nothing
    is taken out.
    """
    if closing is None:
        return tuple(readings)
    drift, count = drift_of(readings, closing), len(readings)
    if turns is None:
        return tuple(value - drift * k / count for k, value in enumerate(readings))
    end = Decimal(count) if closed_at is None else Decimal(closed_at)
    return tuple(
        value - drift * (Decimal(turn) - Decimal(turns[0])) / (end - Decimal(turns[0]))
        for value, turn in zip(readings, turns, strict=True)
    )
