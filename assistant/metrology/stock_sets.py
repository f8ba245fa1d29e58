"""Usual sets of feeler leaves and cut shims, and how true a stack of them is.

Belongs here: lists to choose a stock from. All of them are common practice, no standard is quoted.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from typing import Final, Literal

from assistant.metrology.lengths import Length, Unit
from assistant.metrology.uncertainty import rectangular

StockName = Literal["inch_26", "metric_20", "metric_13", "cut_inch", "cut_metric"]


def _set(unit: Unit, *thicknesses: str) -> tuple[Length, ...]:
    return tuple(Length.of(text, unit) for text in thicknesses)


STOCKS: Final[dict[StockName, tuple[Length, ...]]] = {
    # Feeler sets: from memory. An army manual (TM 9-243) has 2 to 26 blades, in thousandths.
    "inch_26": _set("thou", "1.5", *(str(n) for n in range(2, 27))),
    "metric_20": _set("mm", *(f"0.{n:02}" for n in range(5, 100, 5)), "1.00"),
    "metric_13": _set(
        "mm", "0.05", "0.10", "0.15", "0.20", "0.25", "0.30", "0.40", "0.50", "0.60", "0.70",
        "0.80", "0.90", "1.00",
    ),
    # Cut alignment shims: inch by a supplier's list, metric from memory.
    "cut_inch": _set(
        "in", "0.001", "0.002", "0.003", "0.004", "0.005", "0.010", "0.015", "0.020", "0.025",
        "0.050", "0.075", "0.100", "0.120",
    ),
    "cut_metric": _set("mm", "0.05", "0.10", "0.20", "0.25", "0.50", "1.00"),
}  # fmt: skip

# A gauge maker's note: a leaf of 0.010 in is made to +-0.00035 in. In proportion to thickness, for
# want of anything better.
_LEAF_TOLERANCE: Final = 0.035

# The same note: ten such leaves measured 0.106, then 0.105 in. Half a thou more than nominal, at
# nine joints, 0.0006 in each; burrs and oil decide, so it is all doubt either way of half of it.
_JOINT_MM: Final = 0.0055 / 9 * 25.4


def stack_height_mm(leaves: Sequence[Length]) -> tuple[float, float]:
    """Likely height of a stack, and its standard uncertainty, both in millimetres.

    Leaves add exactly; each joint adds what is trapped in it, half as likely as not. Measure the
    stack with a micrometer where it matters.
    """
    nominal = sum(float(leaf.mm) for leaf in leaves)
    joints = max(len(leaves) - 1, 0)
    made = [rectangular(_LEAF_TOLERANCE * float(leaf.mm)) for leaf in leaves]
    # All joints of a stack are as clean as each other: their doubts add, not their squares.
    trapped = rectangular(_JOINT_MM / 2) * joints
    return nominal + joints * _JOINT_MM / 2, sqrt(sum(u * u for u in made) + trapped**2)


def too_unequal(leaves: Sequence[Length]) -> bool:
    """Whether a stack holds a leaf ten times as thick as another, which lets the thin one buckle.

    Leaves of a stack should not be of very different thickness: a power plant's maintenance note;
    ten is judgement.
    """
    return len(leaves) > 1 and max(leaves) > min(leaves) * 10
