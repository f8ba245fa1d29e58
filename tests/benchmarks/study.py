"""How good is the advice? A thousand simulated machines squared, against the truth.

    python -m tests.benchmarks.study [--machines 1000] [--seed 1] [--tolerances 2.5 4 8]

Belongs here: drawing the machines and judging whole jobs by what only the simulation knows. Every
job goes through the real dialogue with typed words. Lengths are in thou; the table is in
`study_table`.
"""

from __future__ import annotations

import argparse
import random
import sys
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from math import cos, hypot, radians, sin

from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Effect, Result, Step
from assistant.dialogue.repeating import MOST
from assistant.metrology.answer import Answer
from assistant.metrology.conformance import proving_limits
from assistant.metrology.judgement import budget_of_more
from assistant.metrology.leaves import stacks_of
from assistant.metrology.lengths import Length
from assistant.metrology.problem import Noise, Problem, Reading
from assistant.metrology.solve import solve
from assistant.metrology.stations import BEARING_OF
from assistant.simulation.bench import Bench, Machine
from assistant.simulation.caller import Operator
from assistant.simulation.clock import SimulatedClock
from assistant.simulation.rehearsal import TextCarrier, rehearse
from tests.benchmarks.study_table import SETTLING, table

TOLERANCES = (2.5, 4.0, 8.0)
DIAMETER_IN = 10.0


def draw(seed: int, tolerance: float = 4.0) -> tuple[Machine, Profile]:
    """A machine of random span, pivot, roughness and lock, and what its owner knows of it.

    One in five is nearly square as found. The span is known for half of them, and then the
    response still differs from diameter / span by up to three tenths; so is the pivot, to a tenth
    of the radius. The owner knows the noise of the machine from earlier jobs, to a tenth of a thou.
    """
    chance = random.Random(f"study {seed}")
    tilt = chance.uniform(0.0, 3.0) if chance.random() < 0.2 else chance.uniform(3.0, 20.0)
    bearing = radians(chance.uniform(0.0, 360.0))
    span = chance.uniform(2.0, 6.0)
    pivot = chance.uniform(-0.3, 0.3)
    texture, touch = chance.uniform(0.1, 0.5), chance.uniform(0.1, 0.3)
    relock = chance.uniform(0.1, 0.8)
    profile = Profile()
    machine = Machine(
        scale=profile.scale,
        front_minus_back=tilt * cos(bearing),
        right_minus_left=tilt * sin(bearing),
        texture=texture,
        touch=touch,
        relock=relock,
        lock_pull=chance.uniform(-0.5, 0.5),
        pivot=pivot,
        hinge=chance.uniform(1.1, 1.6),
        response=DIAMETER_IN / span * chance.uniform(0.7, 1.3),
        response_scatter=0.05,
        coupling=chance.uniform(-0.15, 0.15),
        stir=0.4,
        creep=chance.uniform(-0.04, 0.04),
        seed=seed,
    )
    knows_span, knows_pivot = chance.random() < 0.5, chance.random() < 0.5
    told_pivot = pivot + chance.uniform(-0.1, 0.1) if knows_pivot else 0.0
    return machine, replace(
        profile,
        tolerance=Length.of(Decimal(str(tolerance)), "thou"),
        span=Length.of(Decimal(str(round(2 * span) / 2)), "in") if knows_span else None,
        pivot_offset=Length.of(Decimal(str(round(told_pivot * DIAMETER_IN / 2, 1))), "in"),
        reading_sd=Decimal(str(round(hypot(texture, touch), 1))),
        relock_sd=Decimal(str(round(relock, 1))),
    )


class OpenBench(Bench):
    """A bench that tells its settled truth: the mean over all ways that the lock may land."""

    @property
    def settled(self) -> tuple[float, float]:
        """front_minus_back and right_minus_left of the locked table, without relock scatter."""
        front = self._found - self._response * float(self.shim)
        return front, self._sides + self.machine.lock_pull

    def wiggle_readings(self, times: int) -> list[Decimal]:
        """Readings about the right station, the dial shifted a little each time."""
        plain = self.height(90.0) - self._surface(90.0)
        touch = self.machine.touch
        return [
            self.rounded(plain + self._surface(90.0 + 5 * k) + self._chance.gauss(0.0, touch))
            for k in range(times)
        ]

    def relock_readings(self, times: int) -> list[Decimal]:
        """Readings at the right station, each after easing the lock and locking again."""
        found = []
        for _ in range(times):
            self.ease_lock()
            self.lock_all()
            found.append(self.read("right"))
        return found

    def best_tilt(self, stock: Sequence[Decimal], most: int) -> float:
        """The smallest tilt that any stack on either side of the bolt would leave, sides level."""
        sums = {sum(stack, Decimal(0)) for stack in stacks_of(stock, most)}
        return min(
            abs(self._found - self._response * sign * float(total))
            for total in sums
            for sign in (1, -1)
        )


@dataclass(slots=True)
class Job:
    """What one job came to, against the truth.

    `fewest`: sweeps that it takes with perfect knowledge of the machine, but the same leaves and
    the same noise. `could_prove`: whether the best that these leaves can make of the table could
    be proven by as many sweeps of it as the dialogue ever takes.
    """

    sweeps: int = 0
    fewest: int = 1
    claimed: bool = False
    within: bool = False
    could_prove: bool = False
    ended: str = ""
    intervals: list[bool] = field(default_factory=list)
    corrections: int = 0
    chased: int = 0


def play(seed: int, tolerance: float = 4.0) -> Job:
    """One whole job on one machine."""
    machine, profile = draw(seed, tolerance)
    bench = OpenBench(machine)
    clock = SimulatedClock()
    job = Job()
    answers: list[Answer] = []

    def notice(effect: Effect) -> None:
        match effect:
            case Result(answer=answer):
                answers.append(answer)
                job.intervals += _covered(answer, bench.settled)
            case Step(do="shim" | "tap") if answers:
                job.corrections += 1
                job.chased += _is_noise(effect, answers[-1], bench.settled)
            case _:
                pass

    found = hypot(*bench.settled)
    operator = Operator(bench, profile, random.Random(f"person {seed}"))
    played = rehearse(operator, TextCarrier(clock), clock, notice=notice)
    job.ended = played.tally.ended
    job.sweeps = len(played.state.sweeps)
    last = played.state.as_left
    if last is None:
        return job
    job.claimed = last.verdict == "within"
    job.within = hypot(*bench.settled) <= tolerance
    best = min(bench.best_tilt(profile.stock, profile.max_leaves), found)
    at_once, after = (proving_sweeps(answers[0], tolerance, tilt) for tilt in (found, best))
    job.could_prove = after is not None
    # One sweep finds it, a second one after the correction shows what cannot be proven.
    job.fewest = at_once or 1 + (after or 1)
    return job


def proving_sweeps(single: Answer, tolerance: float, tilt: float) -> int | None:
    """Sweeps of a table that lies so, until their mean proves it; None when `MOST` do not.

    The readings are taken to show just the truth; `single` is any one sweep of this machine.
    """
    for count in range(1, MOST + 1):
        mean = budget_of_more(single.budget, 1 / count, relocked=True)
        limit, _ = proving_limits(tolerance, mean.covariance, (1.0, 0.0), mean.tilt.dof)
        if limit is not None and tilt <= limit:
            return count
    return None


def _covered(answer: Answer, settled: tuple[float, float]) -> list[bool]:
    budget = answer.budget
    return [
        abs(answer.front_minus_back - settled[0]) <= budget.front_minus_back.expanded(),
        abs(answer.right_minus_left - settled[1]) <= budget.right_minus_left.expanded(),
    ]


def _is_noise(step: Step, answer: Answer, settled: tuple[float, float]) -> bool:
    """Whether more than half of the difference that is to be corrected is not there at all."""
    axis = 0 if step.do == "shim" else 1
    found = (answer.front_minus_back, answer.right_minus_left)[axis]
    return settled[axis] / found < 0.5 if found else True


def sampled_intervals(seed: int) -> list[bool]:
    """Whether both intervals of one sweep hold the truth when its noise is measured on the spot."""
    machine, profile = draw(seed)
    bench = OpenBench(machine)
    bench.lock_all()

    def lengths(values: Sequence[Decimal]) -> tuple[Length, ...]:
        return tuple(Length.of(value, "thou") for value in values)

    noise = Noise(
        surface=lengths(bench.wiggle_readings(SETTLING)),
        relock=lengths(bench.relock_readings(SETTLING)),
        resolution=Length.of(profile.scale.step, "thou"),
    )
    bench.zero("back")
    called = [bench.read(station) for station in BEARING_OF]
    problem = Problem(
        unit="thou",
        readings=tuple(
            Reading.at(station, value)
            for station, value in zip(BEARING_OF, lengths(called), strict=True)
        ),
        closing=Length.of(bench.read("back"), "thou"),
        sweep_diameter=profile.sweep_diameter,
        noise=noise,
    )
    return _covered(solve(problem), bench.settled)


def main(arguments: Sequence[str] | None = None) -> int:
    """Play the jobs and print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.study")
    parser.add_argument("--machines", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--tolerances", type=float, nargs="+", default=list(TOLERANCES))
    chosen = parser.parse_args(arguments)
    if chosen.machines < 1:
        parser.error("--machines is below one; give a count")
    if min(chosen.tolerances) <= 0:
        parser.error("--tolerances has one that is not above zero; give sizes in thou")
    seeds = [chosen.seed * 1_000_000 + n for n in range(chosen.machines)]
    columns = {
        f"{tolerance:g} thou": [play(seed, tolerance) for seed in seeds]
        for tolerance in chosen.tolerances
    }
    sampled = [one for seed in seeds for one in sampled_intervals(seed)]
    sys.stdout.write(table(columns, sampled) + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
