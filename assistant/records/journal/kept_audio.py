"""Utterances kept as sound beside their job, for those who ask for it, and deleting them.

One FLAC file for each utterance that was taken or asked about; what was turned down is other
people's talk and never kept. Each file carries which event of which job it became.
"""

import io
import json
import re
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import soundfile

from assistant.dialogue.messages import Heard
from assistant.records.faults import RecordError, from_system
from assistant.records.names import check_job_id, one_line
from assistant.records.whole_files import replace_file

_ENDING = "-audio"
_FILE = re.compile(r"([0-9]{6,})\.flac")


@dataclass(frozen=True, slots=True)
class KeptUtterance:
    """What a file says of itself. ``event``: the number in the job, from 1."""

    job: str
    event: int
    at: str
    words: str
    outcome: str
    confidence: float
    seconds: float
    bytes: int


def folder_of(record: Path, job: str) -> Path:
    """Where the utterances of a job are; raises RecordError for a name that is none."""
    check_job_id(job)
    return record.with_name(job + _ENDING)


def keep(
    record: Path, job: str, number: int, heard: Heard, samples: npt.NDArray[np.int16], rate: int
) -> Path:
    """Keep the sound of one event; raises RecordError when the disk does not take it."""
    folder = folder_of(record, job)
    about = {
        "job": job, "event": number, "at": heard.at, "words": one_line(heard.words),
        "outcome": heard.outcome, "confidence": round(heard.confidence, 4),
    }  # fmt: skip
    out = io.BytesIO()
    with soundfile.SoundFile(
        out, "w", samplerate=rate, channels=1, subtype="PCM_16", format="FLAC"
    ) as file:
        file.title = f"job {job}, event {number}"
        file.comment = json.dumps(about)
        file.write(samples)
    try:
        # A voice is its owner's business.
        folder.mkdir(mode=0o700, exist_ok=True)
    except OSError as error:
        raise from_system(error, folder) from None
    path = folder / f"{number:06d}.flac"
    replace_file(path, out.getvalue())
    return path


def kept(record: Path, job: str | None = None) -> tuple[KeptUtterance, ...]:
    """The utterances of a job, or of all; a file that is none of ours is left out."""
    if job is not None:
        folders = [folder_of(record, job)]
    else:
        folders = sorted(record.parent.glob(f"*{_ENDING}"))
    found = []
    for folder in folders:
        name = folder.name.removesuffix(_ENDING)
        for path in _files(folder):
            about = _about(path, name)
            if about is not None:
                found.append(about)
    return tuple(found)


def delete(record: Path, job: str, event: int | None = None) -> int:
    """Delete a job's utterances, or that of one event; gives their number.

    Only files that were kept here are touched. Raises RecordError when there is none, or when
    one cannot be deleted.
    """
    folder = folder_of(record, job)
    files = [path for path in _files(folder) if event is None or _number(path) == event]
    if not files:
        raise RecordError(
            "no_job",
            f"no audio is kept of {_what(job, event)}: 'sweepsay job audio list' shows what is",
        )
    try:
        for path in files:
            path.unlink()
        if not any(folder.iterdir()):
            folder.rmdir()
    except OSError as error:
        raise from_system(error, folder) from None
    return len(files)


def _what(job: str, event: int | None) -> str:
    return f"job {job}" if event is None else f"event {event} of job {job}"


def _files(folder: Path) -> list[Path]:
    if not folder.is_dir():
        return []
    return sorted(path for path in folder.iterdir() if _FILE.fullmatch(path.name))


def _number(path: Path) -> int:
    return int(path.stem)


def _about(path: Path, job: str) -> KeptUtterance | None:
    try:
        with soundfile.SoundFile(path) as file:
            data = json.loads(file.comment)
            seconds = round(file.frames / file.samplerate, 3)
        if (data["job"], data["event"]) != (job, _number(path)):
            return None
        return KeptUtterance(
            job, _number(path), one_line(data["at"]), one_line(data["words"]),
            one_line(data["outcome"]), float(data["confidence"]), seconds, path.stat().st_size,
        )  # fmt: skip
    except (OSError, ValueError, KeyError, TypeError, soundfile.LibsndfileError):
        return None


def as_row(utterance: KeptUtterance) -> dict[str, str | int | float]:
    """One utterance for `--json`."""
    return asdict(utterance)
