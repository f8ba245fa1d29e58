"""The real loop in a process of its own that is killed, and a person who goes on afterwards.

As a command it prints a table: ``python -m tests.records.killing --jobs 10 --random 500``, and
with ``--calls 10000`` that of `killing_at_calls`.
"""

import argparse
import json
import os
import random
import signal
import sys
import tempfile
import threading
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from typing import Literal, get_args

from assistant.bench.typed_job import run_typed
from assistant.dialogue.messages import Event
from assistant.dialogue.state import State
from assistant.dialogue.step import fold
from assistant.records.journal.codec import encode
from assistant.records.journal.journal import Journal
from assistant.simulation.bench import Bench, Machine, draw_machine, profile_for
from assistant.simulation.caller import Operator
from grammar.scale import System
from tests.simulation.json_lines import react_to_json

Stage = Literal["before", "after"]
STAGES: tuple[Stage, ...] = get_args(Stage)


@dataclass(frozen=True, slots=True)
class Kill:
    """When to kill: before or after the commit of an event of that number in this life, or
    after some seconds from outside."""

    number: int = 0
    stage: Stage = "after"
    after_s: float | None = None


@dataclass(slots=True)
class Seen:
    """What came out of the program before it ended: committed events as JSON, and prompts."""

    events: list[object] = field(default_factory=list)
    closed: bool = False
    killed: bool = False


def steady_machine(seed: int, system: System = "thou") -> Machine:
    """A machine that repeats exactly, so that an interrupted job must end as an undisturbed."""
    drawn = draw_machine(seed, system)
    return Machine(
        scale=drawn.scale,
        front_minus_back=drawn.front_minus_back,
        right_minus_left=drawn.right_minus_left,
        hinge=drawn.hinge,
        response=drawn.response,
        seed=seed,
    )


class _SureHand(random.Random):
    """Chance for a person who taps neither too much nor too little."""

    def uniform(self, a: float, b: float) -> float:
        return 1.0 if a < 1.0 < b else super().uniform(a, b)


def operator_at(machine: Machine, system: System = "thou") -> Operator:
    """A person at that machine, who makes no slips and whose taps are all alike."""
    return Operator(Bench(machine), profile_for(system), _SureHand(0))


def live(record: Path, operator: Operator, system: System, kill: Kill | None) -> Seen:
    """One life of the program, until it ends or is killed."""
    to_child, from_parent = os.pipe()[::-1]
    from_child, to_parent = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(to_child)
        os.close(from_child)
        _be_the_program(record, system, kill, from_parent, to_parent)
    os.close(from_parent)
    os.close(to_parent)
    seen = Seen()
    # A prompt that was cut off with the program is not half of the next one.
    operator._said.clear()
    with (
        _later(child, kill),
        os.fdopen(from_child, encoding="utf-8") as lines,
        os.fdopen(to_child, "wb", 0) as words,
    ):
        for line in lines:
            if not line.endswith("\n"):
                break
            row = json.loads(line)
            if "event" in row:
                seen.events.append(row["event"])
            answer = react_to_json(operator, row)
            if row.get("effect") == "closed":
                seen.closed = True
                words.close()
            elif answer is not None:
                try:
                    words.write(f"{answer}\n".encode())
                except BrokenPipeError:
                    break
    _, status = os.waitpid(child, 0)
    seen.killed = os.WIFSIGNALED(status)
    if not seen.killed and os.waitstatus_to_exitcode(status) != 0:
        raise AssertionError(f"the program ended with {os.waitstatus_to_exitcode(status)}")
    return seen


@contextmanager
def _later(child: int, kill: Kill | None) -> Iterator[None]:
    """Kill the child after a time, if that is wanted and it still runs."""
    if kill is None or kill.after_s is None:
        yield
        return
    timer = threading.Timer(kill.after_s, os.kill, (child, signal.SIGKILL))
    timer.start()
    try:
        yield
    finally:
        # The child has not been waited for yet, so that its number is still its own.
        timer.cancel()
        timer.join()


def _be_the_program(
    record: Path, system: System, kill: Kill | None, source: int, target: int
) -> None:
    """In the child: play the job over the pipes; never returns."""
    code = 70
    try:
        if kill is not None and kill.after_s is None:
            setattr(Journal, "append", _killing(Journal.append, kill))  # noqa: B010 - a patch
        with os.fdopen(source) as stdin, os.fdopen(target, "w") as stdout:
            code = run_typed(
                profile_for(system), record, silent=True, as_json=True,
                stdin=stdin, stdout=stdout, stderr=sys.stderr,
            )  # fmt: skip
    except Exception:  # noqa: BLE001 - it is printed, and the code tells the parent
        traceback.print_exc()
    finally:
        os._exit(code)


Append = Callable[[Journal, str, Event], int]


def _killing(append: Append, kill: Kill) -> Append:
    count = 0

    def killed(journal: Journal, job_id: str, event: Event) -> int:
        nonlocal count
        count += 1
        if count == kill.number and kill.stage == "before":
            os.kill(os.getpid(), signal.SIGKILL)
        number = append(journal, job_id, event)
        if count == kill.number and kill.stage == "after":
            os.kill(os.getpid(), signal.SIGKILL)
        return number

    return killed


@dataclass(slots=True)
class Outcome:
    """A job that was killed and gone on with: events lost, and how it ended."""

    lost: int
    state: State
    lives: int


def play(
    record: Path, operator: Operator, system: System = "thou", kills: tuple[Kill, ...] = ()
) -> Outcome:
    """Play a job through its kills to the end; count what was shown and is not in the record."""
    lost, lives = 0, 0
    shown: list[object] = []
    for kill in (*kills, None):
        seen = live(record, operator, system, kill)
        lives += 1
        shown += seen.events
        lost += len(_missing(record, shown))
        if seen.closed:
            break
    with Journal.open(record, write=False) as journal:
        # Killed after its very last event, a job is closed and the next life begins another.
        jobs = [job.id for job in journal.jobs() if job.events]
        state = fold(journal.events(jobs[0]))
    assert state is not None
    return Outcome(lost, state, lives)


def _missing(record: Path, shown: list[object]) -> Counter[str]:
    """Events that came out of the program and are not in the record."""
    with Journal.open(record) as journal:
        assert journal.rescued is None
        kept = [
            json.dumps(encode(event, Event))
            for job in journal.jobs()
            for event in journal.events(job.id)
        ]
    return Counter(json.dumps(row) for row in shown) - Counter(kept)


@dataclass(frozen=True, slots=True)
class Ending:
    """What a job came to; differences in counts, front minus back and right minus left."""

    phase: str
    found: tuple[float, float]
    left: tuple[float, float]
    shim: Decimal
    verdict: str | None


def ending(state: State) -> Ending:
    """How a job ended that has been closed."""
    found, left = state.as_found, state.as_left
    assert found is not None
    assert left is not None
    return Ending(
        state.phase.value,
        (round(found.front_minus_back, 6) + 0.0, round(found.right_minus_left, 6) + 0.0),
        (round(left.front_minus_back, 6) + 0.0, round(left.right_minus_left, 6) + 0.0),
        state.shims.total,
        left.verdict,
    )


def events_of(record: Path) -> int:
    """How many events the record holds."""
    with Journal.open(record, write=False) as journal:
        return sum(job.events for job in journal.jobs())


def _played(seed: int, *kills: Kill) -> tuple[Outcome, int]:
    system: System = "mm" if seed % 2 == 0 else "thou"
    with tempfile.TemporaryDirectory() as folder:
        record = Path(folder) / "jobs.db"
        operator = operator_at(steady_machine(seed, system), system)
        outcome = play(record, operator, system, kills)
        return outcome, events_of(record)


def _row(text: str) -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def _at_every_event(jobs: int) -> int:
    bad = 0
    _row("job  events  kills  lost  other ending")
    for seed in range(1, jobs + 1):
        plain, count = _played(seed)
        lost = other = kills = 0
        for number in range(1, count + 1):
            for stage in STAGES:
                outcome, _ = _played(seed, Kill(number, stage))
                kills += outcome.lives - 1
                lost += outcome.lost
                other += ending(outcome.state) != ending(plain.state)
        _row(f"{seed:3}  {count:6}  {kills:5}  {lost:4}  {other:12}")
        bad += lost + other
    return bad


def _at_random_moments(moments: int) -> int:
    chance = random.Random(1)
    lost = other = kills = seed = 0
    while kills < moments:
        seed += 1
        plain, _ = _played(seed)
        for _ in range(10):
            outcome, _ = _played(seed, Kill(after_s=chance.uniform(0.0, 0.4)))
            kills += outcome.lives - 1
            lost += outcome.lost
            if ending(outcome.state) != ending(plain.state):
                other += 1
                _row(f"job {seed}: {ending(outcome.state)}, not {ending(plain.state)}")
    _row(f"random moments: {kills} kills, {lost} events lost, {other} other endings")
    return lost + other


def main() -> int:
    """Print the tables; 1 if anything was lost."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--jobs", type=int, default=10)
    parser.add_argument("--random", type=int, default=500)
    parser.add_argument("--calls", type=int, help="kills before calls that touch files, instead")
    parser.add_argument("--limit", type=float, default=600.0, help="seconds for --calls")
    parser.add_argument("--seed", type=int, default=1, help="in which order --calls are taken")
    arguments = parser.parse_args()
    if arguments.calls is not None:
        from tests.records.killing_at_calls import run_killing

        return run_killing(arguments.calls, arguments.limit, seed=arguments.seed).returncode
    bad = _at_every_event(arguments.jobs) if arguments.jobs else 0
    return 1 if bad + _at_random_moments(arguments.random) else 0


if __name__ == "__main__":
    sys.exit(main())
