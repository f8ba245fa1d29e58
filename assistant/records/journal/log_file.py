"""SQLite's write-ahead log, frame by frame ("WAL-mode File Format", sections 4.1 to 4.3).

SQLite reads a log up to the first frame whose check sum is wrong, since that is where a power
cut would have torn it, and no further. What stands behind it was finished before, so that
there a bit has flipped: it can still be read here.
"""

import struct
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

_HEADER, _FRAME = 32, 24
_LITTLE, _BIG = 0x377F0682, 0x377F0683

MOST_FRAMES = 10_000
"""Logs are brought into the file every 1,000 pages; of a far longer one no sums are made."""


@dataclass(frozen=True, slots=True)
class LogFrame:
    """One page of a transaction; ``commits``: pages of the file after it, 0 within it."""

    page: int
    commits: int
    salts: bytes
    sums: tuple[int, int]
    head: bytes
    data: bytes


def _sums(order: str, data: bytes, begin: tuple[int, int]) -> tuple[int, int]:
    s0, s1 = begin
    words = struct.unpack(f"{order}{len(data) // 4}I", data)
    for first, second in zip(words[::2], words[1::2], strict=True):
        s0 = (s0 + first + s1) & 0xFFFFFFFF
        s1 = (s1 + second + s0) & 0xFFFFFFFF
    return s0, s1


def frames_of(log: Path) -> Iterator[LogFrame]:
    """Every whole frame in the file, whatever its check sum says."""
    with log.open("rb") as file:
        header = file.read(_HEADER)
        size = int.from_bytes(header[8:12], "big")
        if size not in {1 << power for power in range(9, 17)}:
            size = 4096
        while len(head := file.read(_FRAME)) == _FRAME and len(data := file.read(size)) == size:
            page, commits, *_, s0, s1 = struct.unpack(">6I", head)
            yield LogFrame(page, commits, head[8:16], (s0, s1), head[:8], data)


def hides_commits(log: Path) -> bool:
    """Whether finished transactions stand behind a frame that is damaged: SQLite reads none.

    What a transaction left that was not finished, by a kill or a full disk, may stand behind
    those that came after it, with the salts of the same time; but its last frame, which would
    say that it is finished, is then not whole.
    """
    with log.open("rb") as file:
        header = file.read(_HEADER)
    frames = frames_of(log)
    magic = int.from_bytes(header[:4], "big")
    order = ">" if magic == _BIG else "<"
    sums = _sums(order, header[:24], (0, 0)) if len(header) == _HEADER else (0, 0)
    if magic not in (_LITTLE, _BIG) or sums != struct.unpack(">2I", header[24:]):
        return next(frames, None) is not None
    salts, whole = header[16:24], True
    for count, frame in enumerate(frames):
        if count > MOST_FRAMES:
            return False
        # In a whole log these are the same: each sum goes on from the one before.
        follows = frame.salts == salts and frame.sums == _sums(order, frame.head + frame.data, sums)
        if not whole and follows and frame.commits:
            return True
        whole = whole and follows
        sums = frame.sums
    return False


def write_pages(log: Path, into: Path) -> None:
    """Put the pages of all finished transactions of the log's time into the file."""
    times = Counter(frame.salts for frame in frames_of(log))
    if not times:
        return
    salts = times.most_common(1)[0][0]
    waiting: list[LogFrame] = []
    with into.open("r+b") as file:
        for frame in frames_of(log):
            if frame.salts != salts:
                continue
            waiting.append(frame)
            if frame.commits:
                for each in waiting:
                    if 0 < each.page <= frame.commits:
                        file.seek((each.page - 1) * len(each.data))
                        file.write(each.data)
                waiting.clear()
