"""Two installations of one model at a time do not harm each other."""

import os
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from assistant.devices.ears.model_faults import ModelError
from assistant.devices.ears.vosk.model_lock import installing
from assistant.devices.ears.vosk.model_store import Installed, install
from tests.ears.model_server import NAME, Server, archive

ROOT = Path(__file__).parents[2]


@pytest.fixture
def server() -> Iterator[Server]:
    made = Server(archive())
    yield made
    made.close()


def test_a_second_installation_is_told_of_the_first_and_leaves_it_alone(
    server: Server, tmp_path: Path
) -> None:
    first: list[Installed] = []
    begun, go_on = threading.Event(), threading.Event()

    def trial(_folder: Path) -> None:
        begun.set()
        assert go_on.wait(20)

    def run() -> None:
        first.append(install(server.model(), tmp_path, lambda _there, _total: None, trial=trial))

    thread = threading.Thread(target=run)
    thread.start()
    assert begun.wait(20)
    before = sorted(path.name for path in tmp_path.iterdir())
    with pytest.raises(ModelError, match=rf"another sweepsay \(process {os.getpid()}\)") as raised:
        install(server.model(), tmp_path, lambda _there, _total: None, trial=lambda _folder: None)
    assert "wait until it has ended" in str(raised.value)
    assert sorted(path.name for path in tmp_path.iterdir()) == before
    go_on.set()
    thread.join(20)
    assert first[0].fresh
    assert (first[0].path / "am/final.mdl").stat().st_size == 400_000
    assert len(server.asked) == 1
    with installing(tmp_path, NAME):
        pass


def test_models_of_other_names_are_not_held_up(tmp_path: Path) -> None:
    with installing(tmp_path, "one"), installing(tmp_path, "other"):
        pass
    assert all(path.stat().st_size < 20 for path in tmp_path.iterdir())


def test_a_program_that_was_killed_leaves_nothing_locked(tmp_path: Path) -> None:
    code = (
        "import sys; from pathlib import Path\n"
        "from assistant.devices.ears.vosk.model_lock import installing\n"
        "with installing(Path(sys.argv[1]), 'm'): print('held', flush=True); sys.stdin.read()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code, str(tmp_path)], cwd=ROOT,
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    ) as other:  # fmt: skip
        assert other.stdout is not None
        assert other.stdout.readline() == "held\n"
        with pytest.raises(ModelError, match=rf"process {other.pid}\)"), installing(tmp_path, "m"):
            pass
        other.kill()
    with installing(tmp_path, "m"):
        pass


def test_many_at_once_are_one_at_a_time(tmp_path: Path) -> None:
    inside, most, lock = 0, 0, threading.Lock()

    def run() -> None:
        nonlocal inside, most
        done = 0
        while done < 20:
            try:
                with installing(tmp_path, "m"):
                    with lock:
                        inside += 1
                        most = max(most, inside)
                    with lock:
                        inside -= 1
                    done += 1
            except ModelError:
                continue

    threads = [threading.Thread(target=run) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
        assert not thread.is_alive()
    assert most == 1
