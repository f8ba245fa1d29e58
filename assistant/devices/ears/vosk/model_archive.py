"""A model's archive to its folder: all of it or nothing, and never outside that folder.

Beside the files goes a list of their sizes: the recogniser's library ends the whole process
when a file was cut short, so that is looked at before it is loaded.
"""

import json
import os
import shutil
import struct
import zipfile
import zlib
from pathlib import Path, PurePosixPath

from assistant.devices.ears.model_faults import ModelError
from assistant.devices.ears.vosk.model_download import check_room

LARGEST_UNPACKED = 6 << 30
MOST_FILES = 10_000

MOST_EXPANDED = 20
"""Times the archive's own size; those of models come to about twice. Deflate can do a thousand
times (RFC 1951), and members that overlap any number."""

NEEDED = "am/final.mdl"
"""A file that every model has."""

SIZES = "sweepsay-sizes.json"

_DAMAGED: tuple[type[Exception], ...] = (
    zipfile.BadZipFile, zlib.error, struct.error, EOFError, NotImplementedError, RuntimeError,
    ValueError, OverflowError,
)  # fmt: skip
try:
    import lzma
except ImportError:
    # Python was built without it, and zipfile says so of such a member.
    pass
else:
    _DAMAGED += (lzma.LZMAError,)


def unpack(archive: Path, scratch: Path, name: str) -> None:
    """Unpack into ``scratch``, which is made for it; the caller moves it to its place.

    Raises ``ModelError`` for an archive that is damaged, hostile or no model, ``OSError``
    for a disk that does not take it.
    """
    shutil.rmtree(scratch, ignore_errors=True)
    try:
        with zipfile.ZipFile(archive) as packed:
            files = _checked(packed, name, archive.stat().st_size)
            check_room(scratch.parent, sum(member.file_size for member in files))
            for member in files:
                path = scratch.joinpath(*PurePosixPath(member.filename).parts[1:])
                path.parent.mkdir(parents=True, exist_ok=True)
                with packed.open(member) as source, path.open("xb") as sink:
                    shutil.copyfileobj(source, sink)
                    sink.flush()
                    os.fsync(sink.fileno())
    except _DAMAGED as error:
        raise _damaged(name, error) from error
    except OSError as error:
        if error.errno is None:
            # The bzip2 module says so; the system always has a number.
            raise _damaged(name, error) from error
        raise
    sizes = {path.relative_to(scratch).as_posix(): path.stat().st_size for path in _files(scratch)}
    (scratch / SIZES).write_text(json.dumps(sizes, indent=1), encoding="utf-8")


def _damaged(name: str, error: Exception) -> ModelError:
    return ModelError(f"{name}: the archive is damaged ({error}); it was not unpacked")


def _files(folder: Path) -> list[Path]:
    return sorted(path for path in folder.rglob("*") if path.is_file() and path.name != SIZES)


def has_model(folder: Path) -> bool:
    """Tell whether a model was put here, damaged or not."""
    return (folder / NEEDED).is_file() or (folder / SIZES).is_file()


def listed(folder: Path) -> bool:
    """Tell whether the sizes of this model's files are known."""
    return (folder / SIZES).is_file()


def damage(folder: Path) -> str:
    """The first file of a listed model that is missing or has another size; empty if none."""
    try:
        sizes = json.loads((folder / SIZES).read_text(encoding="utf-8"))
        wanted = {str(name): int(size) for name, size in sizes.items()}
    except (OSError, ValueError, TypeError, AttributeError):
        return SIZES
    for name, size in wanted.items():
        path = folder / name
        if not path.is_file() or path.stat().st_size != size:
            return name
    return "" if NEEDED in wanted else NEEDED


def _checked(packed: zipfile.ZipFile, name: str, size: int) -> list[zipfile.ZipInfo]:
    """The files of the archive; refuses what would leave its folder, links, and far too much."""
    members = packed.infolist()
    most = min(LARGEST_UNPACKED, MOST_EXPANDED * size)
    if len(members) > MOST_FILES or sum(m.file_size for m in members) > most:
        raise ModelError(f"{name}: the archive is far larger than a model; it was not unpacked")
    for member in members:
        path = PurePosixPath(member.filename)
        outside = path.is_absolute() or ".." in path.parts or "\\" in member.filename
        kind = (member.external_attr >> 16) & 0o170000
        # 0: made by a program that notes no kind; otherwise folder or plain file.
        if outside or ":" in member.filename or kind not in (0, 0o040000, 0o100000):
            raise ModelError(
                f"{name}: the archive names {member.filename!r}, a link or outside its folder; "
                "it was not unpacked"
            )
    files = [member for member in members if not member.is_dir()]
    inside = [PurePosixPath(member.filename).parts for member in files]
    tops = {parts[0] for parts in inside}
    names = ["/".join(parts[1:]) for parts in inside]
    if len(tops) != 1 or NEEDED not in names or "" in names or len(set(names)) < len(names):
        raise ModelError(f"{name}: the archive holds no Vosk model; it was not unpacked")
    return files
