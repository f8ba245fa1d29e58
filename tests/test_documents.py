"""README and DEVELOPERS.md say what the code does."""

import re
import subprocess
import tomllib
from pathlib import Path

import pytest

from assistant.metrology.solve import solve
from assistant.records.readings_file import problem_from_text
from tests.documents import PARTS, ROOT, rewritten, transcript


@pytest.mark.parametrize("name", PARTS)
def test_the_made_parts_are_up_to_date(name: str) -> None:
    text = (ROOT / name).read_text(encoding="utf-8")
    assert rewritten(name) == text, "run: python -m tests.documents"


def test_the_job_of_the_readme_ends_square() -> None:
    told = transcript()
    assert "Square within" in told
    assert told.rstrip("`\n").endswith("A two inch hole leans under half a thou.")


def test_the_readings_file_of_the_readme_can_be_solved() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    example = re.search(r"```toml\n(.*?)```", text, re.DOTALL)
    assert example
    tomllib.loads(example[1])
    assert solve(problem_from_text(example[1])).front_minus_back == -6


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
