"""A whole job by keypad with the voice off, recorded: every picture the person sees, as text.

    python -m tests.devices.keypad_session [--columns 80] [--rows 24] [--seed 22]

prints the frames one under the other, each under the keys that led to it.
"""

import argparse
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from assistant.dialogue.procedures.close import Close
from assistant.simulation.bench import Bench, draw_machine, profile_for
from assistant.simulation.caller import Operator
from tests.devices.test_keypad_job import INTRODUCTION, KeypadJob, keys_for
from tests.devices.tmux_window import MISSING, TmuxWindow


def frames(seed: int, columns: int, rows: int, folder: Path) -> Iterator[tuple[str, str]]:
    """Keys and the picture after them, until the program has ended."""
    record = folder / "jobs.db"
    operator = Operator(Bench(draw_machine(seed)), profile_for())
    command = ["assistant", "run", "--ears", "off", "--voice", "off", "--db", str(record)]
    with TmuxWindow(command, columns, rows, home=folder) as window:
        job = KeypadJob(window, record)
        yield "", window.wait_for("Bench drill press?")
        for keys, then in INTRODUCTION:
            job.push(keys)
            yield " ".join(keys), window.wait_for(then)
        effects = job.news(1)
        while job.state is not None and job.state.phase is not Close.CLOSED:
            words = operator.react(effects)
            if words is None:
                raise RuntimeError(f"the person is stuck at {job.state.phase}")
            keys_pressed = keys_for(words, job.state)
            before = window.picture()
            effects = job.press(keys_pressed)
            seen = window.wait_for(lambda now, old=before: now != old)  # type: ignore[misc]
            yield " ".join(keys_pressed), seen
        yield "", window.wait_for("Enter leaves.")
        window.press("KPEnter")
        yield "enter", window.wait_for("ended 0")


def main() -> None:
    """Play the job and print the frames."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--columns", type=int, default=80)
    parser.add_argument("--rows", type=int, default=24)
    parser.add_argument("--seed", type=int, default=22)
    given = parser.parse_args()
    if MISSING:
        raise SystemExit(MISSING)
    edge = "+" + "-" * given.columns + "+\n"
    with tempfile.TemporaryDirectory() as folder:
        for keys, seen in frames(given.seed, given.columns, given.rows, Path(folder)):
            framed = "".join(f"|{line:<{given.columns}}|\n" for line in seen.splitlines())
            sys.stdout.write(f"{f'keys: {keys}' if keys else ''}\n{edge}{framed}{edge}")


if __name__ == "__main__":
    main()
