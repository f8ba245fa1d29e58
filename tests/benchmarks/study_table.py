"""The table of the study: what the jobs came to, tolerance beside tolerance, with the goals.

Belongs here: counting and laying out; the jobs are played in `study`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tests.benchmarks.study import Job

SETTLING = 5
"""Readings taken to know the surface, and to know the lock."""


def table(columns: Mapping[str, Sequence[Job]], sampled: Sequence[bool]) -> str:
    """The figures, one a line, a column for each tolerance, with the goal where there is one.

    `sampled`: whether intervals hold whose noise was measured on the spot; they know no tolerance.
    """
    rows: list[tuple[str, str, Callable[[Sequence[Job]], str]]] = [
        ("jobs that came to their end", "100 %", lambda jobs: _share(_ended(jobs), jobs)),
        ("within tolerance and said so, or rightly said that it cannot be proven", "",
         lambda jobs: _share(_good(jobs) + _cannot(jobs), jobs)),
        ("  within tolerance and said so", "", lambda jobs: _share(_good(jobs), jobs)),
        ("  not provable with these leaves and this noise, and said so", "",
         lambda jobs: _share(_cannot(jobs), jobs)),
        ("said to be within, but was not", "< 5 %", lambda jobs: _share(
            [job for job in _ended(jobs) if job.claimed and not job.within], jobs)),
        ("stopped too early: better was possible, and provable", "< 5 %", lambda jobs: _share(
            [job for job in _ended(jobs) if not job.claimed and job.could_prove], jobs)),
        ("  of these beyond tolerance", "", lambda jobs: _share(
            [j for j in _ended(jobs) if not j.claimed and j.could_prove and not j.within], jobs)),
        ("corrections that chased more noise than error", "< 5 %", _chased),
        ("coverage of the 95 % intervals, first sweeps", "93 to 97 %",
         lambda jobs: _held([one for job in jobs for one in job.intervals[:2]])),
        ("coverage of the 95 % intervals, all sweeps", "93 to 97 %",
         lambda jobs: _held([one for job in jobs for one in job.intervals])),
        (f"coverage, noise from {SETTLING} + {SETTLING} settling readings", "93 to 97 %",
         lambda _: _held(sampled)),
        ("sweeps a job", "", lambda jobs: _mean([job.sweeps for job in _ended(jobs)])),
        ("fewest possible with perfect knowledge", "",
         lambda jobs: _mean([job.fewest for job in _ended(jobs)])),
    ]  # fmt: skip
    count = max((len(jobs) for jobs in columns.values()), default=0)
    head = f"{count} machines, tolerance over the sweep"
    width = max(len(head), *(len(name) for name, *_ in rows))
    lines = [f"{head:<{width}}" + "".join(f"{name:>11}" for name in columns) + "  goal"]
    for name, goal, figure in rows:
        cells = "".join(f"{figure(jobs):>11}" for jobs in columns.values())
        lines.append(f"{name:<{width}}{cells}  {goal}".rstrip())
    stuck = {job.ended for jobs in columns.values() for job in jobs if job.ended}
    return "\n".join([*lines, *(f"not ended: {reason}" for reason in sorted(stuck))])


def _ended(jobs: Sequence[Job]) -> list[Job]:
    return [job for job in jobs if not job.ended]


def _good(jobs: Sequence[Job]) -> list[Job]:
    return [job for job in _ended(jobs) if job.claimed and job.within]


def _cannot(jobs: Sequence[Job]) -> list[Job]:
    return [job for job in _ended(jobs) if not job.claimed and not job.could_prove]


def _share(some: Sequence[Job], of: Sequence[Job]) -> str:
    return _percent(len(some), len(of))


def _chased(jobs: Sequence[Job]) -> str:
    return _percent(sum(job.chased for job in jobs), sum(job.corrections for job in jobs))


def _held(intervals: Sequence[bool]) -> str:
    return _percent(sum(intervals), len(intervals))


def _percent(number: int, of: int) -> str:
    return f"{100 * number / of:.1f} %" if of else "-"


def _mean(numbers: Sequence[int]) -> str:
    return f"{sum(numbers) / len(numbers):.2f}" if numbers else "-"
