"""Machines that misbehave as real ones do: over a wavy table, drifting, slipping, loose, seized.

Belongs here: what the iron and the dial do, and the truth about them. Lengths in counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import degrees

from assistant.metrology.leaves import stacks_of
from assistant.simulation.bench import BEARINGS, Bench, Machine
from grammar.vocabulary import Station
from tests.benchmarks.study.surface import Surface
from tests.simulation.head_bench import HeadBench

TOLD = 0.85
"""How often a person finds the fault that they are told to look for."""

ARC_DEG = 3.0
"""Of the way of a tip that drags a hand along: a quarter of an inch on ten."""


@dataclass(frozen=True, slots=True)
class Faults:
    """What is wrong with a machine beyond its tilt.

    `wander`: standard deviation by which the dial wanders at each reading, beside its creep.
    `slip`: probability that dial or bar slip before a reading, by up to `slip_by`; `sure_slip`:
    the reading, counted from the first, before which they slip in any case. `loose`: standard
    deviation of where a loose clamp lets the table land at each locking, until it is seen to; a
    shim does next to nothing meanwhile. `seized`: a tap does nothing. `stick`: by how much the hand
    of the dial hangs behind its tip, either way.
    """

    wander: float = 0.0
    slip: float = 0.0
    slip_by: float = 0.0
    sure_slip: int = -1
    loose: float = 0.0
    seized: bool = False
    stick: float = 0.0


class WornBench(Bench):
    """A bench over a surface, with faults. Read `plane` and `settled` for the truth.

    `pace`: the time that a reading takes, in that of a station of a sweep. `lifting`: the tip is
    lifted and let down at every reading.
    """

    def __init__(self, machine: Machine, surface: Surface, faults: Faults | None = None) -> None:
        super().__init__(machine)
        self.surface = surface
        self.faults = faults or Faults()
        self.loose = self.faults.loose > 0
        self.pace = 1.0
        self.lifting = False
        self.slips = 0
        self.stuck_taps = 0
        self._slipping = self.faults.slip
        self._proper = machine.response
        self._calm = 1.0
        self._locked = (0.0, 0.0)
        self._tip_deg = 0.0
        self._hand = 0.0

    # -- by hand -------------------------------------------------------------------------

    def lock_all(self) -> None:
        """What is loose lands anywhere; the dial creeps on meanwhile."""
        moved = self._moved
        super().lock_all()
        if moved:
            self._slipped += self._calm * self.machine.creep * self._chance.uniform(0.0, 4.0)
        if moved and self.loose:
            wide = self.faults.loose
            self._scatter = (self._chance.gauss(0.0, wide), self._chance.gauss(0.0, wide))
        self._locked = self.plane

    def fit_shim(self, signed: Decimal) -> None:
        """Above a loose clamp a shim does next to nothing, or the wrong thing."""
        super().fit_shim(signed)
        self._proper = self._response
        if self.loose:
            self._response *= self._chance.uniform(-0.4, 0.3)

    def tap(self, station: Station, change: float) -> None:
        """A table that is seized stays where it is."""
        super().tap(station, 0.0 if self.faults.seized else change)
        self.stuck_taps += self.faults.seized

    def beside(self, by_in: float) -> None:
        """Every station so far clockwise of where it was, until the table is moved."""
        self.fresh_spots(degrees(by_in / self.surface.radius_in))

    def see_to_clamp(self) -> None:
        """Somebody looks whether it is tight: mostly it is afterwards."""
        if self.loose and self._chance.random() < TOLD:
            self.loose = False
            self._response = self._proper
            self._moved = True
            if self.bolt_tight and self.table_lock == "hard":
                self.lock_all()

    def see_to_rig(self) -> None:
        """Bar, dial and their clamps are looked after: they mostly do not slip any more."""
        if self._chance.random() < TOLD:
            self._slipping = 0.0

    def warm_up(self) -> None:
        """Waiting takes most of the drift away."""
        self._calm = 0.25

    # -- the dial ------------------------------------------------------------------------

    def _raw(self, bearing_deg: float) -> float:
        # The plain bench creeps by a whole step at each reading, however quick it is.
        part = self._calm * self.pace
        creep = self.machine.creep * (part - 1)
        self._slipped += creep + part * self._chance.gauss(0.0, self.faults.wander)
        sure = self.readings == self.faults.sure_slip
        if sure or self._chance.random() < self._slipping:
            size = self._chance.uniform(0.4, 1.0) * self.faults.slip_by
            self._slipped += self._chance.choice((-size, size))
            self.slips += 1
        return super()._raw(bearing_deg) + self._behind(bearing_deg + self._spot_deg)

    def _behind(self, bearing_deg: float) -> float:
        """How far the hand of a dial that sticks stands beside where its tip is: it is dragged
        along by the tip over the table, the short way round (the play operator of hysteresis).
        A tip that is lifted and let down comes from above, wherever it was."""
        wide = self.faults.stick
        if not wide:
            return 0.0
        way = (bearing_deg - self._tip_deg + 180.0) % 360.0 - 180.0
        steps = 1 + int(abs(way) / ARC_DEG)
        for step in range(1, steps + 1):
            tip = self.height(self._tip_deg + way * step / steps)
            self._hand = min(max(self._hand, tip - wide), tip + wide)
        self._tip_deg = bearing_deg
        there = self.height(bearing_deg)
        if self.lifting:
            self._hand = there + wide
        return self._hand - there

    def shows(self, station: Station) -> Decimal:
        """What the dial would show at a station without the noise of a reading."""
        at = BEARINGS[station] + self._spot_deg
        wandered = self.machine.creep * self.readings + self._slipped
        return self.rounded(self.height(at) + wandered - self._dial)

    def _surface(self, bearing_deg: float) -> float:
        return self.surface.height(bearing_deg, self.surface.radius_in)

    # -- the truth -----------------------------------------------------------------------

    @property
    def plane(self) -> tuple[float, float]:
        """front_minus_back and right_minus_left of the real surface as it stands now."""
        front, right = self.surface.plane
        return self.front_minus_back + front, self.right_minus_left + right

    @property
    def settled(self) -> tuple[float, float]:
        """The same of the locked table, on the mean of all ways that the lock may land."""
        front, right = self.plane
        return front - self._scatter[0], right - self._scatter[1]

    @property
    def locked_truth(self) -> tuple[float, float]:
        """`plane` as it was when everything was locked last."""
        return self._locked

    def best_left(self, stock: Sequence[Decimal], most: int) -> float:
        """The smallest tilt that any stack on either side of the bolt would leave, sides level."""
        sums = {sum(stack, Decimal(0)) for stack in stacks_of(stock, most)}
        found = self._found + self.surface.plane[0]
        response = self.machine.response
        return min(abs(found - response * sign * float(s)) for s in sums for sign in (1, -1))


class WornHead(WornBench, HeadBench):
    """A mill head over a wavy table."""

    def __init__(
        self, machine: Machine, surface: Surface, faults: Faults, pulls: tuple[float, float]
    ) -> None:
        super().__init__(machine, surface, faults)
        self.pulls = pulls

    def best_left(self, stock: Sequence[Decimal], most: int) -> float:
        """A head can be moved to any place, whatever there is to shim with."""
        del stock, most
        return 0.0


class WornFeet(WornBench):
    """What stands on plain feet: a shim goes under either side of either axis.

    `side_response`: fall of right minus left per count under the left, as `machine.response` is
    of front minus back per count under the back.
    """

    def __init__(
        self, machine: Machine, surface: Surface, faults: Faults, side_response: float
    ) -> None:
        super().__init__(machine, surface, faults)
        self.side_response = side_response
        self.under_left = Decimal(0)
        self._side_now = side_response

    def unbolt(self) -> None:
        """Free to be shimmed."""
        self.table_lock = "loose"
        self._moved = True

    def pack(self, side: Station, total: Decimal) -> None:
        """The whole shim under one side; what was under the opposite one comes out."""
        scatter = self._chance.gauss(1.0, self.machine.response_scatter)
        if side in ("back", "front"):
            self.shim = total if side == "back" else -total
            self._response = self.machine.response * scatter
        else:
            self.under_left = total if side == "left" else -total
            self._side_now = self.side_response * scatter

    @property
    def right_minus_left(self) -> float:
        """Of the plane, as it stands now."""
        return super().right_minus_left - self._side_now * float(self.under_left)

    @property
    def tilted(self) -> tuple[float, float]:
        """Both differences without any shim."""
        front, right = self.surface.plane
        return self._found + front, self._sides + right

    def best_left(self, stock: Sequence[Decimal], most: int) -> float:
        """The smallest tilt that shims under both axes would leave."""
        sums = {float(sum(stack, Decimal(0))) for stack in stacks_of(stock, most)} | {0.0}
        both = zip(self.tilted, (self.machine.response, self.side_response), strict=True)
        left = [min(abs(abs(out) - response * total) for total in sums) for out, response in both]
        return float((left[0] ** 2 + left[1] ** 2) ** 0.5)
