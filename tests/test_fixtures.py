"""The recordings are what their manifest says, and enough to say the whole language."""

import hashlib
import json
import shutil
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import soundfile

from assistant.simulation.speech import RATE, NotRecorded, SpeechBank, voices
from audio_fixtures.make_fixtures import FixtureError, Flite, expected, manifest_text, record
from audio_fixtures.script import Part, parts
from audio_fixtures.voices import NOTICE, VOICES
from grammar.numerals import number_words, whole_words
from grammar.offer import Offer, everything
from grammar.sentences import sentences
from grammar.vocabulary import STATIONS, TABLE
from tests.grammar.languages import accepts

FOLDER = Path(__file__).parent.parent / "audio_fixtures"
MANIFEST: dict[str, Any] = json.loads((FOLDER / "manifest.json").read_text(encoding="utf-8"))
FILES: dict[str, Any] = MANIFEST["files"]
PARTS = {part.name: part for part in parts()}


def part_of(file: str) -> Part:
    """The part of the script that a file holds: ``rms_calls.flac`` or ``wide/rms.flac``."""
    folder, _, name = file.rpartition("/")
    return PARTS[folder or name.removesuffix(".flac").split("_")[1]]


@cache
def signal_of(file: str) -> npt.NDArray[np.int16]:
    signal, rate = soundfile.read(FOLDER / file, dtype="int16")
    assert rate == RATE == MANIFEST["rate"]
    return np.asarray(signal, dtype=np.int16)


@cache
def bank(voice: str) -> SpeechBank:
    return SpeechBank(voice)


def test_the_files_are_those_of_the_manifest() -> None:
    found = {str(path.relative_to(FOLDER)) for path in FOLDER.rglob("*.flac")}
    assert found == set(FILES)
    for name, row in FILES.items():
        assert hashlib.sha256((FOLDER / name).read_bytes()).hexdigest() == row["sha256"], name
        assert signal_of(name).ndim == 1
        assert len(signal_of(name)) / RATE == pytest.approx(row["seconds"], abs=0.001)


def test_they_are_small_enough_to_be_kept_with_the_source() -> None:
    assert sum((FOLDER / name).stat().st_size for name in FILES) <= 12_000_000


def test_each_voice_carries_its_notice() -> None:
    assert MANIFEST["notice"] == NOTICE
    for voice in voices():
        assert MANIFEST["voices"][voice]["attribution"]
    assert set(voices()) == set(VOICES)


@pytest.mark.parametrize("file", FILES)
def test_a_file_says_its_part_of_the_script(file: str) -> None:
    part = part_of(file)
    said = [row for row in MANIFEST["utterances"] if row["file"] == file]
    assert [row["said"] for row in said] == list(part.sentences)
    for row in said:
        assert {key: row[key] for key in expected(row["said"], part)} == expected(row["said"], part)
        assert [word for word, _, _ in row["words"]] == row["said"].split()


@pytest.mark.parametrize("part", parts(), ids=lambda part: part.name)
def test_every_sentence_belongs_to_the_language(part: Part) -> None:
    offer = everything(part.scale) if part.heard else Offer(part.scale, signs=True, sizes=40)
    tree = sentences(offer)
    assert [said for said in part.sentences if not accepts(tree, said)] == []
    for voice in voices():
        name = f"{part.folder}/{voice}.flac" if part.folder else f"{voice}_{part.name}.flac"
        options = {"unit": part.scale.system, "range": part.scale.reach}
        assert FILES[name]["hear"] == (options if part.heard else None)


@pytest.mark.parametrize("file", FILES)
def test_there_is_quiet_but_not_digital_zero_between_utterances(file: str) -> None:
    signal = signal_of(file).astype(np.float64)
    rows = [row for row in MANIFEST["utterances"] if row["file"] == file]
    ends = [0.0, *(row["end_s"] for row in rows)]
    starts = [*(row["start_s"] for row in rows), len(signal) / RATE]
    for before, after in zip(ends, starts, strict=True):
        inner = before > 0 and after < len(signal) / RATE
        assert after - before >= (0.8 if inner else 0.4)
        room = signal[round(before * RATE) : round(after * RATE)]
        assert 1.0 < np.sqrt(np.mean(room**2)) < 20.0
    for row in rows:
        speech = signal[round(row["start_s"] * RATE) : round(row["end_s"] * RATE)]
        assert 800 < np.sqrt(np.mean(speech**2)) < 3000
        bounds = [time for word in row["words"] for time in word[1:]]
        assert bounds == sorted(bounds)
        assert row["start_s"] <= bounds[0] + 0.001
        assert bounds[-1] <= row["end_s"] + 0.001


@pytest.mark.parametrize("voice", voices())
def test_every_phrase_of_the_vocabulary_can_be_said(voice: str) -> None:
    for term in TABLE:
        for phrase in term.says:
            assert len(bank(voice).say(phrase)) > 0.1 * RATE, phrase


@pytest.mark.parametrize("voice", voices())
def test_every_reading_of_the_dial_can_be_said(voice: str) -> None:
    stations = ("", *STATIONS, "rear")
    for quarters in range(121):
        number = number_words(Decimal(quarters) / 4)
        signs = ("plus", "minus") if quarters else ("",)
        for sign in signs:
            for station in stations:
                words = " ".join(part for part in (station, sign, number) if part)
                assert " ".join(p.words for p in bank(voice).pieces(words)) == words
    for value in range(100):
        for words in (whole_words(value), " ".join(whole_words(int(d)) for d in str(value))):
            assert bank(voice).pieces(f"front plus {words} point two five thou")
    for value in (100, 250, 999):
        assert bank(voice).pieces(f"minus {whole_words(value)} microns")


def test_a_recorded_sentence_is_played_as_it_is() -> None:
    row = next(row for row in MANIFEST["utterances"] if row["said"] == "minus nine and a half")
    said = bank(row["voice"]).say(row["said"])
    start, end = round(row["words"][0][1] * RATE), round(row["end_s"] * RATE)
    kept = signal_of(row["file"])[start:end]
    assert len(said) == len(kept)
    inner = slice(RATE // 100, -RATE // 100)
    assert np.array_equal(said[inner], kept[inner])


def test_what_was_not_recorded_is_named() -> None:
    with pytest.raises(NotRecorded, match=r"'front plus umpteen'.*'umpteen'"):
        bank("rms").say("front plus umpteen")
    with pytest.raises(NotRecorded, match="nothing"):
        bank("rms").say("  ")
    with pytest.raises(ValueError, match="use one of rms"):
        SpeechBank("nobody")


def jump(signal: npt.NDArray[np.int16]) -> float:
    """The largest click: third differences against their usual size 10 ms to either side.

    Speech falls off towards high frequencies and a click does not; the third difference
    lifts the highest, so that a click stands out of the pulses of the voice itself.
    """
    steps = np.abs(np.diff(signal.astype(np.float64), n=3))
    width = RATE // 100
    around = np.convolve(np.pad(steps**2, width, mode="reflect"), np.ones(2 * width + 1), "valid")
    near = np.convolve(np.pad(steps**2, 4), np.ones(9), mode="valid")
    usual = np.sqrt(np.maximum(around - near, 0.0) / (2 * width - 8)) + 120.0
    return float(np.max(steps / usual))


def spliced(voice: str) -> list[str]:
    chance = np.random.default_rng(7)
    words = []
    for quarters in range(1, 121, 2):
        station = (*STATIONS, "rear")[int(chance.integers(5))]
        sign = ("plus", "minus")[int(chance.integers(2))]
        words.append(f"{station} {sign} {number_words(Decimal(quarters) / 4)}")
    return [said for said in words if len(bank(voice).pieces(said)) > 1]


@pytest.mark.parametrize("voice", voices())
def test_joins_do_not_click(voice: str) -> None:
    whole = [row["said"] for row in MANIFEST["utterances"] if row["voice"] == voice]
    natural = max(jump(bank(voice).say(said)) for said in whole)
    joined = spliced(voice)
    assert len(joined) > 40
    for said in joined:
        assert jump(bank(voice).say(said)) <= natural, said


def test_a_click_would_be_noticed() -> None:
    calls = [bank("awb").say(said) for said in PARTS["calls"].sentences]
    natural = max(jump(call) for call in calls)
    butted = [
        np.concatenate([one[: np.argmax(np.abs(one))], two[np.argmin(two) :]])
        for one, two in zip(calls, calls[1:] + calls[:1], strict=True)
    ]
    assert sum(jump(signal) > natural for signal in butted) > len(butted) / 2


def test_the_manifest_is_written_one_utterance_a_line() -> None:
    text = (FOLDER / "manifest.json").read_text(encoding="utf-8")
    assert manifest_text(MANIFEST) == text
    assert sum(line.startswith('{"file"') for line in text.splitlines()) == len(
        MANIFEST["utterances"]
    )


def test_a_missing_engine_is_a_plain_message(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", "")
    with pytest.raises(FixtureError, match="apt-get install flite"):
        Flite(VOICES["rms"])


def test_made_anew_they_are_the_same() -> None:
    if shutil.which("flite") is None:
        pytest.skip("flite is not installed, so the recordings cannot be made again")
    part = PARTS["commands"]
    index = parts().index(part)
    _, rows = record(Flite(VOICES["slt"]), part, seed=index)
    kept = [row for row in MANIFEST["utterances"] if row["file"] == "slt_commands.flac"]
    assert [row["said"] for row in rows] == [row["said"] for row in kept]
    for made, was in zip(rows, kept, strict=True):
        length = made["end_s"] - made["start_s"]
        assert length == pytest.approx(was["end_s"] - was["start_s"], abs=0.02), made["said"]
