"""Machines to start from, by their layout, for inch and metric dials.

The figures are usual ones (common practice, no source): a profile is to be edited to the
machine in hand, and its tolerance is the owner's choice, not a standard's.
"""

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from assistant.dialogue.machine import INCH_STOCK, LEAVES, METRIC_STOCK, MachineKind, Profile
from assistant.metrology.lengths import Length, Unit
from grammar.scale import Scale

Units = Literal["inch", "metric"]


@dataclass(frozen=True, slots=True)
class Layout:
    """A layout of machine. ``sweep``, ``tolerance``: in inches and thou, in mm.

    ``kind``: how it is set. ``nod``: how far behind the spindle axis it nods, in inches and
    mm. ``fine``: a ground table and a dial that is read finer. ``span``: from the shims
    under one side to the other side, in inches and mm, a usual one.
    """

    name: str
    sweep: tuple[int, int]
    tolerance: tuple[str, str]
    about: str
    kind: MachineKind = "bolted"
    nod: tuple[int, int] = (0, 0)
    fine: bool = False
    span: tuple[int, int] | None = None


LAYOUTS: tuple[Layout, ...] = (
    Layout("bench drill press", (8, 200), ("4", "0.1"), "round column, small table that tilts"),
    Layout("floor drill press", (12, 300), ("4", "0.1"), "round column, table on a raising rack"),
    Layout(
        "radial drill", (16, 400), ("6", "0.15"), "arm on a column, fixed table or box",
        kind="packed", span=(20, 500),
    ),
    Layout(
        "knee mill", (10, 250), ("1", "0.025"), "head that nods and tilts, fixed table",
        kind="head", nod=(8, 200), fine=True,
    ),
    Layout(
        "vise on a table", (4, 100), ("2", "0.05"), "the vise's bed is swept, not the table",
        kind="packed", span=(6, 150),
    ),
    Layout(
        "drill press with a locating pin", (10, 250), ("4", "0.1"),
        "a pin holds the table at its middle", kind="pinned",
    ),
    Layout(
        "free table", (8, 200), ("4", "0.1"), "turns both ways in its clamp: no shim, taps only",
        kind="free",
    ),
)  # fmt: skip


def preset(name: str, units: Units) -> Profile | None:
    """The profile of a layout, or None if there is no such layout."""
    layout = next((each for each in LAYOUTS if each.name == name.strip().lower()), None)
    if layout is None:
        return None
    inch = units == "inch"
    at = 0 if inch else 1
    size: Unit = "in" if inch else "mm"
    if inch:
        fine = Decimal("0.1") if layout.fine else Decimal("0.5")
    else:
        fine = Decimal("0.25") if layout.fine else Decimal(1)
    # A table as it comes, or a ground one: guesses, until the noise is measured.
    guess = Decimal("0.2" if layout.fine else "0.8") * (1 if inch else Decimal("2.5"))
    leaves = INCH_STOCK if inch else METRIC_STOCK
    return Profile(
        name=layout.name,
        scale=Scale("thou", 30, fine) if inch else Scale("mm", 50, fine),
        sweep_diameter=Length.of(layout.sweep[at], size),
        tolerance=Length.of(layout.tolerance[at], "thou" if inch else "mm"),
        pivot_offset=Length.of(0, size),
        stock=leaves if layout.kind in LEAVES else (),
        reading_sd=guess,
        relock_sd=fine,
        kind=layout.kind,
        nod_offset=Length.of(layout.nod[at], size),
        span=Length.of(layout.span[at], size) if layout.span else None,
    )
