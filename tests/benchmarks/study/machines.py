"""The machines of the study, drawn by class and seed, and what their owners know of them.

Belongs here: the distributions. All are judgements about drill presses and mills in small shops
(no source); lengths are drawn in thou and inches and turned into the counts of the dial.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from decimal import Decimal
from math import cos, hypot, radians, sin

import numpy as np

from assistant.dialogue.formatting import tolerance_counts
from assistant.dialogue.machine import Profile
from assistant.dialogue.spots import spots_further
from assistant.metrology.lengths import Length
from assistant.metrology.scatter import SIDE_STATION_SHARE
from assistant.records.machines.presets import preset
from assistant.simulation.bench import Machine, profile_for
from assistant.simulation.wording import Manner
from tests.benchmarks.study.person import Mistakes, Person
from tests.benchmarks.study.surface import Surface
from tests.benchmarks.study.worn import Faults, WornBench, WornFeet, WornHead

Range = tuple[float, float]

TOLERANCES = (2.0, 4.0, 8.0)
"""In thou over the sweep, for every kind that has none of its own."""


@dataclass(frozen=True, slots=True)
class Kind:
    """A class of machines: ranges that are drawn from evenly, in thou unless named otherwise.

    `knows`: how the owner knows the noise: "guessed" by the preset, "told" by what was measured
    in an earlier job, "settled" by measuring in this one. `names`: what the dialogue is to name.
    """

    waviness: Range = (0.2, 1.5)
    roughness: Range = (0.1, 0.3)
    touch: Range = (0.1, 0.3)
    relock: Range = (0.2, 0.8)
    pull: float = 1.5
    drift_sd: float = 0.8
    drift: Range | None = None
    slip: float = 0.002
    sure_slip: bool = False
    loose: Range | None = None
    seized: bool = False
    warp: Range | None = None
    bowl: Range | None = None
    stick: Range | None = None
    exchange: float = 0.004
    sure_exchange: bool = False
    misread: float = 0.004
    late: Range = (0.0, 2.0)
    late_sd: float = 2.0
    stays: bool = False
    knows: str = "guessed"
    make: str = "drill"
    tolerances: tuple[float, ...] = TOLERANCES
    names: str = ""


SOUND = Kind()
QUIET = Kind(
    waviness=(0.1, 0.25), roughness=(0.05, 0.1), touch=(0.05, 0.15), relock=(0.05, 0.2), pull=0.3,
    drift_sd=0.2, slip=0.0, exchange=0.0, misread=0.0, late=(0.0, 0.0), late_sd=1.0,
)  # fmt: skip
ROUGH = replace(SOUND, waviness=(1.2, 2.2), roughness=(0.3, 0.6))
EVEN = replace(SOUND, waviness=(0.1, 0.5), relock=(0.1, 0.4), slip=0.0, exchange=0.0, misread=0.0)
"""Sound but for the one fault that a class is about."""

KINDS: dict[str, Kind] = {
    "ordinary": SOUND,
    "told": replace(SOUND, knows="told"),
    "settled": replace(SOUND, knows="settled"),
    "quiet": QUIET,
    "rough": ROUGH,
    "rough-told": replace(ROUGH, knows="told"),
    "rough-settled": replace(ROUGH, knows="settled"),
    "metric": replace(SOUND, make="metric", tolerances=(2.0, 4.0)),
    "mill": replace(
        SOUND, make="mill", tolerances=(1.0, 2.0), waviness=(0.05, 0.2), roughness=(0.02, 0.08),
        touch=(0.03, 0.1), relock=(0.03, 0.15), drift_sd=0.2,
    ),
    "vise": replace(SOUND, make="vise", waviness=(0.05, 0.4), tolerances=(2.0, 4.0)),
    "drift": replace(EVEN, drift=(2.0, 3.0), names="drift"),
    "slip": replace(EVEN, slip=0.03, sure_slip=True, names="slip"),
    "loose": replace(EVEN, loose=(2.5, 6.0), names="loose"),
    "seized": replace(EVEN, seized=True, names="seized"),
    "warped": replace(EVEN, warp=(6.0, 14.0), names="warped"),
    "dished": replace(EVEN, bowl=(6.0, 14.0), names="dished"),
    "exchange": replace(EVEN, sure_exchange=True, names="exchange"),
    "misread": replace(EVEN, misread=0.05),
    "late": replace(EVEN, late=(3.0, 7.0)),
    "sticking": replace(EVEN, stick=(0.5, 1.0)),
    "staying": replace(ROUGH, stays=True),
}  # fmt: skip


def draw(name: str, seed: int, tolerance: float) -> tuple[Person, Profile]:
    """The person at one machine of a class, `tolerance` in thou; the bench is theirs."""
    kind, chance = KINDS[name], random.Random(f"machine {name} {seed}")
    profile, times = _profile_of(kind, tolerance)
    machine, known = _machine(kind, profile, times, seed, chance)
    surface = _surface(kind, known, times, seed, chance)
    bench = _bench(kind, machine, surface, _faults(kind, times, chance), chance)
    if kind.knows == "told":
        known = _measured(known, surface, machine, chance)
    manner = Manner(affirm=0.2, shim_called=0.1, settle=float(kind.knows == "settled"))
    mistakes = Mistakes(
        misread=kind.misread,
        exchange=kind.exchange,
        sure_exchange=chance.choice((1, 2)) if kind.sure_exchange else 0,
        late=chance.choice((-1, 1)) * chance.uniform(*kind.late),
        late_sd=kind.late_sd,
        stays=kind.stays,
    )
    return Person(bench, known, random.Random(f"person {name} {seed}"), manner, mistakes), known


def _profile_of(kind: Kind, tolerance: float) -> tuple[Profile, float]:
    """What every owner knows, and how many counts of the dial a thou is."""
    if kind.make == "metric":
        known = profile_for("mm")
        return replace(known, tolerance=Length.of(_tidy(tolerance / 40), "mm")), 2.54
    layouts = {"mill": "knee mill", "vise": "vise on a table"}
    known = (preset(layouts[kind.make], "inch") if kind.make in layouts else None) or Profile()
    return replace(known, tolerance=Length.of(_tidy(tolerance), "thou")), 1.0


def _machine(
    kind: Kind, profile: Profile, times: float, seed: int, chance: random.Random
) -> tuple[Machine, Profile]:
    """The machine without its surface; one in five is nearly square as found.

    The span is known to one in two owners, to half an inch; so is the pivot, to a tenth of the
    radius.
    """
    # What is bent as well must still be read on the dial.
    bent = kind.warp or kind.bowl or kind.loose
    most = 12.0 if bent or kind.make in ("mill", "vise") else 20.0
    tilt = chance.uniform(0.0, 3.0) if chance.random() < 0.2 else chance.uniform(3.0, most)
    bearing = radians(chance.uniform(0.0, 360.0))
    aside = chance.uniform(6.0, 15.0) * chance.choice((-1, 1))
    span_in, pivot = chance.uniform(2.0, 6.0), chance.uniform(-0.3, 0.3)
    diameter_in = float(profile.sweep_diameter.to("in"))
    if kind.make == "vise" and profile.span is not None:
        span_in = float(profile.span.to("in")) * chance.uniform(0.8, 1.2)
    drift = chance.gauss(0.0, kind.drift_sd)
    drift = max(-3.0, min(3.0, drift))
    if kind.drift is not None:
        drift = chance.choice((-1, 1)) * chance.uniform(*kind.drift)
    machine = Machine(
        scale=profile.scale,
        front_minus_back=tilt * cos(bearing) * times,
        right_minus_left=(aside if kind.seized else tilt * sin(bearing)) * times,
        touch=chance.uniform(*kind.touch) * times,
        relock=chance.uniform(*kind.relock) * times,
        lock_pull=chance.uniform(-kind.pull, kind.pull) * times,
        pivot=pivot,
        hinge=chance.uniform(1.2, 2.4) if kind.make == "mill" else chance.uniform(1.1, 1.6),
        response=diameter_in / span_in * chance.uniform(0.85, 1.15),
        response_scatter=chance.uniform(0.02, 0.08),
        coupling=chance.uniform(-0.2, 0.2),
        stir=0.1 if kind.make == "mill" else 0.4 * times,
        creep=drift / 4 * times,
        seed=seed,
    )
    knows_span, knows_pivot = chance.random() < 0.5, chance.random() < 0.5
    if kind.make in ("mill", "vise"):
        return machine, profile
    told = (pivot + chance.uniform(-0.1, 0.1)) * diameter_in / 2 if knows_pivot else 0.0
    span = Length.of(_tidy(round(2 * span_in) / 2), "in") if knows_span else None
    return machine, replace(profile, span=span, pivot_offset=Length.of(_tidy(told), "in"))


def _surface(
    kind: Kind, profile: Profile, times: float, seed: int, chance: random.Random
) -> Surface:
    warp, bowl = kind.warp or (0.0, 0.0), kind.bowl or (0.0, 0.0)
    return Surface(
        seed,
        float(profile.sweep_diameter.to("in")) / 2,
        waviness=chance.uniform(*kind.waviness) * times,
        roughness=chance.uniform(*kind.roughness) * times,
        saddle=chance.choice((-1, 1)) * chance.uniform(*warp) * times,
        bowl=chance.uniform(*bowl) * times,
        oval=chance.uniform(0.3, 1.0),
    )


def _faults(kind: Kind, times: float, chance: random.Random) -> Faults:
    return Faults(
        wander=(0.02 if kind.make == "mill" else 0.05) * times,
        slip=kind.slip,
        slip_by=12.0 * times,
        # The first reading sets the zero; from the second on a slip shows.
        sure_slip=chance.randint(1, 4) if kind.sure_slip else -1,
        loose=chance.uniform(*kind.loose) * times if kind.loose else 0.0,
        seized=kind.seized,
        stick=chance.uniform(*kind.stick) * times if kind.stick else 0.0,
    )


def _bench(
    kind: Kind, machine: Machine, surface: Surface, faults: Faults, chance: random.Random
) -> WornBench:
    if kind.make == "mill":
        return WornHead(machine, surface, faults, (chance.gauss(0, 0.7), chance.gauss(0, 0.7)))
    if kind.make == "vise":
        return WornFeet(machine, surface, faults, machine.response * chance.uniform(0.9, 1.1))
    return WornBench(machine, surface, faults)


def _measured(
    profile: Profile, surface: Surface, machine: Machine, chance: random.Random
) -> Profile:
    """What an earlier job measured with care: eight spots as far apart as the program asks for, at
    the back of this very table, and eight lockings."""
    apart = spots_further(profile) or Length.of(0, "in")
    along = (np.arange(8, dtype=np.float64) - 3.5) * float(apart.to("in"))
    spots = surface.heights(along, np.full(8, surface.radius_in))
    locks = hypot(machine.relock * SIDE_STATION_SHARE, machine.touch)
    step = profile.scale.step

    def read(height: float, sd: float) -> Decimal:
        return round((height + chance.gauss(0.0, sd)) / float(step)) * step

    pull = round(abs(machine.lock_pull) / 2 / float(profile.scale.step)) * profile.scale.step
    return replace(
        profile,
        surface=tuple(read(float(height), machine.touch) for height in spots),
        relock=tuple(read(0.0, locks) for _ in range(8)),
        lock_pull=pull,
    )


def counts_of(profile: Profile) -> float:
    """The tolerance over the sweep in counts of the dial."""
    return float(tolerance_counts(profile))


def _tidy(value: float) -> Decimal:
    return Decimal(str(round(value, 4)))
