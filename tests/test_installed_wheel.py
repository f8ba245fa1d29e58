"""What users install: everything is in the wheel, and it works from another folder."""

import subprocess
import zipfile
from email import message_from_string
from pathlib import Path

from tests.installed_wheel import ROOT, SHIPPED, InstalledWheel
from tests.played_demo import PlayedDemo


def _names(wheel: InstalledWheel) -> list[str]:
    with zipfile.ZipFile(wheel.wheel) as file:
        return file.namelist()


def test_every_module_and_data_file_is_in_the_wheel_and_nothing_else(
    wheel: InstalledWheel,
) -> None:
    ours = {
        path.relative_to(ROOT).as_posix()
        for folder in SHIPPED
        for path in (ROOT / folder).rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    kinds = {Path(name).suffix for name in ours}
    assert {".py", ".npz", ".txt", ".flac", ".json", ".typed"} <= kinds
    shipped = {name for name in _names(wheel) if ".dist-info/" not in name}
    assert shipped == ours


def test_the_metadata_say_what_an_index_asks(wheel: InstalledWheel) -> None:
    """Core metadata 2.4: the licence is an SPDX expression, its text is in the wheel (PEP 639)."""
    with zipfile.ZipFile(wheel.wheel) as file:
        names = file.namelist()
        (metadata,) = [name for name in names if name.endswith(".dist-info/METADATA")]
        told = message_from_string(file.read(metadata).decode("utf-8"))
    assert told["Name"] == "sweepsay"
    assert told["License-Expression"] == "MIT"
    assert told["License-File"] == "LICENSE"
    assert any(name.endswith(".dist-info/licenses/LICENSE") for name in names)
    assert told["Author"] == "The sweepsay developers"
    assert told["Requires-Python"] == ">=3.11"
    assert "Typing :: Typed" in told.get_all("Classifier", [])
    # A classifier beside the expression is refused by indexes (PEP 639).
    assert not [one for one in told.get_all("Classifier", []) if one.startswith("License")]
    assert told.get_payload()


def test_the_installed_command_is_the_wheels_own(wheel: InstalledWheel, tmp_path: Path) -> None:
    places = "import assistant, grammar; print(assistant.__file__, grammar.__file__, sep='\\n')"
    done = subprocess.run(
        [wheel.python, "-c", places], cwd=tmp_path, capture_output=True, text=True, timeout=60,
        check=True,
    )  # fmt: skip
    for place in done.stdout.split():
        assert Path(place).is_relative_to(wheel.python.parents[1])
    done = subprocess.run(
        [wheel.command, "--version"], cwd=tmp_path, capture_output=True, text=True, timeout=60,
        check=True,
    )  # fmt: skip
    name, version = done.stdout.split()
    assert (name, version) == ("sweepsay", wheel.wheel.name.split("-")[1])
    assert done.stderr == ""


def test_the_demo_is_played_by_it_from_another_folder(demo: PlayedDemo) -> None:
    assert demo.done.returncode == 0, demo.done.stderr
    assert not demo.out.is_relative_to(ROOT)
    assert (demo.out / "conversation.wav").stat().st_size > 1_000_000
