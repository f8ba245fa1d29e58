"""Wiring of the command line, and every error turned into one line and an exit code.

Modules are imported where they are used: `solve` need not wait for a recogniser.
"""

import argparse
import io
import json
import os
import sys
from collections.abc import Sequence

from assistant.arguments import build_parser
from assistant.devices.faults import DeviceFault
from assistant.devices.model_faults import ModelError
from assistant.devices.sound_settings import SettingsError
from assistant.records.faults import RecordError
from assistant.records.file_values import ReadingsFileError
from assistant.records.names import one_line

LONGEST_MESSAGE = 2_000


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit code (0 done, 1 could not be done, 2 wrong usage)."""
    parser = build_parser()
    if not (sys.argv[1:] if argv is None else argv):
        # Whoever gives no command does not know them yet.
        parser.print_help(sys.stderr)
        parser.exit(2)
    arguments = parser.parse_args(argv)
    try:
        return _dispatch(arguments)
    except (RecordError, ReadingsFileError, DeviceFault, ModelError) as error:
        return _fail(str(error))
    except SettingsError as error:
        _fail(str(error))
        return 2
    except BrokenPipeError:
        # The reader of our output has gone; Python would complain again while closing it.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except KeyboardInterrupt:
        print("sweepsay: stopped; every accepted reading is kept", file=sys.stderr)
        return 130


def _fail(message: str) -> int:
    # Names of files and devices come from outside and may hold what steers a terminal.
    print(f"sweepsay: {one_line(message, LONGEST_MESSAGE)}", file=sys.stderr)
    return 1


def _dispatch(arguments: argparse.Namespace) -> int:
    match arguments.command:
        case "run":
            return _run(arguments)
        case "demo":
            from assistant.simulation.demo import run_demo

            return run_demo(
                arguments.seed, arguments.out, as_json=arguments.json,
                stdout=sys.stdout, stderr=sys.stderr,
            )  # fmt: skip
        case "check":
            return _check(arguments)
        case "hear":
            from assistant.hear import run_hear

            return run_hear(
                arguments.files, unit=arguments.unit, reach=arguments.reach,
                expect=arguments.expect, engine=arguments.engine, as_json=arguments.json,
                out=sys.stdout, err=sys.stderr,
            )  # fmt: skip
        case "solve":
            return _solve(arguments)
        case "model":
            return _model(arguments)
        case "machine":
            return _machine(arguments)
        case "job":
            return _job(arguments)
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
    from assistant.records.machines import Shelf, remember_noise
    from assistant.records.places import (
        default_profiles,
        default_record,
        default_settings,
        default_voice,
    )
    from assistant.which_machine import which_machine

    record = arguments.db or default_record()
    shelf = Shelf(default_profiles())
    if isinstance(sys.stdin, io.TextIOWrapper):
        # A typed line that is no UTF-8 is not understood; it must not end the job.
        sys.stdin.reconfigure(errors="replace")
    here = sys.stdin.isatty() and not arguments.json
    profile, machines = which_machine(
        arguments.machine, shelf, record, asks=arguments.ask, here=here, err=sys.stderr
    )

    # The usual machine, which nobody named, has no file to keep anything in.
    unnamed = machines is None and profile == Profile()

    def remember(learned: Profile) -> None:
        if not unnamed:
            remember_noise(shelf, learned)

    if arguments.ears == "text" and arguments.voice != "speaker":
        from assistant.typed_job import run_typed

        silent = arguments.voice == "off"
        return run_typed(
            profile, record, silent=silent, as_json=arguments.json, remember=remember,
            machines=machines, stdin=sys.stdin, stdout=sys.stdout, stderr=sys.stderr,
        )  # fmt: skip
    from assistant.devices.model_store import find_model
    from assistant.known_person import KnownPerson
    from assistant.live import run_live
    from assistant.remembered import settings_for_run
    from assistant.wishes import Wishes

    if arguments.engine == "vosk":
        find_model()  # said before the job begins, not in the middle of it
    given = {
        key: getattr(arguments, key)
        for key in ("microphone", "speaker", "headset", "rate", "volume", "tones")
    }
    sound = settings_for_run(default_settings(), given, forget=arguments.forget, err=sys.stderr)
    wishes = Wishes(
        ears=arguments.ears, voice=arguments.voice, keypad=arguments.keypad,
        screen=arguments.screen and not arguments.json, theme=arguments.theme,
        as_json=arguments.json, sound=sound, keep_audio=arguments.keep_audio, remember=remember,
        machines=machines,
    )  # fmt: skip
    known = KnownPerson(default_voice(), sys.stderr, forget=arguments.forget)
    try:
        return run_live(
            profile, record, wishes, lambda: known.recogniser(arguments.engine),
            stdin=sys.stdin, stdout=sys.stdout, stderr=sys.stderr,
        )  # fmt: skip
    finally:
        known.keep()


def _check(arguments: argparse.Namespace) -> int:
    from assistant.devices.check import Status, Wanted, run_check
    from assistant.devices.model_store import installed_names, models_folder
    from assistant.devices.sound_settings import SoundSettings, with_given
    from assistant.devices.verify import judge
    from assistant.known_person import KnownPerson
    from assistant.records.machines import Shelf
    from assistant.records.places import (
        default_profiles,
        default_record,
        default_settings,
        default_voice,
    )
    from assistant.remembered import in_words, load_settings
    from assistant.simulation.speech import SpeechBank, voices
    from assistant.which_machine import known_machines

    remembered: tuple[Status, str]
    try:
        settings = load_settings(default_settings())
        remembered = ("ok", f"{in_words(settings)} is remembered in {default_settings()}")
    except RecordError as error:
        settings, remembered = SoundSettings(), ("note", str(error))
    record = arguments.db or default_record()
    damaged = io.StringIO()
    try:
        machines = tuple(known_machines(Shelf(default_profiles()), record, damaged))
    except RecordError:
        # The record has its own line; names in any order do here.
        machines = Shelf(default_profiles()).names()
    said = "front plus six"
    known = KnownPerson(default_voice(), sys.stderr)
    wanted = Wanted(
        record=record,
        make_recogniser=lambda: known.recogniser("pocketsphinx"),
        judge=judge,
        sound=with_given(settings, microphone=arguments.microphone, speaker=arguments.speaker),
        remembered=remembered,
        machines=machines,
        damaged=tuple(line.removeprefix("sweepsay: ") for line in damaged.getvalue().splitlines()),
        models=tuple(installed_names(models_folder())),
        sample=lambda: (SpeechBank(voices()[0]).say(said), said),
        trial=arguments.trial,
    )
    code = run_check(wanted, sys.stdin, sys.stdout, as_json=arguments.json)
    if arguments.trial:
        known.keep()
    return code


def _model(arguments: argparse.Namespace) -> int:
    from assistant.model_command import run_model_install, run_model_list

    if arguments.action == "list":
        return run_model_list(as_json=arguments.json, out=sys.stdout)
    return run_model_install(
        arguments.name, sha256=arguments.sha256, out=sys.stdout, err=sys.stderr
    )


def _machine(arguments: argparse.Namespace) -> int:
    from assistant.records import machine_command
    from assistant.records.places import default_profiles

    folder, out = default_profiles(), sys.stdout
    match arguments.action:
        case "list":
            return machine_command.machine_list(
                folder, as_json=arguments.json, out=out, err=sys.stderr
            )
        case "show":
            return machine_command.machine_show(
                folder, arguments.name, as_json=arguments.json, out=out
            )
        case "new":
            return machine_command.machine_new(
                folder, arguments.name, layout=arguments.layout, units=arguments.units,
                settings=arguments.settings, asked=sys.stdin, out=out,
            )  # fmt: skip
        case _:
            return machine_command.machine_edit(
                folder, arguments.name, arguments.settings,
                editor=machine_command.usual_editor(), out=out,
            )  # fmt: skip


def _job(arguments: argparse.Namespace) -> int:
    from assistant.records import job_command
    from assistant.records.places import default_record

    record, out, err = arguments.db or default_record(), sys.stdout, sys.stderr
    match arguments.action:
        case "list":
            return job_command.job_list(record, as_json=arguments.json, out=out, err=err)
        case "show":
            return job_command.job_show(
                record, arguments.job, as_json=arguments.json, out=out, err=err
            )
        case "report":
            return job_command.job_report(
                record, arguments.job, arguments.out, as_json=arguments.json, out=out, err=err
            )
        case "audio":
            if arguments.audio == "list":
                return job_command.audio_list(
                    record, arguments.job, as_json=arguments.json, out=out
                )
            return job_command.audio_delete(
                record, arguments.job, arguments.event, as_json=arguments.json, out=out
            )
        case "sheet":
            return job_command.job_sheet(
                record, arguments.job, arguments.out, as_json=arguments.json, out=out, err=err
            )
        case "trend":
            return job_command.job_trend(
                record, arguments.machine, arguments.out, as_json=arguments.json, out=out, err=err
            )
        case "export":
            return job_command.job_export(
                record, arguments.job, arguments.format, arguments.out, out=out, err=err
            )
        case _:
            return job_command.job_import(
                record, arguments.file, as_json=arguments.json, out=out, err=err
            )


if __name__ == "__main__":
    sys.exit(main())
