"""Usual sets of feeler leaves and cut shims.

Belongs here: lists to choose a stock from. All of them are common practice, no standard is quoted.
"""

from __future__ import annotations

from typing import Final, Literal

from assistant.metrology.lengths import Length, Unit

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
