"""Where Vosk models are kept, and how one gets there: download, check, unpack.

A download that broke is taken up where it stopped; nothing is unpacked whose SHA-256 is not
the expected one; a model appears in its place whole or not at all.
"""

import hashlib
import os
import shutil
import urllib.error
import urllib.request
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import BinaryIO

import platformdirs

BLOCK = 1 << 16
STALL_S = 30.0
"""A server that sends nothing for this long is given up."""

TRIES = 4
"""Attempts at one download, each going on where the last one stopped."""

LARGEST_UNPACKED = 4 << 30
MOST_FILES = 10_000

Progress = Callable[[int, int | None], None]
"""Told the bytes that are there and how many there will be, if that is known."""


class ModelError(Exception):
    """A model cannot be installed or found; the text says why and what to do."""


@dataclass(frozen=True, slots=True)
class Model:
    """A model that can be downloaded: its folder's name, address and SHA-256."""

    name: str
    url: str
    sha256: str


CATALOGUE: tuple[Model, ...] = (
    Model(
        "vosk-model-small-en-us-0.15",
        "https://alphacephei.com/vosk/models/vosk-model-small-en-us-0.15.zip",
        # From memory. Should the publisher's file differ, the download is refused and the
        # message says how to name another sum.
        "30f26242c4eb449f948e42cb302dd7a686cb29a3423a8367f99ff41780942498",
    ),
)
"""The first is the default."""


def models_folder() -> Path:
    """Where models are kept for this person."""
    return platformdirs.user_data_path("sweepsay", appauthor=False) / "models"


def find_model(name: str | None = None, folder: Path | None = None) -> Path:
    """The folder of an installed model; without a name, the default or the only one.

    Raises ``ModelError`` when it is not there.
    """
    folder = folder or models_folder()
    if name is not None and (Path(name) / "am").is_dir():
        return Path(name)
    names = [name] if name else [CATALOGUE[0].name, *sorted(_installed(folder))]
    for wanted in names:
        if (folder / wanted / "am").is_dir():
            return folder / wanted
    raise ModelError(
        f"no Vosk model {name or ''} in {folder}; get one with: sweepsay model install".replace(
            "  ", " "
        )
    )


def _installed(folder: Path) -> list[str]:
    return [entry.name for entry in folder.iterdir()] if folder.is_dir() else []


def in_catalogue(name: str | None) -> Model:
    """The model of this name, or the default; ``ModelError`` lists what there is."""
    for model in CATALOGUE:
        if name in (None, model.name):
            return model
    raise ModelError(
        f"there is no model {name}; choose one of: {', '.join(m.name for m in CATALOGUE)}"
    )


def install(
    model: Model,
    folder: Path,
    progress: Progress | None = None,
    *,
    stall_s: float = STALL_S,
    tries: int = TRIES,
) -> Path:
    """Download, check and unpack a model; its folder is returned.

    One that is there already is left as it is. Raises ``ModelError``; what was downloaded
    stays, unless it is not what was expected, so that the next try goes on from there.
    """
    target = folder / model.name
    if target.is_dir():
        return target
    try:
        folder.mkdir(parents=True, exist_ok=True)
        archive = folder / f"{model.name}.zip.part"
        _download(model.url, archive, progress or _silent, stall_s, tries)
        found = _sha256(archive)
        if found != model.sha256.lower():
            archive.unlink()
            raise ModelError(
                f"{model.name}: the download has SHA-256 {found} instead of {model.sha256}; it was "
                "deleted. Try again later, or give its publisher's sum with --sha256"
            )
        _unpack(archive, target, model.name)
        archive.unlink()
    except OSError as error:
        raise ModelError(
            f"{model.name}: cannot be stored in {folder} ({error.strerror or error}); "
            "free some space or check the permissions, then run the command again"
        ) from error
    return target


def _silent(there: int, total: int | None) -> None:
    """Nobody watches."""


def _download(url: str, archive: Path, progress: Progress, stall_s: float, tries: int) -> None:
    reason = ""
    for _ in range(tries):
        there = archive.stat().st_size if archive.exists() else 0
        try:
            if _fetch(url, archive, there, progress, stall_s):
                return
            reason = "the connection closed early"
        except urllib.error.HTTPError as error:
            if error.code == 416 and there:
                archive.unlink()  # what is there is longer than the file: begin again
                reason = "the part that was there did not fit"
                continue
            reason = f"the server answers {error.code}"
            if error.code < 500:
                break
        except (urllib.error.URLError, TimeoutError, ConnectionError) as error:
            reason = str(getattr(error, "reason", error)) or "the server is silent"
    raise ModelError(
        f"{url}: {reason}; what was downloaded is kept, run the command again to go on"
    )


def _fetch(url: str, archive: Path, there: int, progress: Progress, stall_s: float) -> bool:
    """Fetch what is missing; tell whether all of it came."""
    request = urllib.request.Request(url)
    if there:
        request.add_header("Range", f"bytes={there}-")
    with urllib.request.urlopen(request, timeout=stall_s) as answer:
        resumed = answer.status == 206
        there = there if resumed else 0
        length = answer.headers.get("Content-Length")
        total = there + int(length) if length is not None and length.isdigit() else None
        with archive.open("ab" if resumed else "wb") as stream:
            while block := answer.read(BLOCK):
                stream.write(block)
                there += len(block)
                progress(there, total)
    return total is None or there >= total


def _sha256(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _unpack(archive: Path, target: Path, name: str) -> None:
    """Unpack beside the target, then rename: it is whole or not there."""
    scratch = target.with_name(f"{name}.unpacking")
    shutil.rmtree(scratch, ignore_errors=True)
    try:
        with zipfile.ZipFile(archive) as packed:
            _check(packed, name)
            for member in packed.infolist():
                inside = PurePosixPath(member.filename).parts[1:]
                if member.is_dir() or not inside:
                    continue
                path = scratch.joinpath(*inside)
                path.parent.mkdir(parents=True, exist_ok=True)
                with packed.open(member) as source, path.open("wb") as sink:
                    shutil.copyfileobj(source, sink)
                    _to_disk(sink)
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError) as error:
        raise ModelError(f"{name}: the archive cannot be unpacked ({error})") from error
    else:
        os.replace(scratch, target)
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


def _to_disk(stream: BinaryIO) -> None:
    stream.flush()
    os.fsync(stream.fileno())


def _check(packed: zipfile.ZipFile, name: str) -> None:
    """Refuse what would leave its folder, is a link, or is far too much."""
    members = packed.infolist()
    if len(members) > MOST_FILES or sum(m.file_size for m in members) > LARGEST_UNPACKED:
        raise ModelError(f"{name}: the archive is far larger than a model; it was not unpacked")
    for member in members:
        path = PurePosixPath(member.filename)
        outside = path.is_absolute() or ".." in path.parts or "\\" in member.filename
        link = (member.external_attr >> 16) & 0o170000 == 0o120000
        if outside or link or ":" in member.filename:
            raise ModelError(
                f"{name}: the archive names {member.filename!r}, outside its folder; "
                "it was not unpacked"
            )
