"""How good is the advice? Simulated machines of many kinds squared, against the truth.

    python -m tests.benchmarks.study [--machines 200] [--tolerances 2 4 8] [--classes ...]
        [--seed 1] [--record FILE] [--show CLASS SEED TOLERANCE]

Every job goes through the real dialogue with typed words. A table is printed as soon as its class
is done; jobs that are in the record already are not played again.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import asdict
from multiprocessing import get_context
from pathlib import Path

from tests.benchmarks.study.job import Job, Key, play, play_all
from tests.benchmarks.study.machines import KINDS
from tests.benchmarks.study.table import table

PART = 20
"""Jobs that a process is given at a time."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Play the jobs and print the tables."""
    chosen = _parser().parse_args(arguments)
    if chosen.show:
        name, seed, tolerance = chosen.show
        play(_name(name), int(seed), float(tolerance), print)
        return 0
    if chosen.machines < 1:
        raise SystemExit("--machines is below one; give a count")
    if min(chosen.tolerances or [1.0]) <= 0:
        raise SystemExit("--tolerances has one that is not above zero; give sizes in thou")
    done = _recorded(chosen.record)
    seeds = [chosen.seed * 1_000_000 + n for n in range(chosen.machines)]
    for name in chosen.classes:
        tolerances = chosen.tolerances or KINDS[name].tolerances
        keys = [(name, seed, tolerance) for tolerance in tolerances for seed in seeds]
        wanted = [key for key in keys if key not in done]
        for job in played(wanted, chosen.processes):
            done[job.kind, job.seed, job.tolerance] = job
            _keep(chosen.record, job)
        columns: dict[str, Sequence[Job]] = {
            f"{tolerance:g} thou": [done[name, seed, tolerance] for seed in seeds]
            for tolerance in tolerances
        }
        sys.stdout.write(f"{table(name, columns)}\n\n")
        sys.stdout.flush()
    return 0


def played(keys: Sequence[Key], processes: int) -> Iterator[Job]:
    """The jobs as they are done, in any order; each is the same in whatever process."""
    if processes < 2 or len(keys) < 2:
        yield from play_all(keys)
        return
    # A fresh interpreter each, as a fork would inherit the threads of the numerical library.
    with ProcessPoolExecutor(processes, mp_context=get_context("spawn")) as pool:
        parts = [pool.submit(play_all, keys[k : k + PART]) for k in range(0, len(keys), PART)]
        for part in as_completed(parts):
            yield from part.result()


def _recorded(path: Path | None) -> dict[Key, Job]:
    if path is None or not path.exists():
        return {}
    jobs: Iterable[Job] = (Job(**json.loads(line)) for line in path.read_text().splitlines())
    return {(job.kind, job.seed, job.tolerance): job for job in jobs}


def _keep(path: Path | None, job: Job) -> None:
    if path is not None:
        with path.open("a") as record:
            record.write(f"{json.dumps(asdict(job))}\n")


def _name(text: str) -> str:
    if text not in KINDS:
        raise SystemExit(f"there is no class {text}; take one of {', '.join(KINDS)}")
    return text


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.study")
    parser.add_argument("--machines", type=int, default=200, help="of each class")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--tolerances", type=float, nargs="+", help="thou; default: by class")
    parser.add_argument("--classes", nargs="+", choices=list(KINDS), default=list(KINDS))
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--record", type=Path, help="a file of jobs, one JSON line each")
    shown = ("CLASS", "SEED", "TOLERANCE")
    parser.add_argument("--show", nargs=3, metavar=shown, help="print one job, word by word")
    return parser


if __name__ == "__main__":
    sys.exit(main())
