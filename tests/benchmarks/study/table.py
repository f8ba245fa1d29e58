"""The tables of the study: what the jobs came to, a table a class, with the goals beside.

Belongs here: counting and laying out; the jobs are played in `job`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from itertools import chain
from math import sqrt

from tests.benchmarks.study.job import PART, Job
from tests.benchmarks.study.machines import KINDS

Jobs = Sequence[Job]
Figure = Callable[[Jobs], str]

NORMAL = 1.959964
"""Standard normal, 97.5 %."""


def wilson(number: int, of: int) -> tuple[float, float]:
    """The 95 % score interval of a share (Wilson 1927), as parts of one; (0, 1) for none of none.

    (p + z^2/2n +- z sqrt(p (1-p)/n + z^2/4n^2)) / (1 + z^2/n).
    """
    if of == 0:
        return 0.0, 1.0
    share, square = number / of, NORMAL**2 / of
    middle = share + square / 2
    half = NORMAL * sqrt(share * (1 - share) / of + square / (4 * of))
    # At none and at all one limit is exact, and rounding would put it a hair beyond.
    low = 0.0 if number == 0 else (middle - half) / (1 + square)
    high = 1.0 if number == of else (middle + half) / (1 + square)
    return low, high


def share(number: int, of: int) -> str:
    """A percentage with its Wilson interval."""
    if not of:
        return "-"
    low, high = wilson(number, of)
    return f"{100 * number / of:.1f} ({100 * low:.1f} to {100 * high:.1f})"


def table(name: str, columns: dict[str, Jobs]) -> str:
    """The figures of one class, one a line, a column for each tolerance, goals at the end."""
    count = max((len(jobs) for jobs in columns.values()), default=0)
    head = f"{name}, {count} machines, in % (95 % interval)"
    rows = [*ROWS, *_naming(name)]
    width = max(len(head), *(len(row) for row, *_ in rows))
    lines = [f"{head:<{width}}" + "".join(f"{column:>22}" for column in columns) + "  goal"]
    for row, goal, figure in rows:
        cells = "".join(f"{figure(jobs):>22}" for jobs in columns.values())
        lines.append(f"{row:<{width}}{cells}  {goal}".rstrip())
    return "\n".join([*lines, *_seeds(columns)])


def _part(which: Callable[[Job], bool], of: Callable[[Job], bool] | None = None) -> Figure:
    def figure(jobs: Jobs) -> str:
        some = [job for job in jobs if of is None or of(job)]
        return share(sum(which(job) for job in some), len(some))

    return figure


def _held(which: Callable[[Job], list[bool]]) -> Figure:
    def figure(jobs: Jobs) -> str:
        every = list(chain.from_iterable(which(job) for job in jobs))
        return share(sum(every), len(every))

    return figure


def claimed(job: Job) -> bool:
    """Whether the job ended with a claim to be square."""
    return job.ended == "square"


def false_claim(job: Job) -> bool:
    """Claimed, and the table as it stands is not."""
    return claimed(job) and not job.within


def worse(job: Job) -> bool:
    """Left more than one thou worse than found."""
    return job.left > job.found + 1.0


def endless(job: Job) -> bool:
    """Did not come to an end."""
    return job.ended in ("round", "stuck")


def cannot_though_within(job: Job) -> bool:
    """Ended without a claim though the table is within tolerance."""
    return job.ended == "cannot" and job.within


def survived(job: Job) -> bool:
    """A claim is built on a misreading or an exchange."""
    return claimed(job) and job.wrong + job.exchanged > 0


def outright(job: Job) -> list[str]:
    """The causes that were named as such."""
    return [cause for cause in job.named if not cause.startswith(PART)]


def _needless(jobs: Jobs) -> str:
    return share(sum(job.needless for job in jobs), sum(job.corrections for job in jobs))


def _sweeps(jobs: Jobs) -> str:
    ended = [job for job in jobs if not endless(job)]
    if not ended:
        return "-"
    made, fewest = sum(job.sweeps for job in ended), sum(job.fewest for job in ended)
    return f"{made / len(ended):.2f} / {fewest / len(ended):.2f} = {made / fewest:.2f}"


ROWS: list[tuple[str, str, Figure]] = [
    ("said square", "", _part(claimed)),
    ("said that it cannot", "", _part(lambda job: job.ended == "cannot")),
    ("went round", "0", _part(lambda job: job.ended == "round")),
    ("the person was stuck", "0", _part(lambda job: job.ended == "stuck")),
    ("falsely square, of claims", "<= 2.5", _part(lambda job: not job.within, claimed)),
    ("  on the mean of lockings", "<= 2.5", _part(lambda job: not job.within_settled, claimed)),
    ("truth inside, each axis", "93 to 98", _held(lambda job: job.axes)),
    ("  on the mean of lockings", "93 to 98", _held(lambda job: job.axes_settled)),
    ("truth inside, both axes jointly", "93 to 98", _held(lambda job: job.joint)),
    ("truth inside, tilt as spoken", "93 to 98", _held(lambda job: job.spoken)),
    ("left more than 1 thou worse", "<= 1", _part(worse)),
    ("corrections within half tolerance", "<= 2", _needless),
    ("cannot say though within", "<= 15", _part(cannot_though_within)),
    ("  and it could be proven", "", _part(lambda job: cannot_though_within(job) and job.provable)),
    ("wrong readings in a claim", "<= 1", _part(survived)),
    ("  of several sweeps", "<= 1", _part(survived, lambda job: job.sweeps > 1)),
    ("  that misled it", "0", _part(lambda job: claimed(job) and job.misled)),
    ("which side asked once more", "<= 5", _part(lambda job: job.sides_asked > 0)),
    ("sweeps / fewest", "<= 1.5 quiet", _sweeps),
]
"""Name, goal and figure of every line that each class has."""


UNTRUE = ("a cause named that was not there", "<= 5", _part(lambda job: bool(job.untrue)))


def _naming(name: str) -> list[tuple[str, str, Figure]]:
    cause = KINDS[name].names if name in KINDS else ""
    if cause:
        other = _part(lambda job: any(each != cause for each in outright(job)))
        right = _part(lambda job: cause in job.named)
        either = _part(lambda job: cause in job.named or PART + cause in job.named)
        seen = _part(lambda job: cause in job.named, lambda job: job.showed)
        return [
            (f'cause named: "{cause}"', ">= 80", right),
            ("  where it came to light", ">= 80", seen),
            ("  or as most of the plus or minus", "", either),
            ("another cause named", "", other),
            UNTRUE,
        ]
    return [("a cause named", "", _part(lambda job: bool(outright(job)))), UNTRUE]


LOOKED_INTO: dict[str, Callable[[Job], bool]] = {
    "falsely square": false_claim,
    "left worse": worse,
    "no end": endless,
    "needless correction": lambda job: job.needless > 0,
    "wrong reading in a claim": survived,
    "cannot say though within": cannot_though_within,
    "cause not named": lambda job: KINDS[job.kind].names not in ("", *job.named),
}


def _seeds(columns: dict[str, Jobs], most: int = 6) -> list[str]:
    """The first jobs of each kind of failure, and why jobs did not end."""
    lines = []
    for what, which in LOOKED_INTO.items():
        found = [job for jobs in columns.values() for job in jobs if which(job)]
        if found:
            some = " ".join(f"{job.seed}@{job.tolerance:g}" for job in found[:most])
            more = f" and {len(found) - most} more" if len(found) > most else ""
            lines.append(f"  {what}: {some}{more}")
    why = Counter(job.why.split(":")[0] for jobs in columns.values() for job in jobs if job.why)
    return [*lines, *(f"  not ended, {count}: {reason}" for reason, count in sorted(why.items()))]
