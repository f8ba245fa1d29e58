"""Recordings to judge ears by: the repository's own, a folder's, and people reading prose."""

import hashlib
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np

from assistant.devices.sound.files import RATE, Samples
from assistant.simulation.noise import NoiseKind, Signal, from_int16, mix, noise, to_int16
from grammar.meaning import Meaning, Reading, Shim, Unclear
from grammar.offer import everything
from grammar.parse import parse
from grammar.scale import Scale, System
from tests.recordings import read_all

FIXTURES = Path(__file__).parents[2] / "audio_fixtures"
TESTDATA = Path("/usr/share/pocketsphinx/test/data")
"""Where Debian's pocketsphinx-testdata puts human recordings (BSD licence)."""

AROUND_S = 0.6
"""Room kept before and after an utterance that is cut out of a longer recording."""


@dataclass(frozen=True, slots=True)
class Clip:
    """A recording: what was said (its meaning Unclear when it is talk), from when to when.

    ``voice``: whose, empty if that is not known. ``synthetic``: nobody's, but a program's.
    ``sort``: which sort of recording, as its folder calls it. ``name``: the same for the same
    sound, wherever it lies.
    """

    sound: Signal
    scale: Scale
    meaning: Meaning
    end_s: float | None
    start_s: float | None = None
    said: str = ""
    voice: str = ""
    synthetic: bool = False
    sort: str = ""
    name: str = field(init=False, default="")

    def __post_init__(self) -> None:
        samples = np.round(self.sound * 32767).astype("<i2")
        object.__setattr__(self, "name", hashlib.sha256(samples.tobytes()).hexdigest()[:16])

    @property
    def is_talk(self) -> bool:
        """Whether it is not for us."""
        return isinstance(self.meaning, Unclear)

    @property
    def is_off_dial(self) -> bool:
        """Whether it is a number that the dial cannot show: finer than it, or beyond it."""
        return isinstance(self.meaning, Reading) and not self.shows(self.meaning)

    def shows(self, called: Reading) -> bool:
        """Whether the dial can show this number."""
        return everything(self.scale).allows(called)


def clips_of(folder: Path | None, reach: int | None = None) -> Iterator[Clip]:
    """Every clip of a folder, or of the repository when there is none.

    A folder has a ``manifest.jsonl`` whose lines hold ``file``, ``said``, ``kind`` (``talk``
    for what is not for us), for metric ones ``"system": "mm"``, the dial's ``range`` and
    ``step`` in counts if they are not the usual ones, where the voice begins and ends
    (``start_s``, ``end_s``), whose it is (``voice``) and whether it is ``synthetic``, if known.
    ``reach``: the dial's range where a line gives none. Raises ``OSError``, ``ValueError``,
    ``KeyError`` and ``SoundFileError`` for a folder that is not like that.
    """
    if folder is None:
        yield from _of_the_repository()
        return
    lines = (folder / "manifest.jsonl").read_text(encoding="utf-8").splitlines()
    for text in lines:
        told: dict[str, Any] = json.loads(text)
        system: System = told.get("system") or "thou"
        usual = Scale(system)
        step = Decimal(str(told.get("step") or usual.step))
        scale = Scale(system, told.get("range") or reach or usual.reach, step)
        talk = told["kind"] == "talk"
        meaning = Unclear(told["said"]) if talk else parse(told["said"], scale)
        sound = from_int16(read_all(folder / told["file"]))
        yield Clip(
            sound, scale, meaning, told.get("end_s"), told.get("start_s"), told["said"],
            told.get("voice") or "", bool(told.get("synthetic")),
            told.get("class") or told.get("made") or "",
        )  # fmt: skip


def _of_the_repository() -> Iterator[Clip]:
    manifest = json.loads((FIXTURES / "manifest.json").read_text(encoding="utf-8"))
    for name, about in manifest["files"].items():
        if about["hear"] is None:
            continue
        whole = from_int16(read_all(FIXTURES / name))
        scale = Scale(about["hear"]["unit"], about["hear"]["range"])
        for row in manifest["utterances"]:
            meaning = parse(row["said"], scale)
            if row["file"] == name and everything(scale).allows(meaning):
                first = max(0, round((row["start_s"] - AROUND_S) * RATE))
                sound = whole[first : round((row["end_s"] + AROUND_S) * RATE)]
                begin = first / RATE
                yield Clip(
                    sound, scale, meaning, row["end_s"] - begin, row["start_s"] - begin,
                    row["said"], row["voice"], synthetic=True,
                )  # fmt: skip


FOLDS = 5
"""Parts that speakers are split in, by their names."""


def fold_of(voice: str) -> int:
    """Which fifth of the speakers this one belongs to."""
    return hashlib.sha256(voice.encode()).digest()[0] % FOLDS


def is_kept_out(clip: Clip) -> bool:
    """Tell whether it is of a person whom no fit may hear: the first fifth of them."""
    return not clip.synthetic and bool(clip.voice) and fold_of(clip.voice) == 0


def in_noise(
    sound: Signal, kind: NoiseKind | None, ratio_db: float, number: int, talkers: Sequence[Signal]
) -> Samples:
    """A recording's samples in this noise, or as they are without; its number says which."""
    if kind is not None:
        chance = np.random.default_rng([number, round(ratio_db)])
        sound = mix(sound, noise(kind, len(sound), chance, talkers), ratio_db)
    return to_int16(sound)


PROSE = (
    *(f"librivox/sense_and_sensibility_01_austen_64kb-0{n}.wav" for n in (870, 880, 890, 920, 930)),
    *(f"cards/00{n}.wav" for n in (1, 2, 3, 5)),
    "goforward.raw",
    "something.raw",
)
"""Read prose, playing cards and commands to a robot; the fourth card list is digits alone."""


def prose() -> list[Clip]:
    """People saying what is not for us; empty when Debian's package is not installed."""
    return [
        Clip(from_int16(_samples(TESTDATA / name)), Scale(), Unclear(""), None, None, name)
        for name in PROSE
        if (TESTDATA / name).is_file()
    ]


def _samples(path: Path) -> Samples:
    # The raw ones are 16 kHz, one channel, 16 bit, little-endian.
    if path.suffix == ".raw":
        return np.fromfile(path, "<i2").astype(np.int16)
    return read_all(path)


def noises() -> list[Clip]:
    """What nobody said: motors, taps, fans, hum and clicks, some of it as loud as speech."""
    found = []
    for number in range(40):
        chance = np.random.default_rng(number)
        kind = ("motor", "taps", "fan", "white")[number % 4]
        length = int(RATE * chance.uniform(1.5, 4.0))
        sound = noise(kind, length, chance)  # type: ignore[arg-type]
        began, ended = sorted(chance.integers(0, length, 2))
        gate = np.full(length, 0.02)
        gate[began:ended] = 1.0
        level = chance.uniform(0.01, 0.2) / max(1e-9, float(np.sqrt(np.mean(sound**2))))
        found.append(
            Clip(sound * gate * level, Scale(), Unclear(""), None, voice=f"noise {number}")
        )
    return found


def same(one: Meaning, other: Meaning) -> bool:
    """Tell whether two meanings do the same; how a unit was named does not matter."""
    match one, other:
        case Reading(), Reading():
            return (one.value, one.signed, one.station, one.correction) == (
                other.value, other.signed, other.station, other.correction,
            )  # fmt: skip
        case Shim(), Shim():
            return one == other
        case _:
            return one == other and not isinstance(one, Unclear)
