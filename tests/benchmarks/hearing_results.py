"""What was heard, kept line by line in a file, so that a benchmark that was stopped goes on.

A line is one recording in one condition by one engine. Its key holds everything that the
result depends on: the sound, the condition, whose talk babble is made of, what was listened
for, the engine and the version of its code and weights. What is out of date is not used.
"""

import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from assistant.devices.sound.files import RATE
from grammar.meaning import OffScale, Reading
from tests.benchmarks.hearing_clips import Clip, same
from tests.benchmarks.hearing_engines import Take, Taken


@dataclass(frozen=True, slots=True)
class Key:
    """What a result depends on; each a short text."""

    clip: str
    condition: str
    talkers: str
    offer: str
    engine: str
    version: str


@dataclass(frozen=True, slots=True)
class Made:
    """One thing that was made of a recording: accepted, or ``asked`` about.

    ``same``: it means what was said. ``off_dial``: it is taken for a number that the dial
    cannot show, and ``told``: turned down as that. ``sure``: see ``Taken``.
    """

    words: str
    asked: bool
    same: bool
    off_dial: bool = False
    told: bool = False
    sure: bool = True


@dataclass(frozen=True, slots=True)
class Result:
    """What one engine made of one recording; times in seconds, ``tone_s`` from its end."""

    made: tuple[Made, ...]
    cpu_s: float
    decode_s: tuple[float, ...]
    tone_s: tuple[float, ...]
    length_s: float


def result_of(clip: Clip, take: Take) -> Result:
    """A take, compared with what was said."""
    return Result(
        tuple(_made(clip, one) for one in take.taken),
        round(take.cpu_s, 4),
        tuple(round(each, 4) for each in take.decode_s),
        tuple(round(each - clip.end_s, 3) for each in take.ready_s) if clip.end_s else (),
        round(len(clip.sound) / RATE, 3),
    )


def _made(clip: Clip, one: Taken) -> Made:
    # An engine that has no such meaning may still ask about the number itself.
    asked_off = one.asked and isinstance(one.meaning, Reading) and not clip.shows(one.meaning)
    off_dial = asked_off or isinstance(one.meaning, OffScale)
    return Made(one.words, one.asked, same(one.meaning, clip.meaning), off_dial, one.told, one.sure)


class Results:
    """The file; ``find`` and ``keep``. A last line that was cut off is dropped."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._found: dict[Key, Result] = {}
        path.parent.mkdir(parents=True, exist_ok=True)
        data = path.read_bytes() if path.exists() else b""
        whole = data[: data.rfind(b"\n") + 1]
        if whole != data:
            path.write_bytes(whole)
        self._found.update(_read(whole.decode("utf-8"), path))

    def find(self, key: Key) -> Result | None:
        """What was heard before, if anything."""
        return self._found.get(key)

    def keep(self, key: Key, result: Result) -> None:
        """Remember this; it is in the file when this returns."""
        with self._path.open("a", encoding="utf-8") as stream:
            stream.write(json.dumps({**asdict(key), **asdict(result)}) + "\n")
        self._found[key] = result


def _read(text: str, path: Path) -> Iterator[tuple[Key, Result]]:
    for number, line in enumerate(text.splitlines(), start=1):
        try:
            told: dict[str, Any] = json.loads(line)
            key = Key(**{name: told[name] for name in Key.__slots__})
            yield key, Result(
                tuple(Made(**each) for each in told["made"]), told["cpu_s"],
                tuple(told["decode_s"]), tuple(told["tone_s"]), told["length_s"],
            )  # fmt: skip
        except (ValueError, KeyError, TypeError) as error:
            raise ValueError(f"line {number} of {path} is damaged: delete that file") from error
