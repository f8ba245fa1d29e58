"""Arguments, wiring, and every error turned into one line and an exit code."""

import argparse
import json
import os
import sys
from collections.abc import Sequence
from pathlib import Path

from assistant.records.faults import RecordError
from assistant.records.readings_file import ReadingsFileError

CAUTIONS = (
    "Unplug the machine, chuck key out, turn the spindle by hand only while a bar is chucked, "
    "hold the table before its lock is loosened, wear eye protection. The machine's manual and "
    "local codes come first."
)


def build_parser() -> argparse.ArgumentParser:
    """The whole command line."""
    parser = argparse.ArgumentParser(
        prog="sweepsay",
        description="Square a machine's table to its spindle by voice.",
        epilog=CAUTIONS,
    )
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    _demo_arguments(commands.add_parser("demo", help="a whole spoken job, simulated"))
    _hear_arguments(commands.add_parser("hear", help="recordings through the job's ears"))
    _solve_arguments(commands.add_parser("solve", help="readings in, answer out"))
    _run_arguments(commands.add_parser("run", help="the job"))
    return parser


def _demo_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="which job (default 1)")
    parser.add_argument(
        "--out", type=Path, default=Path("sweepsay-demo"), metavar="DIR",
        help="where the WAV, the report and the job go (default ./sweepsay-demo)",
    )  # fmt: skip
    parser.add_argument("--json", action="store_true", help="print JSON only")


def _hear_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("files", nargs="+", metavar="FILE", help="WAV or FLAC, any rate")
    parser.add_argument("--unit", choices=("thou", "mm"), default="thou", help="of the job")
    parser.add_argument(
        "--range", type=_reach, default=30, metavar="N", dest="reach",
        help="the dial's range in thou, or in hundredths of a millimetre (default 30)",
    )  # fmt: skip
    parser.add_argument("--expect", choices=("reading", "command", "any"), default="any")
    parser.add_argument("--engine", choices=("pocketsphinx", "vosk"), default="pocketsphinx")
    parser.add_argument("--json", action="store_true", help="one JSON line per utterance")


def _reach(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= 999:
        raise argparse.ArgumentTypeError(f"{text!r}: use a whole number from 1 to 999")
    return int(text)


def _solve_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="readings in TOML or JSON; - for stdin")
    parser.add_argument("--json", action="store_true", help="print JSON only")


def _run_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("machine", nargs="?", metavar="MACHINE", help="a machine's profile")
    parser.add_argument("--ears", choices=("mic", "text", "off"), default="mic")
    parser.add_argument("--voice", choices=("speaker", "text", "off"), default="speaker")
    parser.add_argument("--keypad", action=argparse.BooleanOptionalAction, default=True)
    parser.add_argument("--db", type=Path, default=None, metavar="FILE", help="the record")
    parser.add_argument("--json", action="store_true", help="events and effects as JSON lines")


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit code (0 done, 1 could not be done, 2 wrong usage)."""
    arguments = build_parser().parse_args(argv)
    try:
        return _dispatch(arguments)
    except (RecordError, ReadingsFileError) as error:
        return _fail(str(error))
    except BrokenPipeError:
        # The reader of our output has gone; Python would complain again while closing it.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except KeyboardInterrupt:
        print("sweepsay: stopped; every accepted reading is kept", file=sys.stderr)
        return 130


def _fail(message: str) -> int:
    print(f"sweepsay: {message}", file=sys.stderr)
    return 1


def _dispatch(arguments: argparse.Namespace) -> int:
    # Modules are imported where they are used: `solve` need not wait for a recogniser.
    match arguments.command:
        case "demo":
            from assistant.simulation.demo import run_demo

            return run_demo(
                arguments.seed, arguments.out, as_json=arguments.json,
                stdout=sys.stdout, stderr=sys.stderr,
            )  # fmt: skip
        case "hear":
            from assistant.hear import run_hear

            return run_hear(
                arguments.files, unit=arguments.unit, reach=arguments.reach,
                expect=arguments.expect, engine=arguments.engine, as_json=arguments.json,
                out=sys.stdout, err=sys.stderr,
            )  # fmt: skip
        case "solve":
            return _solve(arguments)
        case "run":
            return _run(arguments)
        case _:
            raise AssertionError(f"no command {arguments.command}")


def _solve(arguments: argparse.Namespace) -> int:
    from assistant.metrology.problem import ProblemError
    from assistant.metrology.solve import solve
    from assistant.records.answer_text import answer_text
    from assistant.records.readings_file import read_problem

    try:
        answer = solve(read_problem(arguments.file, sys.stdin))
    except ProblemError as error:
        return _fail(str(error))
    if arguments.json:
        print(json.dumps(answer.as_json(), allow_nan=False))
    else:
        print(answer_text(answer))
    return 0


def _run(arguments: argparse.Namespace) -> int:
    from assistant.dialogue.machine import Profile
    from assistant.records.machines import load_profile
    from assistant.records.places import default_record

    profile = load_profile(arguments.machine) if arguments.machine else Profile()
    record = arguments.db or default_record()
    if arguments.ears == "text" and arguments.voice != "speaker":
        from assistant.typed_job import run_typed

        silent = arguments.voice == "off"
        return run_typed(
            profile, record, silent=silent, as_json=arguments.json,
            stdin=sys.stdin, stdout=sys.stdout,
        )  # fmt: skip
    from assistant.hear import recogniser
    from assistant.live import Wishes, run_live

    wishes = Wishes(arguments.ears, arguments.voice, arguments.keypad, arguments.json)
    return run_live(profile, record, wishes, lambda: recogniser("pocketsphinx"))


if __name__ == "__main__":
    sys.exit(main())
