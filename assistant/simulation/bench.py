"""A machine to practise on: a tilted, rough table with a dial over it.

The truth of the simulation, drawn from a seed and never told to the dialogue: it is only
worked by hand (lock, ease, shim, tap, zero) and read off the dial. Heights and readings
are in counts of the scale (thou, or hundredths of a millimetre), differences over the
sweep diameter, signs as everywhere: front high, right high and plunger in are positive.
"""

import random
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from math import cos, hypot, radians, sin
from typing import Literal

from assistant.dialogue.machine import METRIC_STOCK, Profile
from assistant.metrology.lengths import Length
from grammar.scale import Scale, System
from grammar.vocabulary import Station

BEARINGS: dict[Station, float] = {"back": 0.0, "right": 90.0, "front": 180.0, "left": 270.0}
"""Degrees clockwise from the back, seen from above."""

LockState = Literal["loose", "snug", "hard"]


class ImpossibleMove(ValueError):
    """What was tried cannot be done on the machine as it stands."""


@dataclass(frozen=True, slots=True)
class Machine:
    """The hidden truth about one machine, in counts.

    ``front_minus_back``, ``right_minus_left``: as found, without relock scatter. ``texture``:
    standard deviation of the surface, the same at every visit of a spot; ``touch``: that of
    each reading by itself. ``relock``: standard deviation of both differences at each
    locking. ``lock_pull``: what the hard lock does to right minus left, against a snug one.
    ``pivot``: where the table pivots side to side, in radii to the right of the axis;
    ``hinge``: the edge that it hinges on front to back, in radii behind the axis.
    ``response``: fall of front minus back per count of shim above the bolt, with a relative
    scatter at each fitting; ``coupling``: rise of right minus left per count. ``stir``:
    standard deviation of what loosening the bolt does to right minus left. ``creep``: the
    dial's wandering per reading. ``axial_slip``: what the spindle, rising and falling once a
    turn, adds to both differences.
    """

    scale: Scale
    front_minus_back: float
    right_minus_left: float
    texture: float = 0.0
    touch: float = 0.0
    relock: float = 0.0
    lock_pull: float = 0.0
    pivot: float = 0.0
    hinge: float = 1.3
    response: float = 2.0
    response_scatter: float = 0.0
    coupling: float = 0.0
    stir: float = 0.0
    creep: float = 0.0
    seed: int = 0
    axial_slip: tuple[float, float] = (0.0, 0.0)


def draw_machine(seed: int, system: System = "thou") -> Machine:
    """A machine of no particular make: six to twenty thou out (or as much in hundredths)."""
    chance = random.Random(f"machine {seed} {system}")
    metric = system == "mm"
    # A metric count is 0.4 thou: the same machine shows two and a half times the number.
    times = 2.5 if metric else 1.0
    tilt = chance.uniform(6.0, 20.0) * times
    bearing = chance.uniform(0.0, 360.0)
    return Machine(
        scale=profile_for(system).scale,
        front_minus_back=tilt * cos(radians(bearing)),
        right_minus_left=tilt * sin(radians(bearing)),
        texture=0.2 * times,
        touch=0.2 * times,
        relock=chance.uniform(0.2, 0.5) * times,
        lock_pull=chance.uniform(-0.5, 0.5) * times,
        hinge=chance.uniform(1.1, 1.6),
        response=chance.uniform(1.2, 3.2),
        response_scatter=0.05,
        coupling=chance.uniform(-0.15, 0.15),
        stir=0.4 * times,
        creep=chance.uniform(-0.04, 0.04) * times,
        seed=seed,
    )


def profile_for(system: System = "thou") -> Profile:
    """What the person knows of the machine: dial, diameter, tolerance, leaves; no more."""
    if system == "thou":
        return Profile()
    return Profile(
        scale=Scale("mm", 80, Decimal(1)),
        sweep_diameter=Length.of(Decimal(250), "mm"),
        tolerance=Length.of(Decimal("0.1"), "mm"),
        pivot_offset=Length.of(Decimal(0), "mm"),
        stock=METRIC_STOCK,
        reading_sd=Decimal(2),
        relock_sd=Decimal(1),
    )


class Bench:
    """One machine being worked on; everything random comes from the machine's seed."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        self.shim = Decimal(0)
        self.bolt_tight = True
        self.table_lock: LockState = "loose"
        self.readings = 0
        self._chance = random.Random(f"bench {machine.seed}")
        self._texture: dict[int, float] = {}
        self._found = machine.front_minus_back
        self._sides = machine.right_minus_left
        self._response = machine.response
        self._scatter = (0.0, 0.0)
        self._moved = True
        self._dial = 0.0
        self._slipped = 0.0  # of a rig that does slip, see who inherits this
        self._visit = 0
        self._spot_deg = 0.0
        self._bar = 1

    # -- by hand -------------------------------------------------------------------------

    def lock_all(self) -> None:
        """Bolt and table lock hard; each time that something was loose it lands elsewhere."""
        if self._moved:
            sd = self.machine.relock
            self._scatter = (self._chance.gauss(0.0, sd), self._chance.gauss(0.0, sd))
        self.bolt_tight = True
        self.table_lock = "hard"
        if self._moved:
            self._spot_deg = 0.0
        self._moved = False

    def loosen_bolt(self) -> None:
        """The tilt bolt loose: a leaf can go in or out, and nothing can be read."""
        if self.bolt_tight:
            self._sides += self._chance.gauss(0.0, self.machine.stir)
        self.bolt_tight = False
        self._moved = True

    def fit_shim(self, signed: Decimal) -> None:
        """The whole shim that is in from now on, above the bolt positive.

        Raises ``ImpossibleMove`` while the bolt is tight.
        """
        if self.bolt_tight:
            raise ImpossibleMove("a shim does not go in while the tilt bolt is tight")
        if signed == self.shim:
            return
        self._sides += self.machine.coupling * float(signed - self.shim)
        scatter = self._chance.gauss(1.0, self.machine.response_scatter)
        self._response = self.machine.response * scatter
        self.shim = signed

    def ease_lock(self) -> None:
        """The table lock from hard to snug: friction holds the table, a tap moves it."""
        self.table_lock = "snug"
        self._moved = True

    def tap(self, station: Station, change: float) -> None:
        """One stroke that moves the table by ``change`` at this side, turning on its pivot.

        Raises ``ImpossibleMove`` unless the lock is snug and the station is a side away from
        the pivot.
        """
        if self.table_lock != "snug":
            raise ImpossibleMove(f"a tap does nothing while the table lock is {self.table_lock}")
        arm = sin(radians(BEARINGS[station])) - self.machine.pivot
        if station not in ("right", "left") or abs(arm) < 0.05:
            raise ImpossibleMove(f"a tap does not turn the table at the {station}")
        self._sides += 2 * change / arm

    def lock_again(self) -> None:
        """The table lock loose, and hard again with the table back at its mark."""
        self.ease_lock()
        self.lock_all()

    def fresh_spots(self, further_deg: float = 0.0) -> None:
        """The tip comes down beside the spots of before, so much further round, until the table
        is moved."""
        self._visit += 1
        self._texture = {}
        self._spot_deg += further_deg

    def turn_bar(self) -> None:
        """The bar half a turn round in the chuck."""
        self._bar = -self._bar

    # -- the dial ------------------------------------------------------------------------

    def zero(self, station: Station) -> None:
        """Turn the bezel so that the hand stands at zero here."""
        self._dial = self._raw(BEARINGS[station])

    def read(self, station: Station) -> Decimal:
        """What the dial shows here, as a person reads it: to the scale's step."""
        return self.read_at(BEARINGS[station])

    def read_at(self, bearing_deg: float) -> Decimal:
        """The same at any bearing."""
        return self.rounded(self._raw(bearing_deg) - self._dial)

    def rounded(self, value: float) -> Decimal:
        """To the nearest mark of the scale."""
        step = self.machine.scale.step
        marks = (Decimal(str(value)) / step).quantize(Decimal(1), rounding=ROUND_HALF_UP)
        return (marks * step).normalize() + 0

    def _raw(self, bearing_deg: float) -> float:
        self.readings += 1
        bearing_deg += self._spot_deg
        touch = self._chance.gauss(0.0, self.machine.touch)
        wandered = self.machine.creep * self.readings + self._slipped
        x, y = sin(radians(bearing_deg)), cos(radians(bearing_deg))
        front, right = self.machine.axial_slip
        slip = self._bar * (right * x - front * y) / 2
        return self.height(bearing_deg) + slip + wandered + touch

    # -- the truth, for whoever judges the dialogue ----------------------------------------

    def height(self, bearing_deg: float) -> float:
        """The table's height at a bearing of the sweep circle, surface included."""
        x, y = sin(radians(bearing_deg)), cos(radians(bearing_deg))
        sides = self.right_minus_left / 2 * (x - self.machine.pivot)
        return (
            sides
            - self.front_minus_back / 2 * (y - self.machine.hinge)
            + self._surface(bearing_deg)
        )

    def _surface(self, bearing_deg: float) -> float:
        spot = round(bearing_deg) % 360
        if spot not in self._texture:
            visit = f" {self._visit}" if self._visit else ""
            own = random.Random(f"texture {self.machine.seed} {spot}{visit}")
            self._texture[spot] = own.gauss(0.0, self.machine.texture)
        return self._texture[spot]

    @property
    def front_minus_back(self) -> float:
        """Of the plane, as it stands now; a loose table hangs low at the front."""
        sag = 0.0 if self.bolt_tight else 20.0
        return self._found - self._response * float(self.shim) + self._scatter[0] - sag

    @property
    def right_minus_left(self) -> float:
        """Of the plane, as it stands now."""
        pull = self.machine.lock_pull if self.table_lock == "hard" else 0.0
        return self._sides + pull + self._scatter[1]

    @property
    def tilt(self) -> float:
        """The larger of both, as a vector."""
        return hypot(self.front_minus_back, self.right_minus_left)


def prepare_again(bench: Bench, phase: str, further_deg: float) -> str:
    """What the hands do before the same table is swept again; the word for it, none for a yes.

    ``further_deg``: how far round every spot is to be moved on.
    """
    match phase:
        case "refit":
            bench.turn_bar()
            return "done"
        case "lock again":
            bench.lock_again()
            return "locked"
        case _:
            bench.fresh_spots(further_deg if phase == "again" else 0.0)
            return ""
