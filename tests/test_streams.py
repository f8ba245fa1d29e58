"""Standard streams of every kind: other encodings, closed, full, and signals that end us."""

import ast
import builtins
import io
import os
import subprocess
import sys
import unicodedata
from pathlib import Path
from typing import Any

import pytest

from assistant.__main__ import main
from assistant.devices.text.streams import SIGNS, other_signs
from tests.records.jobs import record, rehearsed
from tests.stepping import stepped_once

__all__ = ["stepped_once"]

ROOT = Path(__file__).parent.parent

ENCODINGS = ("cp1252", "cp437", "cp850", "latin-1", "ascii", "koi8-r", "shift_jis")
"""What terminals of other systems and pipes on them take."""

NEVER_PRINTED = {
    "\u2581": "marks the beginning of a word in the recogniser's own list",
    "\u2060": "stands between words of a prompt while it is put together",
}

READINGS = """
readings = { back = "0", right = "7", front = "12", left = "5" }
unit = "thou"
sweep_diameter = "10 in"
tolerance = "4 thou"
"""


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("home")
    (folder / "readings.toml").write_text(READINGS, encoding="utf-8")
    record(folder / "jobs.db", rehearsed(1).events, rehearsed(2, "mm").events)
    return folder


COMMANDS = (
    ("solve", "{}/readings.toml"), ("job", "show", "job-1", "--db", "{}/jobs.db"),
    ("job", "show", "job-2", "--db", "{}/jobs.db"), ("job", "list", "--db", "{}/jobs.db"),
    ("job", "export", "--db", "{}/jobs.db", "--format", "csv"),
    ("job", "export", "--db", "{}/jobs.db"), ("job", "show", "h\u00f6lzern", "--db", "{}/jobs.db"),
    ("machine", "list"), ("machine", "show", "fr\u00e4se \u2212 \u65e5\u672c"), ("model", "list"),
    ("run", "\u0141\u00f3d\u017a", "--ears", "text", "--voice", "text", "--db", "{}/jobs.db"),
    ("hear", "{}/h\u00e4rt.wav"),
)  # fmt: skip


def _printed(arguments: tuple[str, ...], encoding: str, monkeypatch: pytest.MonkeyPatch) -> str:
    """All that a command prints on both streams, in this encoding."""
    streams = [io.TextIOWrapper(io.BytesIO(), encoding=encoding, newline="") for _ in range(2)]
    with monkeypatch.context() as patch:
        patch.setattr(sys, "stdout", streams[0])
        patch.setattr(sys, "stderr", streams[1])
        assert main(arguments) in (0, 1)
        for stream in streams:
            stream.flush()
    return "".join(stream.buffer.getvalue().decode(encoding) for stream in streams)


def _as(text: str, encoding: str) -> str:
    """The text with other signs for what Python's own codec lacks."""
    out = ""
    for sign in text:
        try:
            sign.encode(encoding)
        except UnicodeEncodeError:
            out += other_signs(sign)
        else:
            out += sign
    return out


@pytest.mark.usefixtures("stepped_once")
@pytest.mark.parametrize("arguments", COMMANDS, ids=lambda arguments: ascii(" ".join(arguments)))
def test_every_command_prints_in_every_encoding(
    home: Path, arguments: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    given = tuple(each.format(home) for each in arguments)
    whole = _printed(given, "utf-8", monkeypatch)
    # The recogniser takes a while to load.
    for encoding in ENCODINGS[: 1 if arguments[0] == "hear" else None]:
        assert _printed(given, encoding, monkeypatch) == _as(whole, encoding)


def test_solve_in_the_encoding_of_a_redirected_windows_terminal(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The table of what is written: code page, then a line that holds most signs."""
    shown = {
        encoding: next(
            line
            for line in _printed(("solve", f"{home}/readings.toml"), encoding, monkeypatch).split(
                "\n"
            )
            if line.startswith("uncertainty")
        )
        for encoding in ("utf-8", "cp1252", "ascii")
    }
    assert "\u00b1" in shown["utf-8"]
    assert shown["cp1252"] == shown["utf-8"]
    assert shown["ascii"] == shown["utf-8"].replace("\u00b1", "+/-")


def test_every_sign_that_the_program_may_print_has_another_one() -> None:
    lacking: dict[str, str] = {}
    for path in [*ROOT.glob("assistant/**/*.py"), *ROOT.glob("grammar/*.py")]:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                lacking |= {
                    sign: path.name
                    for sign in node.value
                    if not sign.isascii() and sign not in NEVER_PRINTED
                    if other_signs(sign) in ("", "?")
                }
    assert lacking == {}
    assert all(text.isascii() and text for text in SIGNS.values())
    assert all(unicodedata.category(sign)[0] in "SPLNZ" for sign in SIGNS)


# -- streams that are closed or full -----------------------------------------------------------

RUN = "run --no-ask --ears text --voice text --db {}/new.db"


@pytest.mark.parametrize(
    ("arguments", "streams", "code", "says"),
    [
        (RUN, "<&-", 0, "is kept: the same command goes on with it"),
        (RUN, "2>&- </dev/null", 0, ""),
        (f"{RUN} --json", "2>&1 >&- </dev/null", 1, "standard output is closed"),
        (RUN, ">/dev/full </dev/null", 1, "what is printed finds no room"),
        (RUN, "2>/dev/full </dev/null", 0, ""),
        ("job list --db {}/jobs.db", ">/dev/full", 1, "what is printed finds no room"),
        ("solve {}/readings.toml", ">/dev/full", 1, "what is printed finds no room"),
        ("solve - --json", "<&-", 1, "standard input: empty"),
        ("machine new", "<&-", 1, "the answers ended too soon"),
        ("--help", ">/dev/full", 1, "what is printed finds no room"),
        ("job show --db {}/jobs.db", "| true", 0, ""),
    ],
)
@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="there is no /dev/full here")
def test_streams_that_are_closed_or_full_are_one_line(
    home: Path, arguments: str, streams: str, code: int, says: str
) -> None:
    command = f"{sys.executable} -m assistant {arguments.format(home)} {streams}"
    done = subprocess.run(
        ["bash", "-c", command], cwd=ROOT, capture_output=True, text=True, check=False, timeout=60
    )
    told = done.stdout.splitlines()[-1:] if "2>&1" in streams else done.stderr.splitlines()
    assert done.returncode == code, done
    assert len(told) == (1 if says else 0), done
    assert says in "".join(told)


def test_ctrl_c_at_any_import_is_one_line(
    home: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    real = builtins.__import__
    arguments = ["job", "list", "--db", f"{home}/jobs.db"]
    count, at = 0, 0

    def counted(name: str, *rest: Any, **named: Any) -> Any:
        nonlocal count
        count += name.startswith("assistant")
        if count == at and name.startswith("assistant"):
            raise KeyboardInterrupt
        return real(name, *rest, **named)

    monkeypatch.setattr(builtins, "__import__", counted)
    assert main(arguments) == 0
    capsys.readouterr()
    assert count > 5
    for at in range(1, count + 1):  # noqa: B007 - the import above looks at it
        count = 0
        assert main(arguments) == 130
        out, err = capsys.readouterr()
        assert (out, err) == ("", "sweepsay: stopped; every accepted reading is kept\n")


AT_START = {
    "os",
    "stat",
    "_stat",
    "posixpath",
    "genericpath",
    "ntpath",
    "os.path",
    "_collections_abc",
}
"""What `site` imports in any case."""


def test_nothing_slow_is_imported_before_ctrl_c_is_caught() -> None:
    # Without what this Python's own installation imports at its start.
    program = (
        "import sys; old = set(sys.modules); import assistant.__main__; "
        "print(*set(sys.modules) - old)"
    )
    done = subprocess.run(
        [sys.executable, "-S", "-c", program],
        cwd=ROOT, capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert {*done.stdout.split()} <= {"assistant", "assistant.__main__", "errno", *AT_START}
