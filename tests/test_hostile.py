"""Hostile files, names and lines at the command line: one line that says what to do, no more.

And no connection to anywhere: Python reports every socket to an audit hook (PEP 578).
"""

import io
import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st

from assistant.__main__ import main
from assistant.devices.sound.files import without_long_silence
from assistant.devices.text.lines import LONGEST_LINE, event_of, harmless, say_line, typed
from assistant.dialogue.messages import Heard
from assistant.records.readings import readings_file
from assistant.records.readings.file_values import ReadingsFileError
from grammar.meaning import Unclear
from grammar.scale import STEPS, Scale
from tests.played_demo import PlayedDemo
from tests.records.jobs import record, rehearsed
from tests.socket_guard import NO_SOCKETS, ROOT, TOLD, run_command

ESCAPES = "\x1b]0;owned\x07\x1b[2J\u202e\x9b1m"


def _told(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    """What is printed on the error stream: one line, and the exit code is 1."""
    assert main(arguments) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert err.endswith("\n")
    line = err.removesuffix("\n")
    assert line.isprintable(), line
    assert line.startswith("sweepsay: ")
    return line


@pytest.mark.parametrize(
    "arguments",
    [
        ("solve", "{}"),
        ("job", "show", "--db", "{}"),
        ("job", "import", "{}", "--db", "jobs.db"),
        ("job", "show", "{}", "--db", "jobs.db"),
        ("job", "audio", "delete", "{}", "--db", "jobs.db"),
        ("run", "{}", "--ears", "text", "--voice", "text", "--db", "jobs.db"),
        ("machine", "show", "{}"),
        ("model", "install", "{}"),
    ],
    ids=lambda arguments: " ".join(arguments),
)
def test_a_name_that_would_steer_the_terminal_is_printed_harmlessly(
    arguments: tuple[str, ...],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    record(tmp_path / "jobs.db", rehearsed(1).events)
    for name in (ESCAPES, "../" + ESCAPES, "x" * 5_000):
        line = _told(capsys, *(each.format(name) for each in arguments))
        assert len(line) <= 520


@pytest.mark.parametrize("command", [("report", "--out"), ("sheet", "--out"), ("backup",)])
def test_a_folder_that_would_steer_the_terminal_is_printed_harmlessly(
    command: tuple[str, ...],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    record(tmp_path / "jobs.db", rehearsed(1).events)
    assert main(["job", *command, "new\x1b[2J\u202e", "--db", "jobs.db"]) == 0
    out, err = capsys.readouterr()
    assert out.startswith("new?[2J?")
    assert not {*"\x1b\u202e"} & {*out, *err}


@pytest.mark.parametrize("beside", ["", "-wal", "-shm", "-journal", ".lock"])
def test_an_export_does_not_replace_the_record(
    beside: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    kept = tmp_path / "jobs.db"
    record(kept, rehearsed(1).events)
    files = {path: path.read_bytes() for path in tmp_path.iterdir()}
    (tmp_path / "link").symlink_to(kept)
    for name in (f"jobs.db{beside}", "link") if not beside else (f"jobs.db{beside}",):
        line = _told(capsys, "job", "export", "--db", str(kept), "--out", str(tmp_path / name))
        assert line.endswith("belongs to a record: give another name")
    assert {path: path.read_bytes() for path in files} == files


def test_a_file_of_readings_that_is_enormous_is_not_read(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A sparse file of 100 GB: it takes no room, and reading it would take all memory."""
    huge = tmp_path / "huge.toml"
    with huge.open("wb") as file:
        file.truncate(100 << 30)
    assert "longer than" in _told(capsys, "solve", str(huge))
    source = ("job", "import", str(huge), "--db", str(tmp_path / "jobs.db"))
    assert "longer than" in _told(capsys, *source)
    many = "\n" * (readings_file.MAX_CHARACTERS + 1)
    with pytest.raises(ReadingsFileError, match="longer than"):
        readings_file.read_problem("-", io.StringIO(many))


@pytest.mark.parametrize(
    "text",
    [
        "[" * 100_000, "{" * 100_000, "a" + ".a" * 50_000 + "=1", "x = " + "9" * 100_000,
        '{"readings": ' + "[" * 50_000, '{"unit": 1e999999999}', "unit = nan", "unit = inf",
        "readings = {back = 1e999999999, right = 0, front = 0, left = 0}",
        "\x00", "\ufeff\ufeff", "unit = \"" + "\\u0000" * 10 + '"',
    ],
    ids=lambda text: ascii(text[:20]),
)  # fmt: skip
def test_readings_that_no_person_writes_are_one_line(
    text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "readings"
    path.write_text(text, encoding="utf-8")
    assert len(_told(capsys, "solve", str(path))) < 520


def test_a_pipe_to_solve_is_not_waited_for(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    os.mkfifo(tmp_path / "pipe")
    assert "send it to standard input" in _told(capsys, "solve", str(tmp_path / "pipe"))
    # What a shell has opened for us is read: bash, "Process Substitution".
    readings = "readings = {back = 0, right = 1, front = 2, left = 1}"
    command = f"{sys.executable} -m assistant solve --json <(echo '{readings}')"
    done = subprocess.run(["bash", "-c", command], cwd=ROOT, capture_output=True, check=False)
    assert json.loads(done.stdout)["front_minus_back"] == 2


def test_what_is_wrong_and_what_to_do_are_left_of_a_long_message(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "readings.toml"
    path.write_text(f'unit = "{"x" * 1_980}"')
    line = _told(capsys, "solve", str(path))
    assert len(line) <= 520
    assert line.startswith(f"sweepsay: {str(path)[:40]}")
    assert line.endswith("use thou, mm or um")


def test_hear_prints_no_escapes_and_no_traceback(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("x.raw").write_bytes(bytes(32_000))
    Path("y.RAW").write_bytes(bytes(32_000))
    assert main(["hear", "x.raw", "y.RAW", f"{ESCAPES}.wav", "x" * 5_000]) == 1
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) == 4
    assert all(line.isprintable() and len(line) <= 500 for line in lines)
    assert all("save it as WAV or FLAC" in line for line in lines[:2])


def test_hours_of_silence_are_left_out_and_times_stay() -> None:
    quiet, loud = np.zeros(16_000, np.int16), np.full(16_000, 900, np.int16)
    blocks = [loud, *[quiet] * 4_000, loud, *[quiet] * 10, loud]
    kept = list(without_long_silence(iter(blocks)))
    assert [at for at, block in kept if block.any()] == [0.0, 4_000 - 30.0, 4_000 - 30.0]
    assert len(kept) == 3 + 30 + 10


def test_words_that_are_typed_come_back_harmlessly() -> None:
    assert say_line(f"Not now: {ESCAPES}.").isprintable()
    assert harmless("plus \u00bd") == "plus \u00bd"


@given(st.text(max_size=600))
def test_any_typed_line_is_an_event_that_can_be_kept(text: str) -> None:
    scale = Scale("thou", 30, STEPS[0])
    for line in typed(io.StringIO(text)):
        assert len(line) <= LONGEST_LINE
        event_of(line, "2031", 1, scale)


def test_what_is_behind_the_longest_line_is_no_line_of_its_own() -> None:
    text = "x" * LONGEST_LINE + "finish\nyes\n" + "y" * 3 * LONGEST_LINE + "stop\n" + "no"
    assert [line[:3] for line in typed(io.StringIO(text))] == ["xxx", "yes", "yyy", "no"]


@pytest.mark.parametrize("words", ["nine " * 200, "plus " * 50 + "six", "nine hundred " * 9])
def test_numbers_without_an_end_are_not_understood(words: str) -> None:
    event = event_of(words, "2031", 1, Scale("thou", 30, STEPS[0]))
    assert isinstance(event, Heard)
    assert isinstance(event.meaning, Unclear)


def test_a_typed_line_that_is_no_utf_8_does_not_end_the_job(tmp_path: Path) -> None:
    done = run_command(
        "run", "--ears", "text", "--voice", "text", "--json", "--db", str(tmp_path / "jobs.db"),
        typed_bytes=b"\xff\xfe\x80\nyes\n",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    rows = [json.loads(line) for line in done.stdout.splitlines()]
    heard = [row["event"] for row in rows if row.get("event", {}).get("kind") == "heard"]
    assert [event["outcome"] for event in heard] == ["reject", "accept"]


def test_the_runtime_of_the_networks_neither_calls_home_nor_keeps_a_record(tmp_path: Path) -> None:
    """It opens its connections in C, where no hook of Python's sees them."""
    pytest.importorskip("onnxruntime", reason="onnxruntime is not installed")
    program = "import assistant.devices.onnx_session, onnxruntime; onnxruntime.SessionOptions()"
    # A continuous integration is recognised, and nothing reported from there.
    home = {name: str(tmp_path) for name in ("HOME", "USERPROFILE", "LOCALAPPDATA")}
    wanted = {name: os.environ[name] for name in ("PATH", "SYSTEMROOT") if name in os.environ}
    subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, check=True,
        env=wanted | home | {"ORT_DISABLE_TELEMETRY": "0"},
    )  # fmt: skip
    assert [*tmp_path.rglob("*")] == []


def test_no_command_opens_a_connection_but_model_install(tmp_path: Path, demo: PlayedDemo) -> None:
    assert demo.done.returncode == 0, demo.done.stderr[-500:]
    assert TOLD not in demo.done.stderr, demo.done.stderr[-500:]
    jobs, sound = str(tmp_path / "jobs.db"), str(tmp_path / "sound.wav")
    record(tmp_path / "jobs.db", rehearsed(1).events)
    readings = tmp_path / "readings.toml"
    readings.write_text("readings = {back = 0, right = 1, front = 2, left = 1}\n")
    soundfile.write(sound, np.zeros(16_000, np.int16), 16_000)
    commands: list[tuple[str, ...]] = [
        ("run", "--ears", "text", "--voice", "text", "--db", str(tmp_path / "new.db")),
        ("hear", sound), ("solve", str(readings)), ("machine", "list"), ("model", "list"),
        ("job", "report", "--db", jobs, "--out", str(tmp_path)), ("job", "export", "--db", jobs),
        ("check", "--db", jobs, "--json"),
    ]  # fmt: skip
    # One after the other in one process, which loads everything once.
    each = f"from assistant.__main__ import main\nCODES = [main(one) for one in {commands[:-1]}]\n"
    wanted = "assert {*CODES} <= {0, 1}, CODES"
    done = run_command(*commands[-1], typed_bytes=b"yes\n", before=NO_SOCKETS + each + wanted)
    assert done.returncode in (0, 1), done.stderr[-500:]
    assert b"Traceback" not in done.stderr, done.stderr[-500:]
    assert TOLD not in done.stderr, done.stderr[-500:]
    # The guard would see one.
    done = run_command("model", "install", before=NO_SOCKETS + _NOWHERE)
    assert TOLD in done.stderr


_NOWHERE = """
os.environ["https_proxy"] = "http://127.0.0.1:9"
from assistant.devices.ears.vosk import model_download
model_download.ServerPatience.__init__.__defaults__ = (0.1, 1, 0.0)
"""
