"""The manual says what the program does: from the same tables, complete, in any width."""

import re
import tomllib
import webbrowser
from pathlib import Path

import html5lib
import pytest

from assistant.__main__ import main
from assistant.arguments import TOPICS
from assistant.manual import tables
from assistant.manual.as_text import as_text
from assistant.manual.content import READINGS_FILE, manual, parts
from assistant.metrology.solve import solve
from assistant.records.machines.machine_settings import set_keys
from assistant.records.machines.machine_toml import read_profile, write_profile
from assistant.records.machines.presets import LAYOUTS, preset
from assistant.records.readings.readings_file import problem_from_text
from assistant.records.report.html_page import html_page
from assistant.records.report.pdf_page import pdf_page
from grammar.meaning import OffScale, Reading, Shim
from grammar.parse import parse
from grammar.scale import Scale
from grammar.vocabulary import TABLE


def test_every_word_and_every_key_of_the_vocabulary_is_in_it() -> None:
    text = as_text(manual(), 80)
    told = [(", ".join(term.says), term.help) for term in TABLE if term.help]
    assert list(tables.words().rows) == told
    for term in TABLE:
        if term.help:
            assert ", ".join(term.says) in text
        if term.key:
            shown = "Enter" if term.key == "enter" else " ".join(term.key)
            assert re.search(rf"(?m)^\\s*{re.escape(shown)} |[ ]{re.escape(shown)}  ", text), shown


def test_the_numbers_that_it_names_can_be_said() -> None:
    quoted = re.findall(r'"([a-z ]+)"', as_text(manual("words"), 400))
    numbers = [words for words in quoted if words not in ("help", "oh", "disregard")]
    assert len(numbers) > 10
    for words in numbers:
        called = words if words.startswith(("front", "correction", "shim")) else f"plus {words}"
        assert isinstance(parse(called, Scale("mm", 50)), Reading | Shim | OffScale), words


@pytest.mark.parametrize(("what", "settings"), tables.SETTINGS)
def test_the_settings_of_every_way_of_measuring_are_taken(
    what: str, settings: tuple[str, ...]
) -> None:
    usual = preset(LAYOUTS[0].name, "inch")
    assert usual is not None
    text = set_keys(write_profile(usual), settings)
    assert read_profile(text, "machine.toml") != usual, what


def test_the_readings_file_can_be_solved() -> None:
    """By hand: F - B = 4, R - L = -9; saddle 4 + 0 + 2.5 - 6.5 = 0, so that nothing is left."""
    tomllib.loads(READINGS_FILE)
    answer = solve(problem_from_text(READINGS_FILE))
    assert answer.front_minus_back == pytest.approx(4)
    assert answer.right_minus_left == pytest.approx(-9)
    assert answer.saddle == pytest.approx(0)
    for line in READINGS_FILE.splitlines():
        assert line in as_text(manual("solve"), 80)


def test_every_command_is_in_it_with_what_it_is_for() -> None:
    rows = {str(command): told for command, told in tables.commands().rows}
    assert {"sweepsay run", "sweepsay manual", "sweepsay job audio delete"} <= set(rows)
    text = " ".join(as_text(manual("commands"), 400).split())
    for command, told in rows.items():
        assert f"{command} {told}" in text


@pytest.mark.parametrize("columns", [24, 40, 80, 100])
def test_no_line_is_wider_than_asked_and_no_word_is_lost(columns: int) -> None:
    for topic in (None, *(name for name, _ in parts())):
        lines = as_text(manual(topic), columns).splitlines()
        assert max(map(len, lines)) <= columns
    # Words of tables stand in other columns where it is narrow: none is lost all the same.
    wide, narrow = (sorted(re.findall(r"[A-Za-z]", as_text(manual(), c))) for c in (400, columns))
    assert wide == narrow


def test_it_is_a_page_and_a_pdf_too() -> None:
    page = html_page(manual())
    parser = html5lib.HTMLParser(strict=True)
    parser.parse(page)
    assert parser.errors == []
    assert page.count("<h2>") == len(parts())
    assert pdf_page(manual()).startswith(b"%PDF")


def test_the_command_prints_a_part_writes_a_page_and_opens_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert tuple(name for name, _ in parts()) == TOPICS
    assert main(["manual", "keys"]) == 0
    printed = capsys.readouterr().out
    assert "talk key" in printed
    assert "WAYS OF MEASURING" not in printed
    target = tmp_path / "pages" / "manual.pdf"
    assert main(["manual", "--out", str(target)]) == 0
    assert capsys.readouterr().out == f"{target}\n"
    assert target.read_bytes().startswith(b"%PDF")
    opened: list[str] = []

    def open_(address: str) -> bool:
        opened.append(address)
        return len(opened) == 1

    monkeypatch.setattr(webbrowser, "open", open_)
    for told in ("", "there is no browser here"):
        assert main(["manual", "--page", "--out", str(tmp_path / "manual.html")]) == 0
        assert told in capsys.readouterr().err
    assert opened == [(tmp_path / "manual.html").as_uri()] * 2
    with pytest.raises(SystemExit) as ended:
        main(["manual", "nothing"])
    assert ended.value.code == 2
