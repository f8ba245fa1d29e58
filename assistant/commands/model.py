"""The ``model`` command: Vosk models that are there, and one downloaded, checked, tried."""

import argparse
import json
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

from assistant.devices.ears.model_faults import ModelError, RecogniserError
from assistant.devices.ears.vosk.model_store import (
    CATALOGUE,
    Installed,
    half_finished,
    in_catalogue,
    install,
    installed_names,
    models_folder,
    recorded_sum,
)
from assistant.devices.ears.vosk.vosk_ears import VoskDecoder, try_model
from assistant.records.names import message_line
from grammar.offer import everything
from grammar.phrases import UNKNOWN, phrases
from grammar.scale import Scale


def unknown_words(folder: Path) -> list[str]:
    """The words of a job that this model lacks: what holds one cannot be said to it.

    Raises ``ModelError`` when the model cannot be loaded.
    """
    scales = (Scale("thou", 30), Scale("mm", 80))
    listed = {text for scale in scales for text in phrases(everything(scale))} - {UNKNOWN}
    try:
        decoder = VoskDecoder(folder)
    except RecogniserError as error:
        raise ModelError(str(error)) from error
    words = {word for text in listed for word in text.split()}
    return sorted(word for word in words if not decoder.knows(word))


@dataclass(frozen=True, slots=True)
class ModelTrial:
    """How a model is tried: loaded before it is put in its place, its words looked up after."""

    load: Callable[[Path], None] = try_model
    unknown: Callable[[Path], list[str]] = unknown_words


def run_model_install(
    name: str | None,
    *,
    sha256: str | None = None,
    out: TextIO,
    err: TextIO,
    trial: ModelTrial | None = None,
) -> int:
    """Install the model of this name, or the default; 0 when it is there.

    ``sha256``: what its archive must have. Progress goes to ``err``, the folder of the
    model to ``out``.
    """
    trial = trial or ModelTrial()
    shown = _Progress(err)
    try:
        model = in_catalogue(name)
        shown.name = model.name
        done = install(model, models_folder(), shown, given=sha256, trial=trial.load)
        unknown = trial.unknown(done.path)
    except ModelError as error:
        err.write(f"{shown.end()}sweepsay: {message_line(str(error))}\n")
        return 1
    except KeyboardInterrupt:
        err.write(f"{shown.end()}sweepsay: stopped; run the command again to go on\n")
        return 130
    err.write(f"{shown.end()}{_vouched(done)}\n")
    if unknown:
        err.write(f"this model does not know, so cannot hear: {', '.join(unknown)}\n")
    out.write(f"{done.path}\n")
    return 0


def _vouched(done: Installed) -> str:
    what = "installed" if done.fresh else "already installed"
    match done.checked:
        case "given":
            return f"{what}; its SHA-256 is the one given"
        case "known":
            return f"{what}; its SHA-256 is the publisher's"
        case "recorded" if done.fresh:
            return f"{what}; its SHA-256 is that of the earlier installation"
        case "recorded":
            return f"{what}, from an archive with SHA-256 {done.sha256 or 'unknown'}"
        case "unchecked":
            return (
                f"{what}, but its SHA-256 was not checked: the publisher's is not known here. "
                f"It is {done.sha256}; --sha256 checks it"
            )


def run_model_list(*, as_json: bool, out: TextIO) -> int:
    """List the models that can be had and those that are there."""
    folder = models_folder()
    there = installed_names(folder)
    about = {model.name: model.about for model in CATALOGUE}
    rows: list[dict[str, object]] = [
        {
            "name": name,
            "about": about.get(name, ""),
            "installed": name in there,
            "downloaded_bytes": half_finished(folder, name),
            "sha256": recorded_sum(folder, name),
        }
        for name in [*about, *(name for name in there if name not in about)]
    ]
    if as_json:
        out.write(json.dumps(rows) + "\n")
        return 0
    for row in rows:
        begun = row["downloaded_bytes"]
        state = "installed" if row["installed"] else "download begun" if begun else "-"
        out.write(f"{row['name']:<32} {state:<15} {row['about']}\n")
    return 0


class _Progress:
    """A line that is written over at every whole percent, or megabyte."""

    def __init__(self, err: TextIO) -> None:
        self.name = ""
        self._err, self._shown, self._open = err, "", False

    def __call__(self, there: int, total: int | None) -> None:
        megabytes = f"{there / 1e6:.0f} MB"
        text = f"{100 * there // total} % of {total / 1e6:.0f} MB" if total else megabytes
        if text != self._shown:
            self._shown, self._open = text, True
            self._err.write(f"\r{self.name}: {text}")
            self._err.flush()

    def end(self) -> str:
        """What ends the line if one is open."""
        was, self._open = self._open, False
        return "\n" if was else ""


def execute(arguments: argparse.Namespace) -> int:
    """``sweepsay model``."""

    if arguments.action == "list":
        return run_model_list(as_json=arguments.json, out=sys.stdout)
    return run_model_install(
        arguments.name, sha256=arguments.sha256, out=sys.stdout, err=sys.stderr
    )
