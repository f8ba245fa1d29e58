"""The command line as a table of commands and their options; nothing is done here."""

import argparse
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import shtab

from assistant.devices.ears.engines import ENGINES
from assistant.devices.screen.palette import THEMES
from assistant.devices.voice.speech_engine import FASTEST_WPM, SLOWEST_WPM
from assistant.devices.voice.tones import TONE_SETS
from assistant.records.machines.presets import LAYOUTS

if TYPE_CHECKING:
    from _typeshed import SupportsWrite

CAUTIONS = (
    "Unplug the machine, chuck key out, turn the spindle by hand only while a bar is chucked, "
    "hold the table before its lock is loosened, wear eye protection. Follow the machine's "
    "manual, local codes and licensed practice."
)


TOPICS = (
    "words", "wishes", "again", "keys", "signs", "ways", "checks", "paper", "solve", "commands",
    "trouble", "limits",
)  # fmt: skip
"""The parts of the manual."""

EXAMPLES: dict[str, str] = {
    "run": "sweepsay run 'bench drill press' --theme light",
    "demo": "sweepsay demo --seed 3 --out demo",
    "check": "sweepsay check --try",
    "hear": "sweepsay hear call.wav --unit thou --expect reading",
    "solve": "sweepsay solve readings.toml",
    "model install": "sweepsay model install",
    "model list": "sweepsay model list",
    "manual": "sweepsay manual keys",
    "machine list": "sweepsay machine list",
    "machine show": "sweepsay machine show 'bench drill press'",
    "machine new": "sweepsay machine new 'corner drill' --layout 'bench drill press' "
    "--units metric --set 'tolerance=0.05 mm'",
    "machine edit": "sweepsay machine edit 'corner drill' --set 'sweep_diameter=220 mm'",
    "job list": "sweepsay job list",
    "job show": "sweepsay job show",
    "job report": "sweepsay job report --out reports",
    "job sheet": "sweepsay job sheet --out reports",
    "job trend": "sweepsay job trend 'bench drill press' --out reports",
    "job export": "sweepsay job export --format csv --out job.csv",
    "job import": "sweepsay job import job.json",
    "job backup": "sweepsay job backup /media/stick/jobs.db",
    "job audio list": "sweepsay job audio list",
    "job audio delete": "sweepsay job audio delete 20310504-080000-ab12 --event 7",
}
"""One line to copy for every command; the tests parse each of them."""


class _Parser(argparse.ArgumentParser):
    """Says when its help cannot be printed; argparse itself says nothing (print_help, 3.11)."""

    def _print_message(self, message: str, file: "SupportsWrite[str] | None" = None) -> None:
        if message:
            (file or sys.stderr).write(message)


class _Version(argparse.Action):
    """Looks the version up only when it is asked for."""

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        from assistant.records.journal.versions import versions

        sys.stdout.write(f"sweepsay {versions()['sweepsay']}\n")
        parser.exit()


def build_parser() -> argparse.ArgumentParser:
    """The whole command line."""
    parser: argparse.ArgumentParser = _Parser(
        prog="sweepsay",
        description="Square a machine's table to its spindle by voice. Begin with 'sweepsay run': "
        "it asks for everything that it needs. 'sweepsay demo' plays a job without a machine.",
        epilog=CAUTIONS,
    )
    parser.add_argument(
        "--version", action=_Version, nargs=0, default=argparse.SUPPRESS, help="print the version"
    )
    shtab.add_argument_to(parser, "--print-completion", help="print completion for a shell")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    _run(
        commands.add_parser(
            "run", help="the job: squaring a table, asked and answered", epilog=CAUTIONS
        )
    )
    _demo(commands.add_parser("demo", help="a whole spoken job, simulated"))
    _check(commands.add_parser("check", help="what works here, and what to do about the rest"))
    _hear(commands.add_parser("hear", help="recordings through the job's ears"))
    _solve(commands.add_parser("solve", help="readings in, answer out"))
    _model(commands.add_parser("model", help="models of the second recogniser, Vosk"))
    _machine(commands.add_parser("machine", help="profiles of machines"))
    _job(commands.add_parser("job", help="the record of jobs"))
    _manual(commands.add_parser("manual", help="words, keys, ways of measuring, trouble"))
    _describe(commands, "")
    return parser


def _describe(commands: "argparse._SubParsersAction[argparse.ArgumentParser]", above: str) -> None:
    """Give every command what its line in the list says as its description, and an example."""
    told = {choice.dest: choice.help or "" for choice in commands._choices_actions}
    for name, parser in commands.choices.items():
        full = f"{above} {name}".strip()
        parser.description = f"{told[name][:1].upper()}{told[name][1:]}."
        example = EXAMPLES.get(full)
        if example is not None:
            parser.epilog = f"{parser.epilog or ''} Example: {example}".strip()
        for action in parser._actions:
            if isinstance(action, argparse._SubParsersAction):
                _describe(action, full)


def _run(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("machine", nargs="?", metavar="MACHINE", help="whose profile to take")
    parser.add_argument(
        "--ask", action=argparse.BooleanOptionalAction, default=None,
        help="ask first which machine it is, and about a new one "
        "(default: in a terminal, when none is named and there is not just one)",
    )  # fmt: skip
    parser.add_argument(
        "--ears", choices=("mic", "text", "off"), default="mic",
        help="what listens: the microphone, typed lines, or nothing but keys (default mic)",
    )  # fmt: skip
    parser.add_argument(
        "--voice", choices=("speaker", "text", "off"), default="speaker",
        help="what answers: the speaker, printed lines, or the screen alone (default speaker)",
    )  # fmt: skip
    parser.add_argument(
        "--keypad", action=argparse.BooleanOptionalAction, default=True,
        help="a numeric keypad of its own (Linux) beside the terminal's keys",
    )  # fmt: skip
    parser.add_argument(
        "--screen", action=argparse.BooleanOptionalAction, default=True,
        help="a full screen in a terminal; --no-screen prints lines",
    )  # fmt: skip
    parser.add_argument(
        "--theme", choices=tuple(THEMES), default="dark", help="the screen's colours (default dark)"
    )
    sound = parser.add_argument_group("sound, remembered for the next job")
    sound.add_argument("--microphone", metavar="NAME", help="part of the device's name")
    sound.add_argument("--speaker", metavar="NAME", help="part of the device's name")
    sound.add_argument(
        "--headset", action=argparse.BooleanOptionalAction, default=None,
        help="listen while speaking: the microphone is close and does not hear the speaker",
    )  # fmt: skip
    sound.add_argument(
        "--rate", type=_whole(SLOWEST_WPM, FASTEST_WPM), metavar="WPM",
        help=f"words per minute of the voice, {SLOWEST_WPM} to {FASTEST_WPM} (default 165): "
        "faster, numbers were no longer understood",
    )  # fmt: skip
    sound.add_argument(
        "--volume", type=_whole(1, 100), metavar="PERCENT",
        help="of voice and tones, 1 to 100 (default 100)",
    )  # fmt: skip
    sound.add_argument(
        "--tones", choices=TONE_SETS,
        help="what answers before the voice: bright, deep, like a knock, or none (default soft)",
    )  # fmt: skip
    sound.add_argument("--forget", action="store_true", help="begin with the defaults again")
    _engine(parser)
    parser.add_argument(
        "--keep-audio", action="store_true",
        help="keep what is said to it as sound beside the record ('job audio' deletes it)",
    )  # fmt: skip
    _record(parser)
    parser.add_argument("--json", action="store_true", help="events and effects as JSON lines")


def _demo(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="which job (default 1)")
    parser.add_argument(
        "--out", type=Path, default=Path("sweepsay-demo"), metavar="DIR",
        help="where the WAV, the report and the job go (default ./sweepsay-demo)",
    )  # fmt: skip
    parser.add_argument("--json", action="store_true", help="print JSON only")


def _check(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--microphone", metavar="NAME", help="part of the device's name")
    parser.add_argument("--speaker", metavar="NAME", help="part of the device's name")
    parser.add_argument(
        "--try",
        action="store_true",
        dest="trial",
        help="say what it asks for, and see what is heard",
    )
    _record(parser)
    parser.add_argument("--json", action="store_true", help="print JSON only")


def _hear(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("files", nargs="+", metavar="FILE", help="WAV or FLAC, any rate")
    parser.add_argument(
        "--unit",
        choices=("thou", "mm"),
        default="thou",
        help="what a bare number counts: thou, or hundredths of a mm (default thou)",
    )
    parser.add_argument(
        "--range", type=_whole(1, 999), default=30, metavar="N", dest="reach",
        help="the dial's range in thou, or in hundredths of a millimetre (default 30)",
    )  # fmt: skip
    parser.add_argument(
        "--expect", choices=("reading", "command", "any"), default="any",
        help="what is listened for: what a sweep offers, every command, or both (default any)",
    )  # fmt: skip
    _engine(parser)
    parser.add_argument("--json", action="store_true", help="one JSON line per utterance")


def _whole(least: int, most: int) -> Callable[[str], int]:
    def read(text: str) -> int:
        if not (text.isascii() and text.isdecimal() and least <= int(text[:9]) <= most):
            raise argparse.ArgumentTypeError(f"{text!r}: use a whole number from {least} to {most}")
        return int(text)

    return read


def _file(text: str) -> Path:
    if not text.strip():
        raise argparse.ArgumentTypeError("it is empty: give the name of a file")
    return Path(text)


def _solve(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="readings in TOML or JSON; - for stdin")
    parser.add_argument("--json", action="store_true", help="print JSON only")


def _model(parser: argparse.ArgumentParser) -> None:
    actions = parser.add_subparsers(dest="action", required=True, metavar="ACTION")
    get = actions.add_parser("install", help="download, check and unpack a model, or go on with it")
    get.add_argument("name", nargs="?", metavar="NAME", help="as listed (default: the first)")
    get.add_argument("--sha256", metavar="HEX", help="its publisher's sum, to be checked")
    listed = actions.add_parser("list", help="models that can be had, and those that are there")
    listed.add_argument("--json", action="store_true", help="print JSON only")


def _machine(parser: argparse.ArgumentParser) -> None:
    actions = parser.add_subparsers(dest="action", required=True, metavar="ACTION")
    listed = actions.add_parser("list", help="every machine")
    show = actions.add_parser("show", help="one machine's profile")
    new = actions.add_parser("new", help="make a profile; asks what is not given")
    edit = actions.add_parser("edit", help="change a profile, with --set or in your editor")
    show.add_argument("name", metavar="MACHINE", help="its name")
    new.add_argument("name", nargs="?", metavar="MACHINE", help="what it is to be called")
    new.add_argument(
        "--layout", metavar="LAYOUT",
        help="what it starts from: " + ", ".join(each.name for each in LAYOUTS),
    )  # fmt: skip
    new.add_argument("--units", choices=("inch", "metric"), default="inch", help="of its dial")
    edit.add_argument("name", metavar="MACHINE", help="its name")
    for action in (new, edit):
        action.add_argument(
            "--set", action="append", default=[], metavar="KEY=VALUE", dest="settings",
            help="such as 'tolerance=2 thou'; may be given several times",
        )  # fmt: skip
    for action in (listed, show):
        action.add_argument("--json", action="store_true", help="print JSON only")


def _job(parser: argparse.ArgumentParser) -> None:
    actions = parser.add_subparsers(dest="action", required=True, metavar="ACTION")
    listed = actions.add_parser("list", help="every job; 'job backup' copies them")
    show = actions.add_parser("show", help="one job in full; the newest if none is named")
    report = actions.add_parser("report", help="the report of a job, as HTML and PDF")
    sheet = actions.add_parser("sheet", help="one page to hang at the machine, as HTML and PDF")
    trend = actions.add_parser("trend", help="a machine over its jobs, as HTML and PDF")
    export = actions.add_parser("export", help="a job as JSON (all of it) or CSV (its readings)")
    taken = actions.add_parser("import", help="take an exported job into the record")
    backup = actions.add_parser(
        "backup", help="the whole record as one file, also during a job; run --db FILE goes on"
    )
    audio = actions.add_parser("audio", help="what was kept with run --keep-audio")
    kept = audio.add_subparsers(dest="audio", required=True, metavar="ACTION")
    heard = kept.add_parser("list", help="the utterances that are kept, and of which events")
    delete = kept.add_parser("delete", help="delete a job's utterances; its record stays")
    for action in (show, report, sheet, export, heard):
        action.add_argument(
            "job", nargs="?", metavar="JOB", help="its name or how it begins (default: the newest)"
        )
    delete.add_argument("job", metavar="JOB", help="its name or how it begins")
    delete.add_argument("--event", type=_whole(1, 10**9), metavar="N", help="that one only")
    trend.add_argument("machine", metavar="MACHINE", help="its name")
    for action in (listed, show, report, sheet, trend, export, taken, backup, heard, delete):
        _record(action)
    for action in (listed, show, report, sheet, trend, taken, backup, heard, delete):
        action.add_argument("--json", action="store_true", help="print JSON only")
    for action in (report, sheet, trend):
        action.add_argument(
            "--out", type=Path, default=Path(), metavar="DIR", help="where to (default here)"
        )
    export.add_argument("--format", choices=("json", "csv"), default="json", help="default json")
    export.add_argument(
        "--out", type=_file, default=None, metavar="FILE", help="where to (default: printed)"
    )
    taken.add_argument("file", type=_file, metavar="FILE", help="as 'job export' wrote it")
    backup.add_argument("file", type=_file, metavar="FILE", help="what to make; not one there is")


def _manual(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "topic", nargs="?", metavar="TOPIC", choices=TOPICS,
        help=f"one part only: {', '.join(TOPICS)}",
    )  # fmt: skip
    parser.add_argument("--page", action="store_true", help="open it as a page in the browser")
    parser.add_argument(
        "--out", type=Path, default=None, metavar="FILE", help="write it as a page, HTML or PDF"
    )


def _record(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--db", type=_file, default=None, metavar="FILE",
        help="the record of jobs (default: in your data folder, see 'sweepsay check')",
    )  # fmt: skip


def _engine(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--engine", choices=ENGINES, default="auto",
        help="the recogniser; vosk needs 'sweepsay model install' (default auto: neural where "
        "it is installed, else pocketsphinx)",
    )  # fmt: skip
