"""One whole job through the real dialogue with typed words, judged by what only the bench knows.

Belongs here: playing and judging. The truth is the least squares plane of the real surface over
the swept circle as the table stands; beside it the same on the mean of all lockings.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from math import hypot, inf, isinf, log, sqrt

from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Effect, Event, Heard, Listen, Result, Say, Step
from assistant.dialogue.state import CompletedSweep
from assistant.metrology.answer import Answer
from assistant.metrology.conformance import proving_limits
from assistant.simulation.clock import SimulatedClock
from assistant.simulation.rehearsal import Rehearsal, rehearse
from grammar.vocabulary import Station
from tests.benchmarks.study.machines import KINDS, counts_of, draw
from tests.benchmarks.study.person import MOST_SWEEPS, Person, without_plain
from tests.benchmarks.study.worn import WornBench
from tests.simulation.text_carrier import TextCarrier

CAUSES: dict[str, str] = {
    "drift": r"\bdrift(s|ing|ed)?\b|\bwarm",
    "slip": r"\bslip(s|ped)?\b|\bknocked\b",
    "loose": r"\bloose\b|(?<!its )\bclamp",
    "seized": r"\bseized\b|(do|does|did|will)(n't| not) move|won't move|\bstuck\b|\bfrozen\b",
    "warped": r"\bwarp|not flat|\btwist|opposite (sides|corners)",
    "dished": r"\bdish|\bhollow (?!zero)",
    "exchange": r"\bexchang|\bswap|\bmirror|changed places|turned round|other way round",
}  # fmt: skip
"""Words by which the dialogue may name a cause, matched loosely."""

SIDES_ASKED = "Mind the sides."
"""Said where a station is asked for once more."""

PART = "part of the uncertainty: "
"""Before a cause that was told only as what makes up most of a plus or minus."""

CORRECTIONS = ("shim", "tap", "nod", "tilt")
SWEEPS_TO_PROVE = 4
"""Sweeps of one table beyond which nobody proves anything by taking more."""


Key = tuple[str, int, float]
"""Class, seed and tolerance of a job."""


@dataclass(slots=True)
class Job:
    """What one job came to. Lengths in thou, whatever the dial.

    `ended`: "square", "cannot" (an end without a claim), "round" (no end), "stuck" (the person
    could not answer). `why`: of the last two. `found`, `left`: true tilt at first and last;
    `settled`: `left` on the mean of all lockings. `axes`, `joint`, `spoken`: whether each stated
    interval (of both differences, of both together, of the tilt) held the truth; `axes_settled`
    against the mean. `needless`: corrections that were begun with the truth within half the
    tolerance. `fewest`: sweeps with perfect knowledge of the machine. `provable`: whether the
    best that these leaves can make of the table can be proven. `named`: causes that were spoken
    of, `untrue` those of them that were not there; `showed`: what is wrong with this class had a
    chance to be seen. `wrong`: readings behind the claim that are off by more than its uncertainty,
    `exchanged`: sweeps behind it that were read with sides exchanged by more than that; `misled`:
    there is one of either, and the claim is false or the truth outside an interval that it states.
    `sides_asked`: stations asked for once more as sides may have changed places.
    """

    kind: str
    seed: int
    tolerance: float
    ended: str = ""
    why: str = ""
    found: float = 0.0
    left: float = 0.0
    settled: float = 0.0
    sweeps: int = 0
    fewest: int = 1
    provable: bool = False
    corrections: int = 0
    needless: int = 0
    axes: list[bool] = field(default_factory=list)
    axes_settled: list[bool] = field(default_factory=list)
    joint: list[bool] = field(default_factory=list)
    spoken: list[bool] = field(default_factory=list)
    named: list[str] = field(default_factory=list)
    untrue: list[str] = field(default_factory=list)
    showed: bool = False
    wrong: int = 0
    exchanged: int = 0
    misled: bool = False
    sides_asked: int = 0

    @property
    def within(self) -> bool:
        """Whether the table really is within tolerance at the end."""
        return self.left <= self.tolerance

    @property
    def within_settled(self) -> bool:
        """Whether it is on the mean of all lockings."""
        return self.settled <= self.tolerance


@dataclass(slots=True)
class _Watch:
    """Follows one job: judges every answer and every correction as it comes."""

    job: Job
    person: Person
    tolerance: float
    note: Callable[[str], object]
    last_begun: tuple[int, str] = (-1, "")
    exchanges: dict[int, tuple[Station, ...]] = field(default_factory=dict)

    @property
    def bench(self) -> WornBench:
        return self.person.worn

    def notice(self, effect: Effect) -> None:
        """Called with every effect before the person answers."""
        match effect:
            case Say(text=text):
                self.note(f"  {text}")
            case Result(sweep=sweep, answer=answer):
                self.exchanges[sweep] = self.person.exchanged
                self._judge(answer)
            case Step(do=do) if do in CORRECTIONS:
                self._begun(do)
            case Listen() | Step() | _:
                pass

    def _judge(self, answer: Answer) -> None:
        job, truth = self.job, self.bench.plane
        if not job.axes:
            # Measuring the noise locks the table anew: found is how the first sweep finds it.
            job.found = hypot(*truth) * job.tolerance / self.tolerance
        off = (answer.front_minus_back - truth[0], answer.right_minus_left - truth[1])
        parts = (answer.budget.front_minus_back, answer.budget.right_minus_left)
        job.axes += [abs(o) <= part.expanded() for o, part in zip(off, parts, strict=True)]
        settled = self.bench.settled
        off_settled = (answer.front_minus_back - settled[0], answer.right_minus_left - settled[1])
        job.axes_settled += [
            abs(o) <= part.expanded() for o, part in zip(off_settled, parts, strict=True)
        ]
        job.joint.append(inside_ellipse(off, answer))
        job.spoken.append(abs(answer.tilt - hypot(*truth)) <= answer.budget.tilt.expanded())
        self.note(
            f"    [{answer.front_minus_back:+.2f} {answer.right_minus_left:+.2f} +- "
            f"{parts[0].expanded():.2f} {parts[1].expanded():.2f}, {answer.verdict}; truth "
            f"{truth[0]:+.2f} {truth[1]:+.2f}, settled {settled[0]:+.2f} {settled[1]:+.2f}]"
        )

    def _begun(self, do: str) -> None:
        now = (self.person.sweeps_begun, do)
        if now == self.last_begun:
            return
        self.last_begun = now
        self.job.corrections += 1
        # A loosened table hangs anywhere: what counts is how the locked one stood.
        self.job.needless += hypot(*self.bench.locked_truth) < self.tolerance / 2


def play(name: str, seed: int, tolerance: float, note: Callable[[str], object] = len) -> Job:
    """One job on one machine of a class; `note` is given the transcript line by line."""
    person, profile = draw(name, seed, tolerance)
    return play_as(person, profile, Job(name, seed, tolerance), note)


def play_as(person: Person, profile: Profile, job: Job, note: Callable[[str], object] = len) -> Job:
    """The same with a person whose machine and mistakes are given; fills in `job`."""
    bench, limit = person.worn, counts_of(profile)
    times = limit / job.tolerance
    bench.lock_all()
    job.found = hypot(*bench.plane) / times
    fewest_of(job, bench, profile, limit)
    watch = _Watch(job, person, limit, note)

    def keep(event: Event) -> None:
        if isinstance(event, Heard):
            note(f"> {event.words}")

    clock = SimulatedClock()
    played = rehearse(person, TextCarrier(clock), clock, keep=keep, notice=watch.notice)
    job.left, job.settled = hypot(*bench.plane) / times, hypot(*bench.settled) / times
    job.sweeps = max(person.sweeps_begun, len(played.state.sweeps))
    job.named = causes_in(person.spoken)
    there = _there(person, times)
    job.untrue = [each for each in job.named if not each.startswith(PART) and each not in there]
    job.sides_asked = sum(SIDES_ASKED in said for said in person.spoken)
    job.showed = _showed(job, watch, played, times)
    _end(job, played)
    if job.ended == "square":
        _survivors(job, played, watch, times)
    note(f"    [{job.ended} {job.why}; truth {job.left:.2f}, as found {job.found:.2f}]")
    return job


def play_all(keys: Sequence[Key]) -> list[Job]:
    """Several jobs, one after the other."""
    return [play(*key) for key in keys]


def _end(job: Job, played: Rehearsal) -> None:
    why, last = played.tally.ended, played.state.as_left
    if not why:
        job.ended = "square" if last is not None and last.verdict == "within" else "cannot"
        return
    job.why = why
    rounds = f"{MOST_SWEEPS} sweeps" in why or why.startswith("no end")
    job.ended = "round" if rounds else "stuck"


REAL_DRIFT = 2
"""Marks of the dial that it drifts in a sweep for it to be true when it is told (judgement)."""

REAL_FORM = 2.0
"""Thou by which a table is bent for the same (judgement)."""

ASKED_ONLY = "is it loose? is the pin out?"
"""Asked where taps do nothing: a table that is free is what is wanted there."""


def _there(person: Person, times: float) -> set[str]:
    """The causes that really were there, whether they did any harm or not."""
    bench = person.worn
    bent = bench.surface.bent / times
    there = {
        "drift": abs(bench.machine.creep) * 4 >= REAL_DRIFT * float(bench.machine.scale.step)
        or bench.slips > 0,
        "slip": bench.slips > 0,
        # A dial or bar that slips is loose.
        "loose": bench.faults.loose > 0 or bench.slips > 0,
        "seized": bench.faults.seized,
        "warped": bent >= REAL_FORM,
        "dished": bent >= REAL_FORM,
        "exchange": person.exchanges > 0,
    }
    return {name for name, true in there.items() if true}


def _showed(job: Job, watch: _Watch, played: Rehearsal, times: float) -> bool:
    """Whether the fault of the class came to light at all: nobody can name what never did.

    Sides that were exchanged show if they differ by more than the sweep is uncertain, and if
    another sweep tells.
    """
    bench = watch.bench
    match KINDS[job.kind].names:
        case "slip":
            return bench.slips > 0
        case "loose":
            return job.corrections > 0
        case "seized":
            return bench.stuck_taps > 0
        case "exchange":
            seen = any(
                _matters(sweep, watch.exchanges.get(sweep.number, ()), _enough(sweep, times))
                for sweep in played.state.sweeps
            )
            return job.sweeps > 1 and seen
        case _:
            return True


def _survivors(job: Job, played: Rehearsal, watch: _Watch, times: float) -> None:
    """Wrong readings, and sweeps with sides exchanged, that the claim is built on."""
    claim = played.state.as_left
    if claim is None:
        return
    enough = max(claim.budget.tilt.expanded(), 1.5 * times)
    for sweep in played.state.same_table:
        sides = watch.exchanges.get(sweep.number, ())
        if sides:
            job.exchanged += _matters(sweep, sides, enough)
            continue
        for taken in sweep.readings:
            shown = played.tally.shown.get(taken.at)
            if taken.zeroed or shown is None or shown[0] != taken.station:
                continue
            job.wrong += abs(float(taken.value - shown[1])) > enough
    outside = bool(job.axes) and not all(job.axes[-2:])
    job.misled = job.wrong + job.exchanged > 0 and (outside or not job.within)


def _enough(sweep: CompletedSweep, times: float) -> float:
    return max(sweep.answer.budget.tilt.expanded(), 1.5 * times)


def _matters(sweep: CompletedSweep, sides: tuple[Station, ...], enough: float) -> bool:
    if not sides:
        return False
    at = {taken.station: float(taken.value) for taken in sweep.readings if not taken.closing}
    one, other = sides
    return abs(at.get(one, 0.0) - at.get(other, 0.0)) > enough


def inside_ellipse(off: tuple[float, float], answer: Answer) -> bool:
    """Whether the truth is in the 95 % ellipse of both differences.

    Its square distance in standard deviations is at most 2 F.95(2, nu), in closed form
    nu (0.05^(-2/nu) - 1): 5.99 = 2.45^2 for many degrees of freedom (JCGM 102:2011, 6.5).
    """
    (a, b), (_, d) = answer.budget.covariance
    nu = answer.budget.tilt.dof
    limit = -2 * log(0.05) if isinf(nu) else nu * (0.05 ** (-2 / nu) - 1)
    x, y = off
    distance = (d * x * x - 2 * b * x * y + a * y * y) / (a * d - b * b)
    return distance <= limit


def fewest_of(job: Job, bench: WornBench, profile: Profile, limit: float) -> None:
    """Sweeps that perfect knowledge of machine and noise needs, with the same leaves."""
    machine, surface = bench.machine, bench.surface
    step = float(profile.scale.step)
    of_reading = hypot(machine.touch, surface.waviness, surface.roughness, step / sqrt(12))
    u = hypot(of_reading * sqrt(2), machine.relock)
    found = hypot(*bench.plane)
    at_once = _proving(found, limit, u)
    best = min(bench.best_left(profile.stock, profile.max_leaves), found)
    after = _proving(best, limit, u)
    job.provable = at_once is not None or after is not None
    # One sweep finds it, a second one after the correction shows what cannot be proven.
    job.fewest = at_once or 1 + (after or 1)


def _proving(tilt: float, limit: float, u: float) -> int | None:
    for count in range(1, SWEEPS_TO_PROVE + 1):
        variance = u * u / count
        most, _ = proving_limits(limit, ((variance, 0.0), (0.0, variance)), (1.0, 0.0), inf)
        if most is not None and tilt <= most:
            return count
    return None


def causes_in(spoken: list[str]) -> list[str]:
    """The causes that were named, whether they were there or not."""
    text = without_plain(" ".join(spoken).lower()).replace(ASKED_ONLY, "")
    named = [cause for cause, pattern in CAUSES.items() if re.search(pattern, text)]
    parts = re.findall(r"(?:mostly|most of it) (drift)", " ".join(spoken).lower())
    return [*named, *sorted({f"{PART}{part}" for part in parts})]
