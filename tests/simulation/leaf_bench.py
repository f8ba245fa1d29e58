"""A machine to practise on with feeler leaves: gaps under a bent rod, and a square at the bar.

Belongs here: what a leaf finds of the hidden truth. The table and its moves are the bench's.
"""

from collections.abc import Sequence
from decimal import Decimal

from assistant.metrology.stations import OPPOSITE
from assistant.simulation.bench import BEARINGS, Bench, Machine
from grammar.vocabulary import Station


class LeafBench(Bench):
    """The bench with a bent rod, and with a square that is wrong by ``square_error`` counts over
    the height at which it is compared."""

    def __init__(self, machine: Machine, square_error: float = 0.0) -> None:
        super().__init__(machine)
        self.square_error = square_error
        self._rod = 0.0

    def set_rod(self, station: Station, leaf: Decimal) -> None:
        """The rod so that this leaf just drags there."""
        self._rod = self._raw(BEARINGS[station]) + float(leaf)

    def gap(self, station: Station) -> float:
        """What lies open under the rod there, in counts; below zero it cannot pass."""
        return self._rod - self._raw(BEARINGS[station])

    def light(self, station: Station, height_over_diameter: float) -> float:
        """What a square there shows, in counts: positive when it is open at the bottom."""
        slope = self._raw(BEARINGS[station]) - self._raw(BEARINGS[OPPOSITE[station]])
        return slope * height_over_diameter + self.square_error


def thickest(size: float, leaves: Sequence[Decimal]) -> Decimal:
    """The thickest leaf that goes into this gap, zero when none does."""
    return max((leaf for leaf in leaves if float(leaf) <= size), default=Decimal(0))


def thinnest(size: float, leaves: Sequence[Decimal]) -> Decimal | None:
    """The thinnest leaf that does not go, None when all do."""
    return min((leaf for leaf in leaves if float(leaf) > size), default=None)
