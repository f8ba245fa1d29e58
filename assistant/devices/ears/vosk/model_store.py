"""Where Vosk models are kept, and how one gets there: download, check, unpack, try.

A model appears in its place whole or not at all. What it is checked against is the sum that
the person gives, else the one that an earlier installation noted; without either, the
encrypted connection to the publisher is all that vouches for it, and that is said.
"""

import hashlib
import os
import re
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import platformdirs

from assistant.devices.ears.model_faults import ModelError, NoRoom
from assistant.devices.ears.vosk import model_archive
from assistant.devices.ears.vosk.model_download import (
    Progress,
    ServerPatience,
    download,
    forget,
    not_stored,
)
from assistant.devices.ears.vosk.model_lock import installing

__all__ = ["ModelError"]

SITE = "https://alphacephei.com/vosk/models"
"""The publisher's own site."""


@dataclass(frozen=True, slots=True)
class Model:
    """A model that can be downloaded: its folder's name, its address, what it is.

    ``sha256``: of the archive, where the publisher's is known to us; None otherwise.
    """

    name: str
    url: str
    about: str = ""
    sha256: str | None = None


def _published(name: str, about: str) -> Model:
    return Model(name, f"{SITE}/{name}.zip", about)


CATALOGUE: tuple[Model, ...] = (
    _published("vosk-model-small-en-us-0.15", "American English, small"),
    _published("vosk-model-small-en-in-0.4", "Indian English, small"),
    _published("vosk-model-en-us-0.22-lgraph", "American English, medium"),
)
"""The first is the default. Models that take a word list; names from memory."""

Checked = Literal["given", "known", "recorded", "unchecked"]


@dataclass(frozen=True, slots=True)
class Installed:
    """A model in its place. ``sha256``: of its archive. ``fresh``: it came just now."""

    path: Path
    sha256: str
    checked: Checked
    fresh: bool


def models_folder() -> Path:
    """Where models are kept for this person."""
    return platformdirs.user_data_path("sweepsay", appauthor=False) / "models"


def installed_names(folder: Path) -> list[str]:
    """The names of the models that are there whole, the default first."""
    if not folder.is_dir():
        return []
    found = [entry.name for entry in folder.iterdir() if not entry.name.endswith(".unpacking")]
    usable = [name for name in found if _whole(folder / name)]
    return sorted(usable, key=lambda name: (name != CATALOGUE[0].name, name))


def _whole(target: Path) -> bool:
    return model_archive.listed(target) and not model_archive.damage(target)


def find_model(folder: Path | None = None) -> Path:
    """The folder of the default model if it is installed, else of another one.

    Raises ``ModelError`` when there is none.
    """
    folder = folder or models_folder()
    for name in installed_names(folder):
        return folder / name
    for model in CATALOGUE:
        if model_archive.has_model(folder / model.name):
            raise ModelError(
                f"the Vosk model in {folder / model.name} is damaged: "
                f"sweepsay model install {model.name}"
            )
    raise ModelError("no Vosk model: sweepsay model install")


def in_catalogue(name: str | None) -> Model:
    """The model of this name, or the default; ``ModelError`` lists what there is."""
    for model in CATALOGUE:
        if name in (None, model.name):
            return model
    raise ModelError(
        f"there is no model {name}; choose one of: {', '.join(m.name for m in CATALOGUE)}"
    )


def half_finished(folder: Path, name: str) -> int:
    """Bytes of an unfinished download."""
    part = _part(folder, name)
    return part.stat().st_size if part.is_file() else 0


def recorded_sum(folder: Path, name: str) -> str | None:
    """The SHA-256 that an earlier installation noted, in the form of ``sha256sum``."""
    try:
        text = _note(folder, name).read_text(encoding="utf-8")
    except (FileNotFoundError, UnicodeDecodeError):
        return None
    found = re.match(r"([0-9a-f]{64})\s", text)
    return found[1] if found else None


def _part(folder: Path, name: str) -> Path:
    return folder / f"{name}.zip.part"


def _note(folder: Path, name: str) -> Path:
    return folder / f"{name}.zip.sha256"


def install(
    model: Model,
    folder: Path,
    progress: Progress,
    *,
    given: str | None = None,
    trial: Callable[[Path], None],
    patience: ServerPatience | None = None,
) -> Installed:
    """Download, check, unpack and try a model.

    ``given``: the SHA-256 that the person expects, 64 hexadecimal digits. ``trial`` loads
    the unpacked model and raises ``ModelError`` if it is unfit. One that is there whole is
    left as it is, a damaged one is replaced. Raises ``ModelError``, also when another program
    is installing it; what was downloaded stays for the next time, unless it is not what was
    expected.
    """
    if given is not None and not re.fullmatch(r"[0-9a-fA-F]{64}", given):
        raise ModelError(f"{given!r} is not a SHA-256: give its 64 hexadecimal digits")
    target = folder / model.name
    try:
        if _whole(target):
            return _already(model, folder, given)
        if target.exists() and not model_archive.has_model(target):
            raise ModelError(f"{target} is there and holds no model; move it away first")
        folder.mkdir(parents=True, exist_ok=True)
        with installing(folder, model.name):
            if _whole(target):
                return _already(model, folder, given)
            return _install(model, folder, progress, given, trial, patience or ServerPatience())
    except OSError as error:
        raise not_stored(Path(error.filename or folder), error) from error


def _install(
    model: Model, folder: Path, progress: Progress, given: str | None,
    trial: Callable[[Path], None], patience: ServerPatience,
) -> Installed:  # fmt: skip
    expected, checked = _expected(model, folder, given)
    target, part = folder / model.name, _part(folder, model.name)
    download(model.url, part, progress, patience)
    found = _sha256(part)
    if expected is not None and found != expected:
        forget(part)
        raise ModelError(_mismatch(model, found, expected, checked))
    _place(model.name, part, target, trial)
    _note_down(folder, model.name, found)
    forget(part)
    return Installed(target, found, checked, fresh=True)


def _expected(model: Model, folder: Path, given: str | None) -> tuple[str | None, Checked]:
    if given is not None:
        return given.lower(), "given"
    if model.sha256 is not None:
        return model.sha256.lower(), "known"
    recorded = recorded_sum(folder, model.name)
    return (recorded, "recorded") if recorded else (None, "unchecked")


def _already(model: Model, folder: Path, given: str | None) -> Installed:
    recorded = recorded_sum(folder, model.name)
    if given is not None and recorded != given.lower():
        raise ModelError(
            f"{model.name} is installed from an archive with SHA-256 {recorded or 'unknown'}, not "
            f"{given.lower()}; delete {folder / model.name} and run the command again"
        )
    return Installed(
        folder / model.name, recorded or "", "given" if given else "recorded", fresh=False
    )


def _mismatch(model: Model, found: str, expected: str, checked: Checked) -> str:
    remedy = "compare with what the publisher states and try again"
    if checked == "recorded":
        remedy = (
            "the earlier installation's differs; if the publisher has changed the file, "
            "give the new sum with --sha256"
        )
    return (
        f"{model.name}: the download has SHA-256 {found} instead of {expected} and was deleted; "
        f"{remedy}"
    )


def _sha256(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _place(name: str, part: Path, target: Path, trial: Callable[[Path], None]) -> None:
    """Unpack beside the target and rename: it is whole or not there."""
    scratch = target.with_name(f"{name}.unpacking")
    try:
        model_archive.unpack(part, scratch, name)
        trial(scratch)
        if target.exists():
            shutil.rmtree(target)
        os.replace(scratch, target)
    except ModelError as error:
        # A full disk may empty; a bad file stays bad.
        if not isinstance(error, NoRoom):
            forget(part)
        raise
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


def _note_down(folder: Path, name: str, found: str) -> None:
    fresh = folder / f"{name}.zip.sha256.new"
    fresh.write_text(f"{found}  {name}.zip\n", encoding="utf-8")
    os.replace(fresh, _note(folder, name))
