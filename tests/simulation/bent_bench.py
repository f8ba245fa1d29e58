"""A table that is not flat, and that stands otherwise at another height.

Belongs here: form and height, which the plain bench leaves out. ``saddle`` and ``twist`` are
how far front and back stand over the sides, and the corners back right and front left over
the other two, in counts; ``elsewhere`` is what another height adds to front minus back and
right minus left.
"""

from math import cos, radians, sin

from assistant.simulation.bench import Bench, Machine


class BentBench(Bench):
    """The bench with a table that is bent and a column that is not straight."""

    def __init__(
        self,
        machine: Machine,
        saddle: float = 0.0,
        twist: float = 0.0,
        elsewhere: tuple[float, float] = (0.0, 0.0),
        hollow: float = 0.0,
    ) -> None:
        super().__init__(machine)
        self.saddle, self.twist = saddle, twist
        self.elsewhere, self.hollow = elsewhere, hollow
        self.at_other = False

    def move_table(self) -> None:
        """To the other height, and back from it."""
        self.at_other = not self.at_other
        self.ease_lock()

    def height(self, bearing_deg: float) -> float:
        """The table's height there: plane, surface and form."""
        twice = radians(2 * bearing_deg)
        bent = self.saddle / 2 * cos(twice) + self.twist / 2 * sin(twice)
        return super().height(bearing_deg) + bent

    @property
    def front_minus_back(self) -> float:
        """Of the plane, where the table stands now."""
        return super().front_minus_back + (self.elsewhere[0] if self.at_other else 0.0)

    @property
    def right_minus_left(self) -> float:
        """Of the plane, where the table stands now."""
        return super().right_minus_left + (self.elsewhere[1] if self.at_other else 0.0)
