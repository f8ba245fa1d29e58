"""Drift of the dial during a sweep: its size, and taking it out."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from math import sqrt


def drift_of(readings: Sequence[Decimal], closing: Decimal) -> Decimal:
    """Second reading at the first station minus the first reading there."""
    return closing - readings[0]


def shares_of(
    turns: Sequence[float], closed_at: float, begun_at: float | None = None
) -> tuple[float, ...]:
    """The part of the return error that each station had picked up when it was read.

    ``turns``: when, in readings since the first; ``closed_at``: when the first was read again;
    ``begun_at``: when it was read before, None for the first of the turns. A station read again
    after closing had picked up more than all of it.
    """
    start = turns[0] if begun_at is None else begun_at
    return tuple((turn - start) / (closed_at - start) for turn in turns)


def uneven_part(drift: float | None, returns: Sequence[tuple[float, int]]) -> float | None:
    """How much of a return error may be anything but an even drift; None without one.

    ``returns``: those of all sweeps with their numbers of readings, this one among them. By itself
    a return error may be uneven altogether; returns that come out alike, reading for reading, show
    that it is not. The own one counts as one degree of freedom, what the others differ from a drift
    that is the same for all as one each, pooled (GUM H.3.6).
    """
    if drift is None:
        return None
    even = sum(one for one, _ in returns) / sum(count for _, count in returns)
    off = sum((one - even * count) ** 2 for one, count in returns)
    return sqrt((drift**2 + off) / len(returns))


def without_drift(
    readings: Sequence[Decimal],
    closing: Decimal | None,
    turns: Sequence[float] | None = None,
    closed_at: float | None = None,
    opening: Decimal | None = None,
) -> tuple[Decimal, ...]:
    """The readings, in the order taken, less a drift that grew evenly through the sweep.

    With n stations and a return error d, the k-th reading (from 0) loses d k/n: ``turns`` and
    ``closed_at`` where they were read in another order, or again. ``opening``: the station of the
    closing at turn 0, where it is not the first of the readings. Without a closing reading nothing
    is taken out.
    """
    if closing is None:
        return tuple(readings)
    drift = drift_of(readings, closing) if opening is None else closing - opening
    count = len(readings)
    if turns is None:
        return tuple(value - drift * k / count for k, value in enumerate(readings))
    end = Decimal(count) if closed_at is None else Decimal(closed_at)
    start = Decimal(turns[0]) if opening is None else Decimal(0)
    return tuple(
        value - drift * (Decimal(turn) - start) / (end - start)
        for value, turn in zip(readings, turns, strict=True)
    )
