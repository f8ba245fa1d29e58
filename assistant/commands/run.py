"""The ``run`` command: what was asked for, to a job by sound or by typed words.

What a job by typed words does not need is imported only where a job by sound begins.
"""

import argparse
import io
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from assistant.bench.loop import Machines
    from assistant.dialogue.machine import Profile


def execute(arguments: argparse.Namespace) -> int:
    """``sweepsay run``."""
    if arguments.voice == "speaker":
        # It takes a second, most of it outside Python: meanwhile all the rest is imported.
        from assistant.devices.voice.synthesis import start_engine

        start_engine()
    return _run(arguments)


def _run(arguments: argparse.Namespace) -> int:
    from assistant.bench.typed_job import run_typed
    from assistant.bench.which_machine import which_machine
    from assistant.dialogue.machine import Profile
    from assistant.records.machines.folder import Shelf, remember_noise
    from assistant.records.places import default_profiles, default_record

    record = arguments.db or default_record()
    shelf = Shelf(default_profiles())
    if isinstance(sys.stdin, io.TextIOWrapper):
        # A typed line that is not UTF-8 is not understood; it must not end the job.
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
        return run_typed(
            profile, record, silent=arguments.voice == "off", as_json=arguments.json,
            remember=remember, machines=machines,
            stdin=sys.stdin, stdout=sys.stdout, stderr=sys.stderr,
        )  # fmt: skip
    return _by_sound(arguments, profile, record, machines, remember)


def _by_sound(
    arguments: argparse.Namespace,
    profile: "Profile",
    record: "Path",
    machines: "Machines | None",
    remember: "Callable[[Profile], None]",
) -> int:
    from assistant.bench.known_person import KnownPerson
    from assistant.bench.remembered import keep_settings, settings_for_run
    from assistant.bench.session import run_live
    from assistant.bench.wishes import Wishes
    from assistant.devices.ears.vosk.model_store import find_model
    from assistant.records.places import default_settings, default_voice

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
        machines=machines, keep_sound=lambda sound: keep_settings(default_settings(), sound),
    )  # fmt: skip
    known = KnownPerson(default_voice(), sys.stderr, forget=arguments.forget)
    try:
        return run_live(
            profile, record, wishes, lambda: known.recogniser(arguments.engine),
            stdin=sys.stdin, stdout=sys.stdout, stderr=sys.stderr,
        )  # fmt: skip
    finally:
        known.keep()
