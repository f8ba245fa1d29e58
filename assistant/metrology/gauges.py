"""Measuring without a dial: feeler gauges and a square.

Belongs here: from gauge to height. A bigger gap is a lower table.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from assistant.metrology.uncertainty import rectangular


@dataclass(frozen=True, slots=True)
class GaugedGap:
    """A gap and its standard uncertainty; ``u`` is None when only its least size is known."""

    value: float
    u: float | None


def gap_between(go: Sequence[Decimal], no_go: Sequence[Decimal] | None) -> GaugedGap:
    """The gap that takes the stack ``go`` and not the stack ``no_go``, in their unit.

    It is equally likely anywhere between: the middle, u = half the step / sqrt 3. An empty ``go``
    is a gap that takes nothing; no ``no_go`` leaves it open above.
    """
    lower = sum(go, Decimal(0))
    if no_go is None:
        return GaugedGap(float(lower), None)
    upper = sum(no_go, Decimal(0))
    if upper <= lower:
        raise ValueError(f"{upper} does not go but {lower} does; call the smaller one again")
    return GaugedGap(float(lower + upper) / 2, rectangular(float(upper - lower) / 2))


def next_up(go: Decimal, leaves: Sequence[Decimal]) -> Decimal:
    """What surely does not go where ``go`` is the thickest that was found to go: the next leaf.

    Above the thickest leaf stacks are tried, and the thinnest leaf on top is the next. Without any
    leaves half as much again.
    """
    thicker = [leaf for leaf in leaves if leaf > go]
    if thicker:
        return min(thicker)
    return go + min(leaves) if leaves else go * Decimal("1.5") + 1


def worth_asking(go: Decimal, no_go: Decimal, sd: float) -> bool:
    """Whether what lies open between two leaves is more than a reading scatters anyway.

    ``sd`` is the standard deviation of one reading; the interval's is its width / sqrt 12.
    """
    return rectangular(float(no_go - go) / 2) > sd


def square_difference(
    leaf: float, height: float, diameter: float, open_at: Literal["top", "bottom"]
) -> float:
    """Height of the square's station less the opposite one, over the sweep diameter.

    A square stands on the table at a station, its blade along a true bar in the spindle; a leaf
    fills the gap at one end of ``height``. Open at the bottom, the bar leans to the square: the
    table is high there. All in one unit; similar triangles.
    """
    if height <= 0 or diameter <= 0:
        raise ValueError("height and diameter must be above zero")
    difference = leaf / height * diameter
    return difference if open_at == "bottom" else -difference
