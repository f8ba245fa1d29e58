"""The command line: contracts of output, messages and exit codes."""

import argparse
import io
import json
import shlex
import sys
from pathlib import Path

import pytest

from assistant.__main__ import main
from assistant.arguments import EXAMPLES, build_parser
from assistant.records.journal.versions import versions

SOLVE_KEYS = {
    "unit", "front_minus_back", "right_minus_left", "tilt", "high_bearing_deg", "mean", "saddle",
    "drift", "angle_arcsec", "mm_per_300mm", "thou_per_foot", "standard_uncertainty",
    "expanded_uncertainty", "coverage_factor", "degrees_of_freedom", "verdict", "inside_noise",
    "shim", "tap", "warnings",
}  # fmt: skip

EXAMPLE = """
unit = "thou"
method = "indicator"
sweep_diameter = "10 in"
pivot_offset = "0 in"
tolerance = "4 thou"
readings = { back = "6", right = "4", front = "0", left = "3" }
closing = "6"
[shim]
span = "3 in"
stock = ["1.5", "2", "3", "4"]
max_leaves = 3
trials = [ { total = "1.5", before = "6", after = "3.5" } ]
[noise]
surface = ["0", "1", "-1"]
relock = ["0", "2", "1"]
resolution = "0.5"
"""


def _typed(monkeypatch: pytest.MonkeyPatch, lines: str) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO(lines))


def test_solve_prints_the_contracted_json(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "sweep.toml"
    path.write_text(EXAMPLE, encoding="utf-8")
    assert main(["solve", str(path), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert set(answer) >= SOLVE_KEYS
    assert answer["front_minus_back"] == pytest.approx(-6)
    assert answer["right_minus_left"] == pytest.approx(1)
    assert answer["saddle"] == pytest.approx(-1)
    assert answer["shim"]["place"] == "below"
    assert answer["tap"]["watch"] == "right"
    assert answer["tap"]["dial_target"] == pytest.approx(3.5)
    assert set(answer["shim"]) >= {
        "place", "response", "response_uncertainty", "total", "add", "leaves", "expected_left",
    }  # fmt: skip


def test_solve_reads_standard_input_and_prints_words(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    _typed(monkeypatch, EXAMPLE)
    assert main(["solve", "-"]) == 0
    printed = capsys.readouterr().out
    assert "back high by 6 thou" in printed
    assert "below the tilt bolt" in printed
    assert "off plane" in printed
    assert "saddle" not in printed


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ('unit = "thou"\nreadings = { back = "0", right = "1" }', "front and left are missing"),
        (
            'unit = "furlong"\nreadings = { back = "0", right = "1", front = "2", left = "1" }',
            "thou",
        ),
        ('unit = "thou"\nreadings = { back = "0", back = "1", front = "2", left = "1" }', "twice"),
        ('unit = "thou"\nreadings = { back = "x", right = "1", front = "2", left = "1" }', "back"),
        ("unit = ", "TOML or JSON"),
    ],
    ids=["station missing", "wrong unit", "station twice", "no number", "not TOML"],
)
def test_solve_says_in_one_line_what_to_do(
    text: str, hint: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    _typed(monkeypatch, text)
    assert main(["solve", "-", "--json"]) in (1, 2)
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.count("\n") == 1
    assert hint in printed.err


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["dance"],
        ["hear"],
        ["hear", "x.wav", "--range", "0"],
        ["hear", "x.wav", "--unit", "ell"],
    ],
    ids=str,
)
def test_wrong_usage_is_exit_code_two(
    arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(arguments)
    assert stopped.value.code == 2
    assert "usage: sweepsay" in capsys.readouterr().err


def test_a_model_that_is_not_in_the_catalogue_is_one_line(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["model", "install", "no-such-model"]) == 1
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.count("\n") == 1
    assert "choose one of" in printed.err


def test_help_shows_the_cautions(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["--help"])
    printed = capsys.readouterr().out
    for caution in ("Unplug", "chuck key", "by hand", "hold the table", "eye protection", "manual"):
        assert caution in " ".join(printed.split())


@pytest.mark.parametrize("shell", ["bash", "zsh", "tcsh"])
def test_completion_for_shells(shell: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(["--print-completion", shell])
    assert stopped.value.code in (0, None)
    printed = capsys.readouterr().out
    assert all(command in printed for command in ("run", "solve", "hear", "demo"))


def test_a_job_typed_and_stopped_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    job = ["run", "--ears", "text", "--voice", "text", "--db", str(tmp_path / "jobs.db")]
    _typed(monkeypatch, "yes\nyes\nyes\nyes\nlocked\nzeroed\nright plus three\nfront plus six\n")
    assert main(job) == 0
    said = capsys.readouterr().out.splitlines()
    assert said[0] == "say: Is the machine unplugged?"
    assert said[-1] == "say: Front plus six. Left?"
    assert all(line.startswith("say: ") for line in said)
    _typed(monkeypatch, "yes\nyes\nyes\nplus three\nzero\n")
    assert main(job) == 0
    said = capsys.readouterr().out.splitlines()
    assert said[:4] == [
        "say: Drill press from today, no sweep yet. Go on with it?",
        "say: Still unplugged, key out?",
        "say: All locked and untouched since?",
        "say: Left?",
    ]
    assert "Front high six." in said[-1]


def test_json_lines_are_enough_to_play_the_operator(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    _typed(monkeypatch, "yes\nkey: enter\nyes\nyes\nlocked\nzeroed\n")
    job = ["run", "--ears", "text", "--voice", "text", "--json", "--db", str(tmp_path / "j.db")]
    assert main(job) == 0
    rows = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    events = [row["event"] for row in rows if "event" in row]
    assert len(events) == 7
    listens = [row for row in rows if row.get("effect") == "listen"]
    assert listens[0]["offers"][0] == "yes"
    assert [row["turn"] for row in listens] == sorted({row["turn"] for row in listens})
    assert listens[-1]["station"] == "right"
    assert {"effect": "step", "do": "zero", "unit": "thou", "station": "back"} in rows


def test_a_machine_that_is_not_there_is_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["run", "no-such-machine", "--ears", "text", "--voice", "text"]) == 1
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.count("\n") == 1


def _commands(
    parser: argparse.ArgumentParser, above: str = ""
) -> dict[str, argparse.ArgumentParser]:
    """Every command that does something, by its full name."""
    found: dict[str, argparse.ArgumentParser] = {}
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for name, inner in action.choices.items():
                found |= _commands(inner, f"{above} {name}".strip())
    return found or {above: parser}


COMMANDS = _commands(build_parser())


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_and_every_option_says_what_it_is_for(name: str) -> None:
    parser = COMMANDS[name]
    assert parser.description
    for action in parser._actions:
        assert action.help, f"{name}: {action.dest}"
    assert f"Example: {EXAMPLES[name]}" in " ".join((parser.epilog or "").split())


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_example_is_a_command_that_can_be_given(name: str) -> None:
    words = shlex.split(EXAMPLES[name])
    assert words[0] == "sweepsay"
    assert " ".join(words[1:]).startswith(name)
    assert build_parser().parse_args(words[1:]).command == name.split()[0]


@pytest.mark.parametrize("shell", ["bash", "zsh", "tcsh"])
def test_completion_is_printed_for_a_shell(shell: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["--print-completion", shell])
    assert ended.value.code == 0
    printed = capsys.readouterr().out
    for word in ("sweepsay", "machine", "--theme", "sheet"):
        assert word in printed


def test_without_a_command_the_help_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit, match="2"):
        main([])
    told = capsys.readouterr()
    assert "Begin with 'sweepsay run'" in " ".join(told.err.split())
    assert told.out == ""


def test_the_version_is_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["--version"])
    assert not ended.value.code
    name, _, version = capsys.readouterr().out.partition(" ")
    assert (name, version) == ("sweepsay", f"{versions()['sweepsay']}\n")
