"""What an indicator can show: the numbers that may be called at it."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

System = Literal["thou", "mm"]


@dataclass(frozen=True, slots=True)
class Scale:
    """The dial of a job.

    A *count* is what a bare spoken number counts: one thou (0.001 in) at an inch job,
    one hundredth of a millimetre at a metric one.

    ``reach``: the largest number of counts that can be called, 1 to 999.
    ``step``: the finest part of a count that the operator reads: 1, 0.5, 0.25, 0.1, 0.05,
    0.02 or 0.01.
    """

    system: System = "thou"
    reach: int = 30
    step: Decimal = Decimal("0.25")

    def __post_init__(self) -> None:
        if not 1 <= self.reach <= 999:
            raise ValueError(f"reach is {self.reach}: use 1 to 999 counts")
        if self.step not in STEPS:
            allowed = ", ".join(str(step) for step in STEPS)
            raise ValueError(f"step is {self.step}: use one of {allowed}")

    def shows(self, value: Decimal) -> bool:
        """Tell whether the dial can show this many counts, sign aside."""
        return abs(value) <= self.reach and value % self.step == 0

    @property
    def count_mm(self) -> Decimal:
        """The size of one count in millimetres, exactly (1 in = 25.4 mm, NIST SP 811)."""
        return Decimal("0.0254") if self.system == "thou" else Decimal("0.01")


STEPS: tuple[Decimal, ...] = tuple(
    Decimal(text) for text in ("1", "0.5", "0.25", "0.1", "0.05", "0.02", "0.01")
)
