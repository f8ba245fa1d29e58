"""The ``model`` command, and what the others say without a model."""

import io
import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from assistant.__main__ import main
from assistant.commands import model as model_command
from assistant.commands.model import ModelTrial, run_model_install, run_model_list
from assistant.devices.ears.vosk import model_store
from tests.ears.model_server import NAME, Server, archive

TRIAL = ModelTrial(load=lambda _folder: None, unknown=lambda _folder: [])


@pytest.fixture
def server() -> Iterator[Server]:
    made = Server(archive())
    yield made
    made.close()


@pytest.fixture
def folder(server: Server, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    model = replace(server.model(), sha256=None)
    monkeypatch.setattr(model_command, "CATALOGUE", (model,))
    monkeypatch.setattr(model_store, "CATALOGUE", (model,))
    for module in (model_command, model_store):
        monkeypatch.setattr(module, "models_folder", lambda: tmp_path / "models")
    return tmp_path / "models"


def run(sha256: str | None = None, trial: ModelTrial = TRIAL) -> tuple[int, str, str]:
    out, err = io.StringIO(), io.StringIO()
    code = run_model_install(None, sha256=sha256, out=out, err=err, trial=trial)
    return code, out.getvalue(), err.getvalue()


def test_installing_shows_progress_and_says_what_was_not_checked(folder: Path) -> None:
    code, out, err = run()
    assert (code, out) == (0, f"{folder / NAME}\n")
    progress, told = err.splitlines()[-2:]
    assert progress.endswith(f"{NAME}: 100 % of 0 MB")
    assert "was not checked" in told
    assert "already installed" in run()[2]


def test_errors_are_one_line_and_exit_1(folder: Path) -> None:
    code, out, err = run("0" * 64)
    assert (code, out) == (1, "")
    assert "instead of 0000" in err.splitlines()[-1]
    assert not (folder / NAME).exists()


def test_words_that_the_model_lacks_are_told(folder: Path) -> None:
    lacking = replace(TRIAL, unknown=lambda _folder: ["tram"])
    assert "cannot hear: tram\n" in run(trial=lacking)[2]
    assert (folder / NAME).is_dir()


def test_stopping_keeps_what_has_come(
    server: Server, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = model_command._Progress.__call__

    def stop(self: model_command._Progress, there: int, total: int | None) -> None:
        real(self, there, total)
        if there > 100_000:
            raise KeyboardInterrupt

    monkeypatch.setattr(model_command._Progress, "__call__", stop)
    code, _, err = run()
    assert code == 130
    assert err.endswith("\nsweepsay: stopped; run the command again to go on\n")
    monkeypatch.undo()
    assert (folder / f"{NAME}.zip.part").stat().st_size > 100_000
    assert server.asked == [(None, None)]


def test_the_list_tells_what_is_there(server: Server, folder: Path) -> None:
    def listing() -> dict[str, object]:
        out = io.StringIO()
        assert run_model_list(as_json=True, out=out) == 0
        (row,) = json.loads(out.getvalue())
        assert isinstance(row, dict)
        return row

    assert listing() == {
        "name": NAME, "about": "", "installed": False, "downloaded_bytes": 0, "sha256": None,
    }  # fmt: skip
    folder.mkdir()
    (folder / f"{NAME}.zip.part").write_bytes(b"abc")
    assert listing()["downloaded_bytes"] == 3
    run()
    found = listing()
    assert found["installed"] is True
    assert found["sha256"] == server.model().sha256
    out = io.StringIO()
    run_model_list(as_json=False, out=out)
    assert out.getvalue().split() == [NAME, "installed"]


@pytest.mark.usefixtures("folder")
def test_the_command_line(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert main(["model", "list"]) == 0
    assert capsys.readouterr().out.split() == [NAME, "-"]
    assert main(["model", "install", "nothing"]) == 1
    assert (
        capsys.readouterr().err == f"sweepsay: there is no model nothing; choose one of: {NAME}\n"
    )
    assert main(["hear", "--engine", "vosk", str(tmp_path / "any.wav")]) == 1
    assert "no Vosk model: sweepsay model install" in capsys.readouterr().err
    assert main(["run", "--engine", "vosk", "--db", str(tmp_path / "job.db")]) == 1
    assert capsys.readouterr().err == "sweepsay: no Vosk model: sweepsay model install\n"
    assert not (tmp_path / "job.db").exists()
