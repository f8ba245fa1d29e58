"""README and DEVELOPERS.md say what the code does."""

import re
import subprocess
import tomllib
from pathlib import Path
from xml.etree import ElementTree

import pytest

from assistant.dialogue.step import fold
from assistant.manual import tables
from tests.documents import JOB, PARTS, PICTURES, ROOT, job_of_readme, rewritten, transcript
from tests.pictures import report_picture


def test_the_picture_of_a_report_is_of_the_report_as_it_is() -> None:
    drawn = report_picture.drawn_from()
    assert drawn == report_picture.digest(report_picture.page_of_report()), (
        "look at the page, then run: python -m tests.pictures.report_picture"
    )


@pytest.mark.parametrize("name", PARTS)
def test_the_made_parts_are_up_to_date(name: str) -> None:
    text = (ROOT / name).read_text(encoding="utf-8")
    assert rewritten(name) == text, "run: python -m tests.documents"


@pytest.mark.parametrize("file", PICTURES)
def test_the_made_pictures_are_up_to_date(file: str) -> None:
    text = (ROOT / file).read_text(encoding="utf-8")
    assert text == PICTURES[file](), "run: python -m tests.documents"
    ElementTree.fromstring(text)


def test_the_job_of_the_readme_ends_square() -> None:
    told = transcript()
    assert "Square within" in told
    assert "Too far." in told
    assert fold(job_of_readme()) is not None
    assert told.count("\n    ") == len(JOB), "every line of it was answered"
    assert "Was nine" in told.splitlines()[-2]


def test_the_readme_begins_with_the_job_and_two_commands_and_is_short() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert len(text.splitlines()) <= 220
    blocks = re.findall(r"^```\n(.*?)^```", text, re.DOTALL | re.MULTILINE)
    install, test = blocks[:2]
    # Nothing is named before it is installed.
    assert [block.startswith("python3 -m venv .venv && ") for block in (install, test)] == [
        True
    ] * 2
    assert install.strip().endswith(".venv/bin/sweepsay demo")
    assert "sweepsay " not in text[: text.index(install)].replace("sweepsay asks", "")
    for word in ("unplug", "chuck key", "by hand", "eye\nprotection", "licensed practice"):
        assert word in text[: text.index(install)]
    for picture in re.findall(r"!\[[^]]+\]\(([^)]+)\)", text):
        assert (ROOT / picture).stat().st_size < 100_000
    assert text.count("![") == 2


def test_every_command_that_the_readme_names_can_be_given() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    known = {row[0] for row in tables.commands().rows}
    named = set(re.findall(r"`sweepsay ((?:[a-z]+)(?: [a-z]+)?)", text))
    assert len(named) > 8
    for words in named:
        first = words.split()[0]
        assert any(
            command in (f"sweepsay {words}", f"sweepsay {first}")
            or str(command).startswith(f"sweepsay {words} ")
            for command in known
        ), words


def test_ci_runs_the_test_command_of_the_readme() -> None:
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    marked = readme.split("<!-- test command -->")[1].split("```")[1].strip()
    extract = next(line for line in script.splitlines() if line.startswith("command="))
    found = subprocess.run(
        ["bash", "-c", f'{extract}; printf %s "$command"'],
        cwd=ROOT, capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert found.stdout == marked
    assert marked.startswith("python3 -m venv")
    assert marked.count("\n") == 0


def test_every_dependency_is_explained() -> None:
    project = tomllib.loads(Path(ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    developers = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    extras = [line for lines in project["optional-dependencies"].values() for line in lines]
    for line in [*project["dependencies"], *extras]:
        name = re.split(r"[<>=\[;]", line)[0].strip()
        assert name in developers, f"DEVELOPERS.md does not say why {name} is needed"


def test_the_files_that_a_recipe_names_are_there() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    recipes = text.split("## Recipes")[1].split("\n## ")[0]
    named = set(re.findall(r"`([\w/]+(?:\.py|\.txt|/))`", recipes))
    assert len(named) >= 10
    homes = (ROOT, ROOT / "assistant", ROOT / "assistant" / "dialogue" / "procedures")
    folders = (*homes, ROOT / "tests" / "dialogue")
    for name in named:
        assert any((folder / name).exists() for folder in folders), name


def test_every_command_that_the_developers_are_given_is_a_module() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    named = set(re.findall(r"\b((?:tests|audio_fixtures)(?:\.[a-z_]+)+)\b", text))
    assert len(named) >= 20
    for name in named:
        path = ROOT / name.replace(".", "/")
        assert path.with_suffix(".py").is_file() or (path / "__main__.py").is_file(), name


def test_the_developers_document_stays_short() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert text.count("\n") < 250
