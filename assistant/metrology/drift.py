"""Drift of the dial during a sweep: its size, and taking it out."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal


def drift_of(readings: Sequence[Decimal], closing: Decimal) -> Decimal:
    """Second reading at the first station minus the first reading there."""
    return closing - readings[0]


def without_drift(readings: Sequence[Decimal], closing: Decimal | None) -> tuple[Decimal, ...]:
    """The readings, in the order taken, less a drift that grew evenly through the sweep.

    With n stations and a return error d, the k-th reading (from 0) loses d k/n. Without a closing
    reading nothing is taken out.
    """
    if closing is None:
        return tuple(readings)
    drift, count = drift_of(readings, closing), len(readings)
    return tuple(value - drift * k / count for k, value in enumerate(readings))
