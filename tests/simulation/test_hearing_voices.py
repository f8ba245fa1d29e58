"""The recordings that are made for the benchmark hold what their manifest says."""

import json
import random
import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from assistant.simulation.noise import active_level_db
from grammar.meaning import Command, Reading
from tests.benchmarks import hearing_voices
from tests.benchmarks.hearing_clips import clips_of
from tests.benchmarks.hearing_script import OF_EACH, SCALES, Class, script
from tests.benchmarks.hearing_voices import FIT, TEST, main

RATE = 16_000
FEW: dict[Class, int] = {"call": 2, "paused": 2, "finer": 1, "beyond": 1, "command": 1, "talk": 1}


def test_those_that_test_are_heard_in_no_fit() -> None:
    fitted = {voice.name.partition("+")[2] or voice.name for voice in FIT}
    tested = {voice.name.partition("+")[2] or voice.name for voice in TEST}
    assert not fitted & tested
    assert not {"rms", "slt", "awb"} & tested
    # Nor does anybody speak whom the program itself speaks as.
    assert "en-us+f2" not in {voice.name for voice in (*FIT, *TEST)}


def test_what_is_said_is_of_its_class() -> None:
    lines = list(script(3, OF_EACH))
    assert Counter(line.kind for line in lines) == OF_EACH
    assert [line.said for line in lines] != [line.said for line in script(4, OF_EACH)]
    assert len({line.scale for line in lines}) == len(SCALES)
    for line in lines:
        assert (len(line.pieces) > 1) == (line.kind == "paused")


MAKE = """
import json, sys
from pathlib import Path
from tests.benchmarks.hearing_script import script
from tests.benchmarks.hearing_voices import Voice, Espeak, make, recorded
voices, few = [Voice("espeak", "en+m5"), Voice("espeak", "en-us+m5")], json.loads(sys.argv[2])
folder = Path(sys.argv[1])
told = [make(folder, voices[:1], 1, few), (folder / "manifest.jsonl").read_text()]
told.append(make(folder, voices, 1, few))
print(json.dumps([*told, Espeak().sounds("two thou")]))
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[Any]]:
    """A folder of two voices; in a process of its own, whose espeak-ng nobody else uses."""
    folder = tmp_path_factory.mktemp("voices")
    done = subprocess.run(
        [sys.executable, "-c", MAKE, str(folder), json.dumps(FEW)],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    return folder, json.loads(done.stdout)


def test_voices_are_added_to_a_folder(made: tuple[Path, list[Any]]) -> None:
    folder, (first, manifest, both, sounds) = made
    assert (first, both) == (8, 16)
    assert (folder / "manifest.jsonl").read_text().startswith(manifest)
    # What it would read as the other "thou" is spelled for it.
    assert sounds == "tˈuː θˈaʊ"


def test_a_folder_that_was_made_is_heard(made: tuple[Path, list[Any]]) -> None:
    folder, _ = made
    rows = [json.loads(line) for line in (folder / "manifest.jsonl").read_text().splitlines()]
    for row, clip in zip(rows, clips_of(folder), strict=True):
        assert clip.synthetic
        assert (clip.voice, clip.said, clip.scale.reach) == tuple(
            row[name] for name in ("voice", "said", "range")
        )
        match row["class"]:
            case "finer" | "beyond":
                assert clip.is_off_dial or row["system"] == "mm"
            case "call" | "paused":
                assert isinstance(clip.meaning, Reading)
                assert not clip.is_off_dial
            case "command":
                assert isinstance(clip.meaning, Command)
            case _:
                assert clip.is_talk
        quiet = clip.sound[: round(0.4 * RATE)]
        below = active_level_db(clip.sound) - 10 * np.log10(np.mean(quiet**2))
        assert 30 < below < 65
        assert clip.end_s is not None
        assert clip.end_s < len(clip.sound) / RATE - 0.4


def test_a_pause_is_as_long_as_is_told(made: tuple[Path, list[Any]]) -> None:
    folder, _ = made
    rows = [json.loads(line) for line in (folder / "manifest.jsonl").read_text().splitlines()]
    paused = [row for row in rows if row["class"] == "paused"]
    assert len(paused) == 4
    for row in paused:
        told = float(row["made"].rpartition("pause of ")[2].removesuffix(" s"))
        assert 0.35 <= told <= 0.9
        sound, _ = soundfile.read(folder / row["file"])
        inside = sound[round(row["start_s"] * RATE) : round(row["end_s"] * RATE)]
        power = np.mean(inside[: len(inside) // 160 * 160].reshape(-1, 160) ** 2, axis=1)
        gaps = "".join("01"[int(p < power.max() * 2e-3)] for p in power).split("0")
        assert max(map(len, gaps)) / 100 == pytest.approx(told, abs=0.09)


def test_nothing_is_written_in_the_repository(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main([str(hearing_voices.ROOT / "recordings")])
    assert "outside the repository" in capsys.readouterr().err


def test_a_voice_that_is_missing_is_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("shutil.which", lambda _name: None)
    assert main([str(tmp_path / "new"), "--voices", "flite kal16"]) == 1
    assert capsys.readouterr().err == (
        "hearing_voices: flite is not installed: apt-get install flite\n"
    )


def test_what_is_drawn_does_not_depend_on_what_was_drawn_before() -> None:
    random.seed(1)
    first = list(script(1, FEW))
    random.seed(2)
    assert first == list(script(1, FEW))
