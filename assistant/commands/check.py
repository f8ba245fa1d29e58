"""The ``check`` command: what works here, and what to do about what does not.

Each part is looked at by itself, so that one that is missing hides nothing of the others.
Nothing is changed or left behind.
"""

import argparse
import io
import json
import os
import platform
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import TextIO

from assistant.bench.known_person import KnownPerson
from assistant.bench.remembered import in_words, load_settings
from assistant.bench.which_machine import known_machines
from assistant.commands.check_sound import (
    YOUR_VOICE,
    Finding,
    Look,
    MonotonicClock,
    Status,
    look,
    look_at_sound,
)
from assistant.devices.ears.hearing import Recogniser, Verifier
from assistant.devices.ears.verify import verify
from assistant.devices.ears.vosk.model_store import installed_names, models_folder
from assistant.devices.faults import DeviceFault
from assistant.devices.keys.input_device import find_keypad
from assistant.devices.library_noise import library_noise_to
from assistant.devices.screen.palette import Colours
from assistant.devices.screen.terminal_colours import terminal_colours
from assistant.devices.sound.library import PortAudio, SoundLibrary
from assistant.devices.sound.microphone import Samples
from assistant.devices.sound.settings import SoundSettings, with_given
from assistant.devices.voice.synthesis import Voice
from assistant.records.faults import RecordError
from assistant.records.journal.journal import look_into
from assistant.records.journal.opening import MEMORY, NOTHING_KEPT
from assistant.records.machines.folder import Shelf
from assistant.records.places import (
    default_profiles,
    default_record,
    default_settings,
    default_voice,
)
from assistant.simulation.speech import SpeechBank, voices
from grammar.offer import everything
from grammar.scale import Scale

LISTEN_S = 3.0
"""How long the room is listened to."""

LEAST_SPACE_MB = 20

COLOURS: dict[Colours, str] = {
    "many": "colours", "sixteen": "16 colours", "none": "no colours",
}  # fmt: skip

SMALL_SCREEN = (64, 18)


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is looked at.

    ``record``: the file that jobs are kept in. ``instead``: after the recogniser was made, why
    it stands in for the leading one, or nothing. ``sound``: the settings to look with;
    ``remembered``: where those of jobs are kept and which they are, and whether they can be
    used. ``machines``: those that can be chosen, ``damaged``: what is wrong with the others.
    ``models``: names of the Vosk models that are installed. ``sample``: an utterance of the
    grammar and its words, to try the recogniser with. ``trial``: ask the person to speak;
    needs a microphone and somebody there.
    """

    record: Path
    make_recogniser: Callable[[], Recogniser]
    verify: Verifier
    instead: Callable[[], str] = str
    sound: SoundSettings = field(default_factory=SoundSettings)
    remembered: tuple[Status, str] = ("ok", "nothing is remembered")
    models: tuple[str, ...] = ()
    machines: tuple[str, ...] = ()
    damaged: tuple[str, ...] = ()
    sample: Callable[[], tuple[Samples, str]] | None = None
    listen_s: float = LISTEN_S
    trial: bool = False
    open_library: Callable[[], SoundLibrary] = PortAudio
    clock: MonotonicClock = time.monotonic


def run_check(wanted: Wanted, stdin: TextIO, stdout: TextIO, *, as_json: bool = False) -> int:
    """Look at everything and print it; 0 when a job can be done here, if only by typing.

    1 when jobs cannot be kept. With ``as_json`` one object on stdout and nothing else, and
    the person is not asked to speak.
    """
    findings: list[Finding] = []
    for finding in _look(wanted, stdin, stdout, as_json=as_json):
        findings.append(finding)
        if not as_json:
            stdout.write(line_of(finding))
            stdout.flush()
    kept = all(each.status != "missing" for each in findings if each.part == "record")
    if as_json:
        rows = [asdict(finding) for finding in findings]
        stdout.write(json.dumps({"possible": kept, "parts": rows}) + "\n")
    else:
        stdout.write(f"\n{summary(findings)}\n")
    return 0 if kept else 1


def line_of(finding: Finding) -> str:
    """A finding as one or two printed lines."""
    text = f"{finding.status:<8}{finding.part:<12}{finding.found}\n"
    return text + (f"{'':<20}-> {finding.remedy}\n" if finding.remedy else "")


def summary(findings: list[Finding]) -> str:
    """In one line, how a job can be done here."""
    good = {each.part for each in findings if each.status != "missing"}
    if "record" not in good:
        return "No job can be done here: it could not be kept."
    by_voice = {"microphone", "recogniser"} <= good
    answers = "spoken answers" if {"speaker", "voice"} <= good else "printed answers"
    direct = any(each.part == "keypad" and each.status == "ok" for each in findings)
    ways = [
        *(["voice"] if by_voice else []),
        *(["keypad"] if "terminal" in good or direct else []),
        "typed words",
    ]
    return f"A job can be done here by {', '.join(ways)}, with {answers}."


def _look(wanted: Wanted, stdin: TextIO, stdout: TextIO, *, as_json: bool) -> Iterator[Finding]:
    yield Finding(
        "program", "ok", f"Python {platform.python_version()} on {platform.platform(terse=True)}"
    )
    yield look_at_record(wanted.record)
    yield look_at_machines(wanted.machines, wanted.damaged)
    yield Finding(
        "settings", *wanted.remembered,
        "change: sweepsay run with --microphone, --speaker, --headset, --rate, --volume, --tones; "
        "or --forget",
    )  # fmt: skip
    made: list[Recogniser] = []
    yield look("recogniser", lambda: _look_at_recogniser(wanted, made))
    yield look("voice", lambda: _look_at_voice(wanted.sound))
    trial = bool(made) and wanted.trial and not as_json
    # PortAudio and ALSA print what they think on the error stream.
    with library_noise_to(Path(os.devnull)):
        tried = False
        for finding in look_at_sound(
            wanted.open_library, Look(wanted.sound, wanted.listen_s, wanted.clock), wanted.verify,
            stdout, made[0] if trial else None,
        ):  # fmt: skip
            tried = tried or finding.part == YOUR_VOICE
            yield finding
    if wanted.trial and not tried:
        yield _not_tried(as_json=as_json, recogniser=bool(made))
    yield _look_at_models(wanted.models)
    yield look_at_terminal(stdin, stdout)
    yield look("keypad", _look_at_keypad, missing="note")


def look_at_record(path: Path) -> Finding:
    """Whether jobs can be kept in this file."""
    folder = path.parent
    while not folder.exists() and folder != folder.parent:
        folder = folder.parent
    remedy = "give another place with --db FILE, or mend its permissions"
    if str(path) == MEMORY:
        return Finding("record", "note", NOTHING_KEPT, "give a file with --db FILE")
    if not folder.is_dir() or path.is_dir():
        return Finding("record", "missing", f"{path} cannot be a file", remedy)
    try:
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        return Finding("record", "missing", f"{folder}: {error.strerror}", remedy)
    if path.exists() and not os.access(path, os.R_OK | os.W_OK):
        return Finding("record", "missing", f"{path} may not be written", remedy)
    free_mb = shutil.disk_usage(folder).free // 1_000_000
    if free_mb < LEAST_SPACE_MB:
        return Finding("record", "note", f"only {free_mb} MB free at {folder}", "make room")
    return _what_is_in(path)


def _what_is_in(path: Path) -> Finding:
    try:
        jobs, notes = look_into(path)
    except RecordError as error:
        match error.code:
            case "no_record":
                return Finding("record", "ok", f"{path} will be made")
            case "damaged":
                found = f"{path} is damaged, or was not made to its end"
                return Finding("record", "note", found, "sweepsay run keeps what can be read of it")
            case "busy" | "locked":
                return Finding("record", "note", str(error), "close the other program")
            case _:
                return Finding("record", "missing", str(error), "give another place with --db FILE")
    if notes:
        return Finding(
            "record", "note", "; ".join(notes), "sweepsay run goes on with what is there"
        )
    return Finding("record", "ok", f"{path} is there, {jobs} jobs")


def _look_at_voice(sound: SoundSettings) -> Finding:
    began = time.perf_counter()
    samples, rate = Voice(sound.voice).synthesise("Front plus six.")
    took_ms = (time.perf_counter() - began) * 1000
    return Finding("voice", "ok", f"speaks ({len(samples) / rate:.1f} s made in {took_ms:.0f} ms)")


def _not_tried(*, as_json: bool, recogniser: bool) -> Finding:
    """Why nobody was asked to speak although it was wished for."""
    if as_json:
        return Finding(YOUR_VOICE, "note", "not tried: --json asks nobody", "leave --json out")
    lacks = "no microphone that hears" if recogniser else "no recogniser"
    remedy = "see to what is missing above, then sweepsay check --try again"
    return Finding(YOUR_VOICE, "note", f"not tried: {lacks}", remedy)


def _look_at_recogniser(wanted: Wanted, made: list[Recogniser]) -> Finding:
    began = time.perf_counter()
    try:
        recogniser = wanted.make_recogniser()
        recogniser.arm(everything(Scale()))
    except (ImportError, OSError, RuntimeError, ValueError) as error:
        raise DeviceFault(
            "recogniser", " ".join(str(error).split()), "install pocketsphinx again with pip"
        ) from error
    made.append(recogniser)
    loaded_s = time.perf_counter() - began
    instead = wanted.instead()
    which = f"{recogniser.name} instead of neural ({instead})" if instead else recogniser.name
    found = f"{which}, ready in {loaded_s:.1f} s"
    status: Status = "note" if instead else "ok"
    remedy = "it mishears more; see README, Try it" if instead else ""
    if wanted.sample is None:
        return Finding("recogniser", status, found, remedy)
    samples, words = wanted.sample()
    began = time.perf_counter()
    decoded = recogniser.decode(samples)
    took_s = time.perf_counter() - began
    heard = decoded.hypotheses[0].words if decoded.hypotheses else decoded.words
    if heard != words:
        return Finding(
            "recogniser", "note", f"{found}; heard {heard!r} in a recording of {words!r}",
            "install pocketsphinx and sweepsay again with pip",
        )  # fmt: skip
    return Finding("recogniser", status, f"{found}; heard {words!r} in {took_s:.2f} s", remedy)


def look_at_machines(machines: tuple[str, ...], damaged: tuple[str, ...]) -> Finding:
    """Which machines can be chosen; what is wrong with a profile names its file and line."""
    names = ", ".join(machines)
    if damaged:
        also = f"; usable: {names}" if names else ""
        return Finding("machines", "note", f"{'; '.join(damaged)}{also}", "mend that file")
    if not machines:
        return Finding(
            "machines", "note", "none yet", "sweepsay run asks for one; or sweepsay machine new"
        )
    return Finding("machines", "ok", names)


def _look_at_models(models: tuple[str, ...]) -> Finding:
    if models:
        return Finding("model", "ok", f"Vosk: {', '.join(models)}")
    return Finding(
        "model", "note", "no Vosk model (not needed)", "for noisy shops: sweepsay model install"
    )


def look_at_terminal(stdin: TextIO, stdout: TextIO) -> Finding:
    """Whether single keys and the screen can be used."""
    if not stdin.isatty() or not stdout.isatty():
        return Finding(
            "terminal", "missing", "not a terminal: typed lines work, single keys do not",
            "start sweepsay in a terminal window",
        )  # fmt: skip
    size = shutil.get_terminal_size()
    blocks = (stdout.encoding or "").lower().replace("-", "").startswith("utf")
    colours = COLOURS[terminal_colours(os.environ)]
    letters = "large" if blocks else "plain"
    found = f"{size.columns} x {size.lines}, {letters} characters, {colours}"
    if size.columns < SMALL_SCREEN[0] or size.lines < SMALL_SCREEN[1]:
        remedy = f"{SMALL_SCREEN[0]} x {SMALL_SCREEN[1]} shows the table too: use larger windows"
        return Finding("terminal", "note", found, remedy)
    return Finding("terminal", "ok", found)


def _look_at_keypad() -> Finding:
    if not sys.platform.startswith("linux"):
        return Finding("keypad", "note", "read by the terminal", "keep its window in front")
    device = find_keypad()
    name = device.name
    device.close()
    return Finding("keypad", "ok", f"{name}, read directly")


def execute(arguments: argparse.Namespace) -> int:
    """``sweepsay check``."""

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
        make_recogniser=lambda: known.recogniser("auto"),
        instead=lambda: known.instead,
        verify=verify,
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
