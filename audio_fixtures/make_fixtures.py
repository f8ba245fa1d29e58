"""Makes the recordings and ``manifest.json`` of this folder from free voices.

    python -m audio_fixtures.make_fixtures [--voice rms] [--out FOLDER]

It needs the program flite with its voices (Debian: ``apt-get install flite``). What is
said stands in ``script``, by whom in ``voices``, with the notice that goes with them. Each
file holds many whole utterances, each between quiet of 0.4 s or more at its own side, so
that two are never closer than 0.8 s; the quiet is a faint room noise and not digital zero.
All is 16 kHz, mono, 16 bit, FLAC.

``manifest.json``, schema 1::

    {"schema": 1, "rate": 16000, "notice": LICENCE TEXT OF THE VOICES,
     "voices": {NAME: {"speaker", "engine", "attribution"}},
     "files": {FILE: {"sha256", "voice", "seconds", "hear": OPTIONS or null}},
     "utterances": [{"file", "voice", "start_s", "end_s", "said",
                     "kind": "reading" | "command" | "answer",
                     "station", "value", "unit", "command", "place", "correction",
                     "words": [[WORD, START_S, END_S], ...]}, ...]}

``hear``: the options of the command ``hear`` at which every sentence of the file is
offered (``{"unit": "thou", "range": 30}``), or null for answers to a single question,
which that command does not listen for. ``station``, ``value``, ``unit``, ``command`` and
``place`` are what ``hear`` should say: ``value`` a decimal string in ``unit``, with a sign
when one was said. Times are in seconds from the beginning of the file; a word's times are
the engine's own phone boundaries.
"""

import argparse
import hashlib
import io
import json
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import soundfile

from audio_fixtures.script import Part, parts
from audio_fixtures.voices import ATTRIBUTION, ENGINE, NOTICE, VOICES, Voice
from grammar.meaning import Command, OffScale, Reading, Shim, Side, Sign, Size, Unclear, Wish
from grammar.parse import parse
from grammar.scale import Scale

RATE = 16_000
QUIET_S = 0.41
"""Room noise at either side of an utterance."""
ROOM_RMS = 10.0
"""Of the room noise, in 16-bit steps: 70 dB below full scale, 44 dB below the speech."""
STEP = 16
"""Samples are multiples of this: 12 bits are enough above that noise, at half the size."""
SPEECH_RMS = 0.05 * 32767
"""Of an utterance from its first to its last word, in 16-bit steps."""

LEXICON = "thou : th aw1\nthouzenth : th aw1 z ax0 n d th\n"
"""Words that the engine would say otherwise than a shop does."""
SPELLED = {"thousandth": "thouzenth"}
"""Words that the engine reads letter by letter, and what it is given for them."""
ALSO: dict[str, tuple[tuple[str, ...], ...]] = {"a": (("ax",),)}
"""Pronunciations inside a sentence other than those of the word by itself."""


class FixtureError(RuntimeError):
    """The recordings cannot be made; the text says what to do."""


@dataclass(frozen=True, slots=True)
class Spoken:
    """One utterance as the engine gave it: samples, and each word's bounds in seconds."""

    samples: npt.NDArray[np.int16]
    words: tuple[tuple[str, float, float], ...]


class Flite:
    """The engine as a command; every call is one sentence."""

    def __init__(self, voice: Voice) -> None:
        program = shutil.which("flite")
        if program is None:
            raise FixtureError("flite is not installed: apt-get install flite, then try again")
        self._voice = voice
        self._program = program
        self._phones: dict[str, tuple[str, ...]] = {}

    def speak(self, sentence: str) -> Spoken:
        """Samples and word bounds of one sentence."""
        with tempfile.TemporaryDirectory() as folder:
            wav = Path(folder) / "said.wav"
            printed = self._run(folder, sentence, str(wav), "-psdur")
            samples, rate = soundfile.read(wav, dtype="int16")
        if rate != RATE:
            raise FixtureError(f"voice {self._voice.name} speaks at {rate} Hz: use one of 16000 Hz")
        phones = [(name, float(end)) for name, end in re.findall(r"(\S+?):([\d.]+)", printed)]
        return Spoken(samples, tuple(self._words(sentence.split(), phones)))

    def _run(self, folder: str, text: str, out: str, *options: str) -> str:
        lexicon = Path(folder) / "lexicon.txt"
        lexicon.write_text(LEXICON, encoding="utf-8")
        stretch = f"duration_stretch={self._voice.stretch}"
        given = " ".join(SPELLED.get(word, word) for word in text.split())
        voice = ["-voice", self._voice.name, "-add_lex", str(lexicon), "--setf", stretch]
        done = subprocess.run(
            [self._program, *voice, *options, "-t", given, "-o", out],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        if done.returncode != 0:
            reason = done.stderr.strip().splitlines()[-1:] or ["no message"]
            raise FixtureError(f"flite could not say '{text}' as {self._voice.name}: {reason[0]}")
        return done.stdout

    def _alone(self, word: str) -> tuple[str, ...]:
        """The sounds of a word by itself."""
        if word not in self._phones:
            with tempfile.TemporaryDirectory() as folder:
                printed = self._run(folder, word, str(Path(folder) / "word.wav"), "-ps")
            self._phones[word] = tuple(name for name in printed.split() if name != "pau")
        return self._phones[word]

    def _words(
        self, words: Sequence[str], phones: Sequence[tuple[str, float]]
    ) -> Iterator[tuple[str, float, float]]:
        """Share the sounds of a sentence out among its words."""
        at = 0
        for word in words:
            while at < len(phones) and phones[at][0] == "pau":
                at += 1
            names = tuple(name for name, _ in phones[at:])
            for said in (self._alone(word), *ALSO.get(word, ())):
                if names[: len(said)] == said:
                    start = phones[at - 1][1] if at else 0.0
                    at += len(said)
                    yield word, start, phones[at - 1][1]
                    break
            else:
                raise FixtureError(
                    f"'{word}' of '{' '.join(words)}' is said as {names[:8]}, by itself as "
                    f"{self._alone(word)}: add that to ALSO"
                )
        if any(name != "pau" for name, _ in phones[at:]):
            raise FixtureError(f"sounds are left over after '{' '.join(words)}'")


def record(engine: Flite, part: Part, seed: int) -> tuple[npt.NDArray[np.int16], list[Any]]:
    """All sentences of a part one after the other, and each one's row without its file."""
    chance = np.random.default_rng(seed)
    pieces: list[npt.NDArray[np.float64]] = []
    rows: list[Any] = []
    done = 0
    quiet = round(QUIET_S * RATE)
    for sentence in part.sentences:
        spoken = engine.speak(sentence)
        begin = round(spoken.words[0][1] * RATE)
        end = min(round(spoken.words[-1][2] * RATE) + RATE // 100, len(spoken.samples))
        speech = spoken.samples[begin:end].astype(np.float64)
        speech *= SPEECH_RMS / np.sqrt(np.mean(speech**2))
        speech *= _edges(len(speech))
        pieces += [np.zeros(quiet), speech, np.zeros(quiet)]
        start = (done + quiet) / RATE
        shift = start - begin / RATE
        rows.append(
            {
                "start_s": round(start, 4),
                "end_s": round(start + len(speech) / RATE, 4),
                "said": sentence,
                **expected(sentence, part),
                "words": [
                    [w, round(a + shift, 4), round(b + shift, 4)] for w, a, b in spoken.words
                ],
            }
        )
        done += len(speech) + 2 * quiet
    signal = np.concatenate(pieces)
    signal += chance.normal(0.0, ROOM_RMS, len(signal))
    return (np.clip(np.rint(signal / STEP), -2048, 2047) * STEP).astype(np.int16), rows


def _edges(count: int) -> npt.NDArray[np.float64]:
    """In and out within 5 ms, so that no utterance begins with a click."""
    gain = np.ones(count)
    ramp = np.linspace(0.0, 1.0, RATE // 200)
    gain[: len(ramp)] = ramp
    gain[-len(ramp) :] = ramp[::-1]
    return gain


def expected(sentence: str, part: Part) -> dict[str, Any]:
    """What the sentence means, in the words of the command ``hear``."""
    meaning = parse(sentence, part.scale)
    row: dict[str, Any] = dict.fromkeys(("station", "value", "unit", "command", "place"))
    row |= {"kind": "answer", "correction": False}
    match meaning:
        case Reading(value=value, signed=signed, station=station, correction=correction):
            number = _value(value, part.scale)
            sign = "+" if signed and value > 0 else ""
            row |= {"kind": "reading", "station": station, "value": f"{sign}{number}"}
            row |= {"unit": part.scale.system, "correction": correction}
        case Command(name=name):
            row |= {"kind": "command", "command": name}
        case Shim(total=total, place=place):
            row |= {"kind": "command", "command": "shim", "place": place}
            row |= {"value": _value(total, part.scale), "unit": part.scale.system}
        case Sign(name=name):
            row["command"] = name
        case Size(value=value, unit=unit):
            row |= {"value": _plain(value), "unit": unit}
        case Side(station=station):
            row["station"] = station
        case OffScale() | Wish() | Unclear():
            raise FixtureError(f"'{sentence}' means nothing: it is not a sentence of the grammar")
    return row


def _value(counts: Decimal, scale: Scale) -> str:
    return _plain(counts if scale.system == "thou" else counts / 100)


def _plain(value: Decimal) -> str:
    return format(value.normalize(), "f") if value else "0"


def make(out: Path, voices: Sequence[str] = tuple(VOICES)) -> dict[str, Any]:
    """Write the files of these voices below ``out`` and return their manifest."""
    manifest: dict[str, Any] = {"schema": 1, "rate": RATE, "notice": NOTICE}
    manifest |= {"voices": {}, "files": {}}
    utterances: list[Any] = []
    for voice in voices:
        engine = Flite(VOICES[voice])
        manifest["voices"][voice] = {
            "speaker": VOICES[voice].speaker,
            "engine": ENGINE,
            "attribution": ATTRIBUTION,
        }
        for index, part in enumerate(parts()):
            name = f"{part.folder}/{voice}.flac" if part.folder else f"{voice}_{part.name}.flac"
            signal, rows = record(engine, part, seed=index)
            data = io.BytesIO()
            soundfile.write(
                data, signal, RATE, format="FLAC", subtype="PCM_16", compression_level=1.0
            )
            path = out / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data.getvalue())
            reach = {"unit": part.scale.system, "range": part.scale.reach}
            manifest["files"][name] = {
                "sha256": hashlib.sha256(data.getvalue()).hexdigest(),
                "voice": voice,
                "seconds": round(len(signal) / RATE, 3),
                "hear": reach if part.heard else None,
            }
            utterances += [{"file": name, "voice": voice, **row} for row in rows]
    return manifest | {"utterances": utterances}


def manifest_text(manifest: dict[str, Any]) -> str:
    """The manifest with one utterance on each line, so that a change can be read."""
    head = {key: value for key, value in manifest.items() if key != "utterances"}
    lines = ",\n".join(json.dumps(row) for row in manifest["utterances"])
    return f'{json.dumps(head, indent=1)[:-2]},\n "utterances": [\n{lines}\n ]\n}}\n'


def main(arguments: Sequence[str] | None = None) -> int:
    """Make the recordings; 1 with a message when that cannot be done."""
    parser = argparse.ArgumentParser(description="Make the recordings of this folder.")
    parser.add_argument("--voice", action="append", choices=list(VOICES), help="default: all")
    parser.add_argument("--out", type=Path, default=Path(__file__).parent)
    chosen = parser.parse_args(arguments)
    try:
        manifest = make(chosen.out, chosen.voice or tuple(VOICES))
    except FixtureError as error:
        sys.stderr.write(f"{error}\n")
        return 1
    text = manifest_text(manifest)
    (chosen.out / "manifest.json").write_text(text, encoding="utf-8")
    sizes = sum((chosen.out / name).stat().st_size for name in manifest["files"])
    sys.stdout.write(f"{len(manifest['utterances'])} utterances, {sizes / 1e6:.1f} MB\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
