"""The machine, its indicator and its shim stock, as the dialogue knows them."""

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Literal

from assistant.metrology.lengths import Length, parse_length
from assistant.metrology.problem import FrontMayBe
from assistant.metrology.rig import Tip
from grammar.scale import Scale

Method = Literal["indicator", "gap", "square", "touch"]
Face = Literal["balanced", "continuous"]
Higher = Literal["plus", "minus", "ask"]

MachineKind = Literal["bolted", "pinned", "free", "head", "packed"]
"""How a machine is set square.

``bolted``: the table hangs on a tilt bolt, a shim beside it sets it front to back, taps side
to side. ``pinned``: the same with a locating pin that comes out first. ``free``: the table is
tapped both ways. ``head``: the spindle's head nods and tilts. ``packed``: what is swept stands on
plain feet (a vise, a box table) and is shimmed under its low side, on either axis.
"""

SHIMMED: tuple[MachineKind, ...] = ("bolted", "pinned")
"""The kinds that are set by a shim at a tilt bolt."""

LEAVES: tuple[MachineKind, ...] = (*SHIMMED, "packed")
"""The kinds that are set by leaves of any stock."""

INCH_STOCK: tuple[Decimal, ...] = tuple(
    Decimal(text)
    for text in ("1.5", "2", "3", "4", "5", "6", "7", "8", "9", "10", "12", "15", "20", "25")
)
"""A usual set of feeler leaves in thou (common practice, no source)."""

METRIC_STOCK: tuple[Decimal, ...] = tuple(
    Decimal(text) for text in ("3", "4", "5", "6", "7", "8", "9", "10", "15", "20", "30", "50")
)
"""A usual set of feeler leaves in hundredths of a millimetre (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Instrument:
    """What is held to the table, and how it is read.

    ``face``: a balanced dial counts both ways from zero, a continuous one counts one way
    round, ``per_turn`` counts to a turn; ``counter``: a small hand counts the turns.
    ``higher``: what a higher table does to the number; "ask" until a leaf was slipped under
    the tip. ``lever_deg``: how far a lever stands off the table; ``tip``: its shape.
    ``limit``: the largest error of the indicator over the span that a sweep uses, in counts.
    ``gauges``: the leaves for gaps, in counts, those of the shim stock if there are none;
    ``set_to``: the leaf that a bent rod is set to at the first station, None for a usual one.
    ``square_height``: how far above the foot of a square its blade and the bar are compared.
    """

    face: Face = "balanced"
    per_turn: int = 100
    counter: bool = False
    higher: Higher = "plus"
    lever_deg: Decimal = Decimal(0)
    tip: Tip = "ball"
    gauges: tuple[Decimal, ...] = ()
    set_to: Decimal | None = None
    square_height: Length | None = None
    limit: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True)
class Profile:
    """What is known of a machine before a job.

    ``tolerance`` counts over ``tolerance_over`` and is taken in proportion; over the sweep
    diameter where that is None. ``front_may_be``: "high" or "low" allows the front to be off
    that way only, since drilling thrust pushes it down. ``pivot_offset`` is where the table pivots
    side to side, to the right of the spindle axis. ``span`` is the distance from the contact
    edge to the shim, None when unknown. ``stock`` and ``reading_sd`` are in counts of the
    scale; ``reading_sd`` is the standard deviation of one reading over table roughness,
    ``relock_sd`` that of front minus back (and right minus left) from relocking. What was
    measured at this machine counts instead where it is there: ``surface``, readings at spots in a
    row about one station, as far apart as ``spots_further`` says; ``relock``, readings at the
    right, each after unlocking and locking again; ``lock_pull``, how far the reading there goes
    from snug to hard. In counts. ``surface_on``, ``relock_on``: the days on which that was measured
    ("2026-02-11"), empty where nobody knows;
    ``surface_days``, ``relock_days``: how long ago, as the job began.
    ``leaf_tolerance``: a leaf may be so much thicker or thinner than what is written on it.
    ``hole_depth``: of a hole as it is usually drilled there, None for a usual one.
    ``kind`` is how it is set; ``nod_offset`` is how far behind the spindle axis a head nods
    (or a free table turns front to back).
    """

    name: str = "drill press"
    scale: Scale = field(default_factory=lambda: Scale("thou", 30, Decimal("0.5")))
    sweep_diameter: Length = field(default_factory=lambda: parse_length("10 in", "in"))
    tolerance: Length = field(default_factory=lambda: parse_length("4 thou", "thou"))
    tolerance_over: Length | None = None
    front_may_be: FrontMayBe = "either"
    pivot_offset: Length = field(default_factory=lambda: parse_length("0 in", "in"))
    span: Length | None = None
    stock: tuple[Decimal, ...] = INCH_STOCK
    max_leaves: int = 3
    method: Method = "indicator"
    instrument: Instrument = field(default_factory=Instrument)
    reading_sd: Decimal = Decimal("0.8")
    relock_sd: Decimal = Decimal("0.5")
    surface: tuple[Decimal, ...] = ()
    relock: tuple[Decimal, ...] = ()
    lock_pull: Decimal | None = None
    surface_on: str = ""
    relock_on: str = ""
    surface_days: float = 0.0
    relock_days: float = 0.0
    leaf_tolerance: Decimal = Decimal(0)
    hole_depth: Length | None = None
    kind: MachineKind = "bolted"
    nod_offset: Length = field(default_factory=lambda: parse_length("0 in", "in"))
