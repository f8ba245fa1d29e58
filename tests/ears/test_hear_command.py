"""The ``hear`` command: its lines, its table and its exit codes."""

import io
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from assistant.commands.hear import Expect, run_hear, value_text
from grammar.parse import parse
from grammar.scale import Scale, System
from tests.ears.sounds import RATE, Samples, clip, quiet

KEYS = [
    "file", "start_s", "end_s", "outcome", "kind", "words", "station", "value", "unit",
    "command", "correction", "confidence", "decode_s", "alternatives",
]  # fmt: skip


def hear(
    *files: Path,
    unit: System = "thou",
    reach: int = 30,
    expect: Expect = "any",
    as_json: bool = True,
) -> tuple[int, str, str]:
    out, err = io.StringIO(), io.StringIO()
    code = run_hear(
        [str(file) for file in files], unit=unit, reach=reach, expect=expect,
        engine="pocketsphinx", as_json=as_json, out=out, err=err,
    )  # fmt: skip
    return code, out.getvalue(), err.getvalue()


def save(folder: Path, name: str, *sounds: Samples) -> Path:
    path = folder / name
    soundfile.write(path, np.concatenate(sounds), RATE)
    return path


def test_one_line_for_each_utterance_as_contracted(tmp_path: Path) -> None:
    pause = quiet(0.6)
    call, shim = clip("right plus one"), clip("shim three above")
    path = save(tmp_path, "calls.wav", call, pause, clip("say again"), pause, shim)
    code, out, err = hear(path)
    rows: list[dict[str, Any]] = [json.loads(line) for line in out.splitlines()]
    assert (code, err) == (0, "")
    assert len(rows) == 3
    for row in rows:
        assert set(KEYS) <= set(row)
        assert row["file"] == str(path)
        assert row["outcome"] == "accept"
        assert 0 <= row["start_s"] < row["end_s"]
        assert 0 < row["confidence"] <= 1
        for other in row["alternatives"]:
            assert set(other) == {"words", "value", "confidence"}
    reading, command, shimmed = rows
    assert (reading["kind"], reading["station"], reading["value"]) == ("reading", "right", "+1")
    assert (reading["unit"], reading["command"], reading["correction"]) == ("thou", None, False)
    assert (command["kind"], command["command"], command["value"]) == ("command", "say again", None)
    assert (shimmed["command"], shimmed["value"], shimmed["place"]) == ("shim", "3", "above")


@pytest.mark.parametrize(
    ("words", "unit", "value"),
    [
        ("plus six and a half", "thou", "+6.5"),
        ("minus three", "thou", "-3"),
        ("front zero", "thou", "0"),
        ("six", "thou", "6"),
        ("plus six", "mm", "+0.06"),
        ("minus six and a half", "mm", "-0.065"),
        ("plus twenty", "thou", "+20"),
        ("shim one and a half above", "thou", "1.5"),
        ("stop", "thou", None),
    ],
)
def test_values_are_decimal_strings_with_their_sign(
    words: str, unit: System, value: str | None
) -> None:
    assert value_text(parse(words, Scale(unit)), unit) == value


def test_the_mode_decides_what_is_heard(tmp_path: Path) -> None:
    path = save(tmp_path, "call.wav", clip("right plus one"))
    outcomes = {
        expect: [json.loads(line)["outcome"] for line in hear(path, expect=expect)[1].splitlines()]
        for expect in ("reading", "command", "any")
    }
    assert outcomes["reading"] == outcomes["any"] == ["accept"]
    assert "accept" not in outcomes["command"]


def test_silence_gives_no_line(tmp_path: Path) -> None:
    assert hear(save(tmp_path, "silence.wav", quiet(2.0))) == (0, "", "")


def test_a_bad_file_is_one_line_and_the_others_go_on(tmp_path: Path) -> None:
    bad = tmp_path / "bad.wav"
    bad.write_bytes(b"no sound at all, only a line of text")
    good = save(tmp_path, "good.wav", clip("right plus one"))
    code, out, err = hear(bad, good)
    assert code == 1
    assert [json.loads(line)["words"] for line in out.splitlines()] == ["right plus one"]
    assert err.count("\n") == 1
    assert str(bad) in err


def test_each_file_counts_from_its_own_beginning(tmp_path: Path) -> None:
    first = save(tmp_path, "first.wav", quiet(1.5), clip("right plus one"))
    second = save(tmp_path, "second.wav", clip("right plus one"))
    rows = [json.loads(line) for line in hear(first, second)[1].splitlines()]
    assert rows[0]["start_s"] == pytest.approx(rows[1]["start_s"] + 1.5, abs=0.04)


def test_a_range_that_no_dial_has_is_wrong_usage(tmp_path: Path) -> None:
    code, out, err = hear(save(tmp_path, "call.wav", clip("right plus one")), reach=0)
    assert (code, out) == (2, "")
    assert "1 to 999" in err


def test_the_table_for_people(tmp_path: Path) -> None:
    path = save(tmp_path, "call.wav", clip("right plus one"))
    _, out, _ = hear(path, as_json=False)
    heading, line = out.splitlines()
    assert heading.split() == ["file", "from", "to", "outcome", "sure", "value", "words"]
    assert line.split()[3:4] + line.split()[5:] == ["accept", "+1", "right", "plus", "one"]


def test_every_line_names_its_file(tmp_path: Path) -> None:
    one = save(tmp_path, "one.wav", clip("right plus one"))
    far = save(tmp_path, f"{'far-' * 20}two.wav", clip("say again"))
    _, out, _ = hear(one, far, as_json=False)
    head, first, second = out.splitlines()
    assert head.split()[:3] == ["file", "from", "to"]
    columns = head.index("  from") - 4
    assert columns <= 40
    assert first[:columns].strip()[-20:] == str(one)[-20:]
    assert second[:columns].startswith("…")
    assert second[:columns].strip().endswith("far-two.wav")
    assert [line.split()[-2:] for line in (first, second)] == [["plus", "one"], ["say", "again"]]
