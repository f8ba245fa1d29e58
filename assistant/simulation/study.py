"""How good is the advice? A thousand simulated machines squared, against the truth.

    python -m assistant.simulation.study [--machines 1000] [--seed 1]

Belongs here: drawing the machines, judging whole jobs by what only the simulation knows, and the
table. Every job goes through the real dialogue with typed words. Lengths are in thou.
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
from assistant.metrology.answer import Answer
from assistant.metrology.leaves import stacks_of
from assistant.metrology.lengths import Length
from assistant.metrology.problem import Noise, Problem, Reading
from assistant.metrology.solve import solve
from assistant.metrology.stations import BEARING_OF
from assistant.simulation.bench import Bench, Machine
from assistant.simulation.caller import Operator
from assistant.simulation.clock import SimulatedClock
from assistant.simulation.rehearsal import TextCarrier, rehearse

TOLERANCE = 4.0
DIAMETER_IN = 10.0


def draw(seed: int) -> tuple[Machine, Profile]:
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
        tolerance=Length.of(Decimal(str(TOLERANCE)), "thou"),
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
    """What one job came to, against the truth."""

    sweeps: int = 0
    fewest: int = 1
    claimed: bool = False
    within: bool = False
    could_prove: bool = False
    ended: str = ""
    intervals: list[bool] = field(default_factory=list)
    corrections: int = 0
    chased: int = 0


def play(seed: int) -> Job:
    """One whole job on one machine."""
    machine, profile = draw(seed)
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

    found = bench.settled
    operator = Operator(bench, profile, random.Random(f"person {seed}"))
    played = rehearse(operator, TextCarrier(clock), clock, notice=notice)
    job.ended = played.tally.ended
    job.sweeps = len(played.state.sweeps)
    last = played.state.as_left
    if last is None:
        return job
    job.claimed = last.verdict == "within"
    job.within = hypot(*bench.settled) <= TOLERANCE
    provable = last.judgement.accept_up_to
    job.could_prove = provable is not None and (
        bench.best_tilt(profile.stock, profile.max_leaves) <= provable
    )
    # With perfect knowledge: one sweep proves a good table, any other takes one more.
    job.fewest = 1 if provable is not None and hypot(*found) <= provable else 2
    return job


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


SETTLING = 5
"""Readings taken to know the surface, and to know the lock."""


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


def table(jobs: Sequence[Job], sampled: Sequence[bool]) -> str:
    """The figures, one a line, with the goal where there is one."""
    count = len(jobs)
    ended = [job for job in jobs if not job.ended]
    intervals = [one for job in jobs for one in job.intervals]
    first = [one for job in jobs for one in job.intervals[:2]]
    corrections = sum(job.corrections for job in jobs)

    def share(number: float, of: float) -> str:
        return f"{100 * number / of:6.1f} %" if of else "     -  "

    good = sum(job.claimed and job.within for job in ended)
    cannot = sum(not job.claimed and not job.could_prove for job in ended)
    early = sum(not job.claimed and not job.within and job.could_prove for job in ended)
    false = sum(job.claimed and not job.within for job in ended)
    timid = sum(not job.claimed and job.within and job.could_prove for job in ended)
    sweeps, fewest = sum(job.sweeps for job in ended), sum(job.fewest for job in ended)
    rows = [
        ("jobs that came to their end", share(len(ended), count), "100 %"),
        ("within tolerance and said so, or rightly said that it cannot be proven",
         share(good + cannot, count), ""),
        ("  within tolerance and said so", share(good, count), ""),
        ("  not provable with these leaves and this noise, and said so", share(cannot, count), ""),
        ("said to be within, but was not", share(false, count), "< 5 %"),
        ("stopped beyond tolerance though better was possible", share(early, count), "< 5 %"),
        ("within tolerance, provable, but left undecided", share(timid, count), ""),
        ("corrections that chased more noise than error",
         share(sum(job.chased for job in jobs), corrections), "< 5 %"),
        ("coverage of the 95 % intervals, first sweeps",
         share(sum(first), len(first)), "93 to 97 %"),
        ("coverage of the 95 % intervals, all sweeps",
         share(sum(intervals), len(intervals)), "93 to 97 %"),
        (f"coverage, noise from {SETTLING} + {SETTLING} settling readings",
         share(sum(sampled), len(sampled)), "93 to 97 %"),
        ("sweeps a job", f"{sweeps / max(len(ended), 1):8.2f}", ""),
        ("fewest possible with perfect knowledge", f"{fewest / max(len(ended), 1):8.2f}", ""),
    ]  # fmt: skip
    width = max(len(name) for name, *_ in rows)
    lines = [f"{name:<{width}}  {value:>9}  {goal}".rstrip() for name, value, goal in rows]
    stuck = sorted({job.ended for job in jobs if job.ended})
    return "\n".join([f"{count} machines", *lines, *(f"not ended: {reason}" for reason in stuck)])


def main(arguments: Sequence[str] | None = None) -> int:
    """Play the jobs and print the table."""
    parser = argparse.ArgumentParser(prog="python -m assistant.simulation.study")
    parser.add_argument("--machines", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args(arguments)
    if chosen.machines < 1:
        parser.error("--machines is below one; give a count")
    seeds = [chosen.seed * 1_000_000 + n for n in range(chosen.machines)]
    jobs = [play(seed) for seed in seeds]
    sampled = [one for seed in seeds for one in sampled_intervals(seed)]
    sys.stdout.write(table(jobs, sampled) + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
