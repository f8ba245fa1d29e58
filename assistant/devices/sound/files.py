"""Sound files to what the recognisers take: 16 kHz, one channel, 16-bit samples.

Only reading belongs here. Any container that libsndfile knows, any rate and channel count
are accepted; a file that cannot be trusted is refused with one line that says what to do.
"""

import struct
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

import numpy as np
import numpy.typing as npt
import soundfile
import soxr  # type: ignore[import-untyped]

RATE = 16_000
"""Samples per second of everything that is listened to."""

Samples = npt.NDArray[np.int16]

LOWEST_RATE = 8_000
HIGHEST_RATE = 768_000
MOST_CHANNELS = 64
LONGEST_S = 4 * 3600
"""Longer recordings are refused: they are a mistake, or should be cut up first."""

LOUDEST = 16.0
"""Times full scale. Programs that keep whole numbers as floats go to 32,768, and are refused:
what their full scale is cannot be known."""

SILENT = 1
"""The largest sample of silence that no microphone heard."""

KEPT_SILENCE_S = 30.0
"""So much of a silence is listened to: whatever was said before it is long over by then."""

_BLOCK_S = 1.0
_UNKNOWN_LENGTH = 0x7FFF_0000
"""Programs that write to a pipe put a length of about 2 or 4 GiB into a WAV header."""


class SoundFileError(Exception):
    """A sound file that cannot be used; the text says which, why and what to do."""


def read_blocks(path: str | Path) -> Iterator[Samples]:
    """The file as blocks of about one second of 16 kHz mono int16 samples.

    Channels are averaged. Raises ``SoundFileError`` for a file that is missing, empty, cut
    off, not sound, or beyond the limits above; a cut-off compressed file only when reading
    reaches the cut.
    """
    path = Path(path)
    _look_at(path)
    if path.suffix.lower() == ".raw":
        # To libsndfile the ending says that there is no header, whatever is in it.
        raise SoundFileError(
            f"{path}: a .raw file does not say how it was recorded; save it as WAV or FLAC"
        )
    try:
        with soundfile.SoundFile(path) as sound:
            _check_format(path, sound)
            yield from _resampled(path, sound)
    except soundfile.LibsndfileError as error:
        raise SoundFileError(
            f"{path}: not a sound file that can be read ({error.error_string.strip('. ')}); "
            "give a WAV or FLAC recording"
        ) from error


def without_long_silence(blocks: Iterator[Samples]) -> Iterator[tuple[float, Samples]]:
    """The blocks with the seconds that were left out before each.

    Of digital silence only the first ``KEPT_SILENCE_S`` come: hours of it, as a recorder leaves
    that was muted, would be listened to for nothing.
    """
    silent = left_out = 0
    for block in blocks:
        quiet = int(np.max(block)) <= SILENT and int(np.min(block)) >= -SILENT
        silent = silent + len(block) if quiet else 0
        if silent > KEPT_SILENCE_S * RATE:
            left_out += len(block)
        else:
            yield left_out / RATE, block


def _look_at(path: Path) -> None:
    try:
        if path.is_dir():
            raise SoundFileError(f"{path}: is a folder; give the recordings inside it")
        size = path.stat().st_size
        if not path.is_file():
            # To open a pipe may wait for ever, and its length is not known.
            raise SoundFileError(f"{path}: it is a pipe or a device; save it as a file first")
        with path.open("rb") as stream:
            head = stream.read(12)
            if head[:4] == b"RIFF" and head[8:] == b"WAVE":
                missing = _missing_bytes(stream, size)
                if missing:
                    raise SoundFileError(
                        f"{path}: cut off, {missing} bytes are missing at its end; "
                        "copy or record it again"
                    )
    except FileNotFoundError as error:
        raise SoundFileError(f"{path}: no such file; check the name") from error
    except OSError as error:
        raise SoundFileError(f"{path}: cannot be opened ({error.strerror})") from error
    if size == 0:
        raise SoundFileError(f"{path}: empty file; record it again")


def _missing_bytes(stream: BinaryIO, size: int) -> int:
    """How many bytes of the sample data a WAV header promises that are not there.

    libsndfile quietly reads what is left of a cut-off WAV, so the chunks are walked here.
    """
    position = 12
    while True:
        stream.seek(position)
        header = stream.read(8)
        if len(header) < 8:
            return 0
        name, length = struct.unpack("<4sI", header)
        if name == b"data":
            end = position + 8 + int(length)
            return 0 if length >= _UNKNOWN_LENGTH else max(0, end - size)
        position += 8 + length + (length & 1)


def _check_format(path: Path, sound: soundfile.SoundFile) -> None:
    rate, channels = int(sound.samplerate), int(sound.channels)
    if not LOWEST_RATE <= rate <= HIGHEST_RATE:
        raise SoundFileError(
            f"{path}: {rate} samples per second; use {LOWEST_RATE} to {HIGHEST_RATE}, "
            f"best {RATE} or more"
        )
    if channels > MOST_CHANNELS:
        raise SoundFileError(f"{path}: {channels} channels; use at most {MOST_CHANNELS}")
    if sound.frames > LONGEST_S * rate and sound.frames < 2**62:
        hours = sound.frames / rate / 3600
        raise SoundFileError(
            f"{path}: {hours:.1f} hours long; cut it into pieces of at most "
            f"{LONGEST_S // 3600} hours"
        )


def _resampled(path: Path, sound: soundfile.SoundFile) -> Iterator[Samples]:
    rate = int(sound.samplerate)
    stream = soxr.ResampleStream(rate, RATE, 1, dtype="float32") if rate != RATE else None
    size = max(1, round(_BLOCK_S * rate))
    total = 0
    while True:
        block = sound.read(size, dtype="float32", always_2d=True)
        total += len(block)
        if total > LONGEST_S * rate:
            raise SoundFileError(f"{path}: longer than {LONGEST_S // 3600} hours; cut it up")
        last = len(block) < size
        if not np.isfinite(block).all():
            raise SoundFileError(
                f"{path}: holds samples that are not numbers; save it again as 16-bit WAV"
            )
        loudest = float(np.max(np.abs(block), initial=0.0))
        if loudest > LOUDEST:
            raise SoundFileError(
                f"{path}: its samples go to {loudest:.3g} times full scale; save it again as "
                "16-bit WAV, or with floats from -1 to 1"
            )
        mono = block.mean(axis=1)
        if stream is not None:
            mono = stream.resample_chunk(mono, last=last)
        if len(mono):
            yield np.clip(np.rint(mono * 32768.0), -32768, 32767).astype(np.int16)
        if last:
            break
    if total == 0:
        raise SoundFileError(f"{path}: holds no samples; record it again")
    if total < sound.frames < 2**62:
        raise SoundFileError(
            f"{path}: cut off, {sound.frames - total} of {sound.frames} samples are missing; "
            "copy or record it again"
        )
