"""How often the best possible method could prove a table, by how often it may sweep.

Belongs here: an oracle at the study's own machines. It knows each machine's response, pivot and
pull, how its surface waves and how its dial repeats. It corrects both axes at once, with the best
stack of the owner's leaves, and every sweep, eight spots each, tells it of the table as it stands
as if the table had stood so in all sweeps before. What it does not know is the surface, and where
the lock lands; and, where it is not told, the response before its first shim, and the scatter but
for what its own readings leave.

    python -m tests.benchmarks.study.oracle [--class ordinary] [--tolerance 2] [--machines 300]
        [--seed 1]
"""

from __future__ import annotations

import argparse
import random
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import floor, hypot, inf, radians, sqrt

from assistant.dialogue.machine import Profile
from assistant.metrology.conformance import CONFORMANCE, Disc, region_probability
from tests.benchmarks.study.bound import plus_or_minus
from tests.benchmarks.study.job import Job, fewest_of
from tests.benchmarks.study.machines import KINDS, counts_of, draw
from tests.benchmarks.study.worn import WornBench

FURTHER_DEG = 11.459
"""An inch on ten, by which every spot of another sweep lies further round."""

TIMES = 1.5
"""The goal: sweeps of a whole job, in those of perfect knowledge."""

SPARE = 5.0
"""Degrees of freedom that eight spots of a sweep leave beside height and tilt."""


@dataclass(frozen=True, slots=True)
class Fate:
    """What becomes of one machine; ``left``: its true tilt then, in tolerances."""

    claimed: bool
    left: float


def repeat_of(bench: WornBench, late_sd: float, step: float) -> float:
    """Standard deviation of a reading again at its spot: touch, rounding, and reached late on the
    slope of a wave, sqrt 2 of its height to its length (from the correlation exp -(r/l)^2)."""
    surface = bench.surface
    missed = radians(late_sd) * surface.radius_in / surface.wave_in
    parts = (bench.machine.touch, bench.faults.wander, step / sqrt(12))
    return hypot(*parts, sqrt(2) * surface.waviness * missed, surface.roughness)


def fate_of(
    name: str, seed: int, tolerance: float, times: float = TIMES, *, told: bool = True
) -> Fate:
    """One machine of a class; ``times``: sweeps of the job that are allowed, in the fewest.

    ``told``: it knows response and scatter from the start.
    """
    person, profile = draw(name, seed, tolerance)
    bench, own = person.worn, random.Random(f"oracle {seed}")
    limit, job = counts_of(profile), Job(name, seed, tolerance)
    bench.lock_all()
    tilt = bench.plane
    fewest_of(job, bench, profile, limit)
    repeat = repeat_of(bench, person.mistakes.late_sd, float(profile.scale.step))
    most = max(floor(times * job.fewest), 1)
    spreads = [
        plus_or_minus(plan_of(sweeps), bench.surface.waviness, repeat) / 1.96
        for sweeps in range(1, most + 1)
    ]
    errors = [nested(spreads, own) for _ in range(2)]
    best = min(bench.best_left(profile.stock, profile.max_leaves), hypot(*tilt))
    missed = 0.0 if told else tilt[0] * (1 - bench.machine.response / guess_of(profile))
    lands = bench.machine.relock
    for at, spread in enumerate(spreads):
        front, right = tilt[0] + errors[0][at], tilt[1] + errors[1][at]
        known = ((spread**2, 0.0), (0.0, spread**2))
        dof = inf if told else SPARE * (at + 1)
        if region_probability(Disc(limit), front, right, known, dof) >= CONFORMANCE:
            return Fate(True, hypot(*tilt) / limit)
        if hypot(front, right) > limit and at + 1 < most:
            tilt = (best + missed + own.gauss(0.0, lands), own.gauss(0.0, lands))
            missed = 0.0
    return Fate(False, hypot(*tilt) / limit)


def guess_of(profile: Profile) -> float:
    """The response by what the owner knows: of the span, or of any span from two to six inches."""
    span_in = sqrt(2.0 * 6.0) if profile.span is None else float(profile.span.to("in"))
    return float(profile.sweep_diameter.to("in")) / span_in


def plan_of(sweeps: int) -> tuple[float, ...]:
    """By how many degrees each round of four stations is turned."""
    return tuple(FURTHER_DEG * k + between for k in range(sweeps) for between in (0.0, 45.0))


def nested(spreads: Sequence[float], own: random.Random) -> list[float]:
    """Errors of best linear estimates that each use all that the one before did: what one is off
    beside the last is independent of it."""
    errors = [own.gauss(0.0, spreads[-1])]
    for surer, spread in pairwise(reversed(spreads)):
        errors.append(errors[-1] + own.gauss(0.0, sqrt(max(spread**2 - surer**2, 0.0))))
    return errors[::-1]


def cannot_though_within(fates: Sequence[Fate]) -> float:
    """Share of all jobs that end without a claim on a table that is within."""
    return sum(not one.claimed and one.left <= 1.0 for one in fates) / len(fates)


def table(name: str, tolerance: float, seeds: Sequence[int]) -> str:
    """A line for each number of sweeps, a column for each oracle."""
    lines = [f"{name}, {tolerance:g} thou, {len(seeds)} machines: cannot say though within, %"]
    lines += [f"{'sweeps / fewest':<18}{'told all':>12}{'not told':>12}"]
    for times in (1.0, TIMES, 2.0, 3.0):
        shares = [
            cannot_though_within([fate_of(name, s, tolerance, times, told=told) for s in seeds])
            for told in (True, False)
        ]
        lines.append(f"{times:<18g}" + "".join(f"{100 * one:>12.1f}" for one in shares))
    return "\n".join(lines)


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the table of one class."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.study.oracle")
    parser.add_argument("--class", dest="name", choices=list(KINDS), default="ordinary")
    parser.add_argument("--tolerance", type=float, default=2.0, help="thou")
    parser.add_argument("--machines", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args(arguments)
    seeds = [chosen.seed * 1_000_000 + n for n in range(chosen.machines)]
    sys.stdout.write(f"{table(chosen.name, chosen.tolerance, seeds)}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
