"""The leading recogniser is asked for only where its wheel exists, so that installing never fails.

Wheels of moonshine-voice 0.0.73 as the Python Package Index lists them; markers are read by the
`packaging` library (PEP 508).
"""

import tomllib
from pathlib import Path

from packaging.requirements import Requirement

ROOT = Path(__file__).parents[2]

WHEELS = [
    ("linux", "x86_64", "6.1.0"), ("linux", "aarch64", "6.6.31"), ("darwin", "arm64", "24.1.0"),
    ("darwin", "arm64", "25.0.0"), ("win32", "AMD64", "11"),
]  # fmt: skip
NONE = [
    ("linux", "armv7l", "6.1.0"), ("linux", "i686", "6.1.0"), ("darwin", "x86_64", "24.1.0"),
    ("darwin", "arm64", "23.6.0"), ("win32", "ARM64", "11"), ("freebsd14", "amd64", "14.0"),
]  # fmt: skip


def _asked(name: str, system: str, machine: str, release: str, python: str = "3.12") -> bool:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    (found,) = (one for one in map(Requirement, project["dependencies"]) if one.name == name)
    assert found.marker is not None
    return found.marker.evaluate(
        {
            "sys_platform": system,
            "platform_machine": machine,
            "platform_release": release,
            "python_version": python,
        }
    )


def test_it_is_asked_for_where_there_is_a_wheel_and_nowhere_else() -> None:
    for name in ("moonshine-voice", "onnxruntime"):
        assert all(_asked(name, *where) for where in WHEELS)
        assert not _asked(name, *WHEELS[0], python="3.15")
    assert not any(_asked("moonshine-voice", *where) for where in NONE)
