"""Who may import whom, how long files are, and the house's names."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
SOURCES = sorted([*ROOT.glob("grammar/*.py"), *ROOT.glob("assistant/**/*.py")])
ALL = [*SOURCES, *sorted(ROOT.glob("tests/**/*.py")), *sorted(ROOT.glob("audio_fixtures/*.py"))]

MAY_IMPORT: dict[str, tuple[str, ...]] = {
    "grammar": ("grammar",),
    "assistant.metrology": ("assistant.metrology",),
    "assistant.dialogue": ("assistant.dialogue", "assistant.metrology", "grammar"),
    "assistant.locks": ("assistant.locks",),
    "assistant.devices": (
        "assistant.devices",
        "assistant.locks",
        "assistant.dialogue",
        "assistant.metrology",
        "grammar",
    ),
    "assistant.records": (
        "assistant.records",
        "assistant.locks",
        "assistant.dialogue",
        "assistant.metrology",
        "grammar",
    ),
}
"""Each part of the house and the parts that it may import; the rest is wiring."""

PURE = {
    "grammar": set[str](),
    "assistant.metrology": {"numpy"},
    "assistant.dialogue": set[str](),
}
"""Parts without clock, thread, file or device, and what they may use all the same."""

IMPURE_MODULES = {
    "time", "datetime", "threading", "queue", "os", "io", "pathlib", "sqlite3", "socket",
    "subprocess", "random", "numpy", "sys", "tempfile", "asyncio", "logging",
}  # fmt: skip


def _part(path: Path) -> str:
    module = ".".join(path.relative_to(ROOT).with_suffix("").parts)
    return next((part for part in MAY_IMPORT if module.startswith(f"{part}.")), "")


def _imports(path: Path) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
    return found


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_imports_stay_inside_the_boundaries(path: Path) -> None:
    part = _part(path)
    if not part:
        return
    for name in _imports(path):
        if name.split(".")[0] in ("assistant", "grammar"):
            allowed = MAY_IMPORT[part]
            inside = any(name == home or name.startswith(f"{home}.") for home in allowed)
            assert inside, f"{path.name} imports {name}"
        if part in PURE and name.split(".")[0] in IMPURE_MODULES:
            assert name.split(".")[0] in PURE[part], f"{path.name} imports {name}"


@pytest.mark.parametrize("path", ALL, ids=lambda path: str(path.relative_to(ROOT)))
def test_files_are_plainly_named_and_say_what_belongs_in_them(path: Path) -> None:
    assert path.stem not in ("utils", "util", "base", "manager", "helpers", "common", "misc")
    if path.name != "__init__.py" or path.stat().st_size:
        text = path.read_text(encoding="utf-8")
        assert ast.get_docstring(ast.parse(text)), f"{path} says nothing of what belongs in it"


def test_long_files_are_rare() -> None:
    lengths = {path: len(path.read_text(encoding="utf-8").splitlines()) for path in ALL}
    # One subject is not cut in two to stay below a number; most subjects are short all the same.
    assert sum(length > 400 for length in lengths.values()) <= len(lengths) // 25
    assert max(lengths.values()) <= 800


def test_no_function_of_the_dialogue_is_longer_than_a_screen() -> None:
    """Sixty lines; how many ways there are through one is checked by ruff (C901)."""
    for path in ROOT.glob("assistant/dialogue/**/*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef):
                assert (node.end_lineno or 0) - node.lineno < 60, f"{path.name}: {node.name}"


def test_few_modules_stand_loose() -> None:
    loose = {path.name for path in (ROOT / "assistant").glob("*.py")}
    assert loose == {"__init__.py", "__main__.py", "arguments.py"}


SHARED_NAMES = {
    # Arrays of one kind, named where they are used; nothing but the type checker reads them.
    "Floats", "Ints", "Samples", "Signal",
    # Both engines have their own, and no module knows both.
    "Candidate", "Evidence",
    # What the dialogue and the metrology both speak of, and neither may import from the other.
    "Json", "Method", "Place",
}  # fmt: skip


def test_no_name_stands_for_two_things() -> None:
    found: dict[str, set[str]] = {}
    for path in SOURCES:
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            names = [getattr(node, "name", "")]
            if isinstance(node, ast.Assign):
                names = [target.id for target in node.targets if isinstance(target, ast.Name)]
            for name in names:
                # A type: constants are in capitals, functions and what is private begin small.
                if name[:1].isupper() and not name.isupper():
                    found.setdefault(name, set()).add(str(path.relative_to(ROOT)))
    assert {name for name, where in found.items() if len(where) > 1} <= SHARED_NAMES, found


def test_the_top_level_holds_what_it_should() -> None:
    expected = {
        "pyproject.toml", "README.md", "DEVELOPERS.md", "LICENSE",
        "assistant", "grammar", "tests", "audio_fixtures",
    }  # fmt: skip
    ours = {
        path.name
        for path in ROOT.iterdir()
        if not path.name.startswith(".") and not path.name.endswith(".egg-info")
    }
    assert expected <= ours
    assert ours <= expected | {"build", "dist", "sweepsay-demo"}


def test_no_module_is_named_like_one_of_the_standard_library() -> None:
    import sys

    for path in SOURCES:
        if path.name not in ("__init__.py", "__main__.py"):
            taken = path.stem in sys.stdlib_module_names
            assert not taken, path.name
