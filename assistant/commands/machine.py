"""`sweepsay machine`: list, show, new, edit.

Each function takes parsed arguments and text streams and returns the exit code; RecordError
goes up to the one place that prints it.
"""

import argparse
import json
import os
import shlex
import subprocess
import sys
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TextIO

from assistant.dialogue.machine import SHIMMED, Profile
from assistant.records.faults import RecordError
from assistant.records.journal.codec import encode
from assistant.records.machines.folder import Shelf
from assistant.records.machines.machine_settings import set_keys
from assistant.records.machines.machine_toml import read_profile, write_profile
from assistant.records.machines.presets import LAYOUTS, Units, preset
from assistant.records.names import one_line
from assistant.records.places import default_profiles
from assistant.records.report.wording import Words

Editor = Callable[[Path], int]
"""Lets the person edit a file; returns the editor's exit code."""


def machine_list(folder: Path, *, as_json: bool, out: TextIO, err: TextIO) -> int:
    """Every machine with its sweep and tolerance; a profile that cannot be used is named."""
    shelf = Shelf(folder)
    profiles: dict[str, Profile] = {}
    broken = 0
    for name in shelf.names():
        try:
            profiles[name] = shelf.load(name)
        except RecordError as error:
            broken += 1
            err.write(f"sweepsay: {error}\n")
    if as_json:
        out.write(json.dumps({n: encode(p, Profile) for n, p in profiles.items()}) + "\n")
    elif not profiles and not broken:
        out.write("no machines yet: 'sweepsay machine new' makes one\n")
    else:
        out.writelines(f"{_line(name, profile)}\n" for name, profile in profiles.items())
    return 1 if broken else 0


def _line(name: str, profile: Profile) -> str:
    words = Words(profile)
    return (
        f"{one_line(name, 40):30}  sweep {words.length(profile.sweep_diameter):>8}  "
        f"tolerance {words.tolerance()}"
    )


def machine_show(folder: Path, name: str, *, as_json: bool, out: TextIO) -> int:
    """A machine's profile: the file as it is, or the values as JSON."""
    shelf = Shelf(folder)
    profile = shelf.load(name)
    if as_json:
        out.write(json.dumps(encode(profile, Profile)) + "\n")
        return 0
    out.write(f"# {one_line(str(shelf.path(name)), 400)}\n")
    out.writelines(f"{one_line(line, 400)}\n" for line in shelf.text(name).splitlines())
    return 0


def machine_new(
    folder: Path,
    name: str | None,
    *,
    layout: str | None = None,
    units: Units = "inch",
    settings: Sequence[str] = (),
    asked: TextIO | None = None,
    out: TextIO,
) -> int:
    """Make a machine's profile from a layout; what is not given is asked on ``asked``.

    ``settings``: "key=value" as in the file, such as "tolerance=2 thou" or
    "shim.max_leaves=2". Raises RecordError.
    """
    if name is None or layout is None:
        if asked is None:
            raise RecordError("bad_input", "name the machine and its --layout: " + _layouts())
        profile = _interview(asked, out, name)
    else:
        profile = _from_layout(layout, units, name)
    changed = read_profile(set_keys(write_profile(profile), settings), "the new profile")
    path = Shelf(folder).save(changed)
    out.write(f"{one_line(str(path), 4_096)}\nuse it: sweepsay run {shlex.quote(changed.name)}\n")
    return 0


def _from_layout(layout: str, units: Units, name: str) -> Profile:
    profile = preset(layout, units)
    if profile is None:
        raise RecordError("bad_input", f"there is no layout {one_line(layout)!r}: {_layouts()}")
    return replace(profile, name=name)


def _layouts() -> str:
    return "there are " + ", ".join(each.name for each in LAYOUTS)


def _interview(asked: TextIO, out: TextIO, name: str | None) -> Profile:
    """Six short questions; an empty line takes what stands in brackets."""
    out.write("Which machine is it?\n")
    for number, each in enumerate(LAYOUTS, 1):
        out.write(f"  {number}  {each.name}: {each.about}\n")
    place = _choice(asked, out, "number", "1", [str(k + 1) for k in range(len(LAYOUTS))])
    chosen = LAYOUTS[int(place) - 1]
    name = name or _answer(asked, out, "what it is called", chosen.name)
    inch = _choice(asked, out, "dial in inch or metric", "inch", ["inch", "metric"]) == "inch"
    start = preset(chosen.name, "inch" if inch else "metric") or Profile()
    words = Words(start)
    text = write_profile(replace(start, name=name))
    for key, question, usual in (
        ("sweep_diameter", "sweep diameter", words.length(start.sweep_diameter)),
        ("tolerance", "tolerance over the sweep", words.tolerance()),
        ("indicator.reach", f"largest number on the dial, in {_counts(inch)}", _reach(start)),
        _setting_question(start),
    ):
        text = _ask_key(asked, out, text, key, question, usual)
    return read_profile(text, "the answers")


def _setting_question(start: Profile) -> tuple[str, str, str]:
    """What is asked of how the machine is set: key, question, usual answer."""
    if start.kind == "packed":
        usual = "" if start.span is None else Words(start).length(start.span)
        return "shim.span", "from shims under one side to the other side, roughly", usual
    if start.kind in SHIMMED:
        return "shim.span", "hinge edge to shim, or nothing if not known", ""
    usual = Words(start).length(start.nod_offset)
    return "nod_offset", "spindle axis back to where it nods, roughly", usual


def _counts(inch: bool) -> str:
    return "thou" if inch else "hundredths of a millimetre"


def _reach(profile: Profile) -> str:
    return str(profile.scale.reach)


def _ask_key(asked: TextIO, out: TextIO, text: str, key: str, question: str, usual: str) -> str:
    """Ask until the answer can be used; what is wrong is said at once."""
    while True:
        value = _answer(asked, out, question, usual)
        if not value:
            return text
        try:
            changed = set_keys(text, (f"{key}={value}",))
            read_profile(changed, "answer")
        except RecordError as error:
            out.write(f"  {error}\n")
        else:
            return changed


def _choice(asked: TextIO, out: TextIO, question: str, usual: str, allowed: Sequence[str]) -> str:
    while True:
        value = _answer(asked, out, question, usual).lower()
        if value in allowed:
            return value
        out.write(f"  answer {', '.join(allowed)}\n")


def _answer(asked: TextIO, out: TextIO, question: str, usual: str) -> str:
    out.write(f"{question} [{usual}]: " if usual else f"{question}: ")
    out.flush()
    line = asked.readline(400)
    if not line:
        raise RecordError("bad_input", "the answers ended too soon: nothing was made")
    return one_line(line.strip()) or usual


def machine_edit(
    folder: Path,
    name: str,
    settings: Sequence[str],
    *,
    editor: Editor | None = None,
    out: TextIO,
) -> int:
    """Change keys of a machine's profile, or its whole file with an editor.

    The file is replaced only by one that can be used. Raises RecordError.
    """
    shelf = Shelf(folder)
    text = shelf.text(name)
    if settings:
        changed = set_keys(text, settings, str(shelf.path(name)))
    elif editor is not None:
        changed = _edited(text, editor)
    else:
        raise RecordError("bad_input", "say what to change: --set 'tolerance=2 thou'")
    path = shelf.replace_text(name, changed)
    out.write(f"{one_line(str(path), 4_096)}\n")
    return 0


def _edited(text: str, editor: Editor) -> str:
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "machine.toml"
        copy.write_text(text, encoding="utf-8")
        if editor(copy) != 0:
            raise RecordError("bad_input", "the editor reported an error: nothing was changed")
        return copy.read_text(encoding="utf-8")


def usual_editor() -> Editor | None:
    """The editor that the person's environment names, or None."""
    command = os.environ.get("VISUAL") or os.environ.get("EDITOR")
    if not command:
        return None
    parts = shlex.split(command)

    def run(path: Path) -> int:
        try:
            return subprocess.run([*parts, str(path)], check=False).returncode
        except OSError as error:
            raise RecordError("bad_input", f"the editor {parts[0]!r}: {error.strerror}") from None

    return run


def execute(arguments: argparse.Namespace) -> int:
    """``sweepsay machine``."""

    folder, out = default_profiles(), sys.stdout
    match arguments.action:
        case "list":
            return machine_list(folder, as_json=arguments.json, out=out, err=sys.stderr)
        case "show":
            return machine_show(folder, arguments.name, as_json=arguments.json, out=out)
        case "new":
            return machine_new(
                folder, arguments.name, layout=arguments.layout, units=arguments.units,
                settings=arguments.settings, asked=sys.stdin, out=out,
            )  # fmt: skip
        case _:
            return machine_edit(
                folder, arguments.name, arguments.settings,
                editor=usual_editor(), out=out,
            )  # fmt: skip
