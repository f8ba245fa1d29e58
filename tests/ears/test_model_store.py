"""Downloading models, against a local server that cuts off, lies and stalls."""

import hashlib
import io
import threading
import zipfile
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import numpy as np
import pytest

from assistant import model_command
from assistant.devices.model_store import (
    CATALOGUE,
    Model,
    ModelError,
    find_model,
    in_catalogue,
    install,
)

NAME = "vosk-model-test"


def archive(extra: dict[str, bytes] | None = None, link: bool = False) -> bytes:
    stream = io.BytesIO()
    noise = np.random.default_rng(1).integers(0, 256, 400_000, dtype=np.uint8).tobytes()
    with zipfile.ZipFile(stream, "w") as packed:
        packed.writestr(f"{NAME}/am/final.mdl", noise)
        packed.writestr(f"{NAME}/README", b"for tests")
        for name, data in (extra or {}).items():
            packed.writestr(name, data)
        if link:
            member = zipfile.ZipInfo(f"{NAME}/link")
            member.external_attr = 0o120777 << 16
            packed.writestr(member, "/etc")
    return stream.getvalue()


class Server:
    """One file; ``send`` limits what each answer sends of it, in turn."""

    def __init__(self, data: bytes) -> None:
        self.data = data
        self.sends: list[int | None] = []
        self.statuses: list[int] = []
        self.ranges: list[str | None] = []
        self.ignore_range = False
        self.gate = threading.Event()
        server = self

        class Handler(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                wanted = self.headers.get("Range")
                server.ranges.append(wanted)
                if server.statuses:
                    self.send_error(server.statuses.pop(0))
                    return
                start = int(wanted[6:-1]) if wanted and not server.ignore_range else 0
                if start >= len(server.data):
                    self.send_error(416)
                    return
                body = server.data[start:]
                self.send_response(206 if start else 200)
                self.send_header("Content-Length", str(len(body)))
                self.end_headers()
                limit = server.sends.pop(0) if server.sends else None
                self.wfile.write(body[:limit])
                if limit == 0:
                    server.gate.wait(10)

            def log_message(self, format: str, *args: object) -> None:
                pass

        self._http = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.url = f"http://127.0.0.1:{self._http.server_address[1]}/{NAME}.zip"
        self._thread = threading.Thread(target=self._http.serve_forever, args=(0.01,))
        self._thread.start()

    def close(self) -> None:
        self.gate.set()
        self._http.shutdown()
        self._thread.join()
        self._http.server_close()

    def model(self, data: bytes | None = None) -> Model:
        return Model(NAME, self.url, hashlib.sha256(data or self.data).hexdigest())


@pytest.fixture
def server() -> Iterator[Server]:
    made = Server(archive())
    yield made
    made.close()


def left(folder: Path) -> list[str]:
    return sorted(entry.name for entry in folder.iterdir())


def test_a_model_is_installed_whole_with_progress(server: Server, tmp_path: Path) -> None:
    seen: list[tuple[int, int | None]] = []
    path = install(server.model(), tmp_path, lambda there, total: seen.append((there, total)))
    assert path == tmp_path / NAME
    assert (path / "README").read_bytes() == b"for tests"
    assert (path / "am/final.mdl").stat().st_size == 400_000
    assert left(tmp_path) == [NAME]
    assert seen == sorted(seen)
    assert seen[-1] == (len(server.data), len(server.data))
    assert find_model(None, tmp_path) == path
    asked = len(server.ranges)
    assert install(server.model(), tmp_path) == path
    assert len(server.ranges) == asked


def test_a_connection_that_breaks_is_taken_up_where_it_stopped(
    server: Server, tmp_path: Path
) -> None:
    server.sends = [100_000, 50_000]
    install(server.model(), tmp_path)
    assert server.ranges == [None, "bytes=100000-", "bytes=150000-"]
    assert (tmp_path / NAME / "README").exists()


def test_a_later_run_goes_on_with_what_is_there(server: Server, tmp_path: Path) -> None:
    server.sends = [100_000]
    with pytest.raises(ModelError, match="run the command again"):
        install(server.model(), tmp_path, tries=1)
    assert left(tmp_path) == [f"{NAME}.zip.part"]
    install(server.model(), tmp_path, tries=1)
    assert server.ranges == [None, "bytes=100000-"]
    assert left(tmp_path) == [NAME]


def test_a_server_without_ranges_starts_again(server: Server, tmp_path: Path) -> None:
    server.ignore_range = True
    server.sends = [100_000]
    install(server.model(), tmp_path)
    assert left(tmp_path) == [NAME]


def test_another_sum_is_refused_and_the_download_thrown_away(
    server: Server, tmp_path: Path
) -> None:
    with pytest.raises(ModelError, match="SHA-256") as caught:
        install(server.model(b"something else"), tmp_path)
    assert hashlib.sha256(server.data).hexdigest() in str(caught.value)
    assert left(tmp_path) == []


def test_what_is_there_and_too_long_is_thrown_away(server: Server, tmp_path: Path) -> None:
    (tmp_path / f"{NAME}.zip.part").write_bytes(b"x" * (len(server.data) + 1))
    install(server.model(), tmp_path)
    assert left(tmp_path) == [NAME]


def test_a_silent_server_is_given_up(server: Server, tmp_path: Path) -> None:
    server.sends = [0, 0]
    with pytest.raises(ModelError, match="run the command again"):
        install(server.model(), tmp_path, stall_s=0.05, tries=2)
    assert NAME not in left(tmp_path)


def test_errors_of_the_server(server: Server, tmp_path: Path) -> None:
    server.statuses = [503, 500]
    install(server.model(), tmp_path)
    other = tmp_path / "other"
    server.statuses = [404]
    with pytest.raises(ModelError, match="404"):
        install(server.model(), other)
    assert len(server.ranges) == 4


def test_no_server_at_all(tmp_path: Path) -> None:
    model = Model(NAME, "http://127.0.0.1:9/model.zip", "0" * 64)
    with pytest.raises(ModelError, match="run the command again"):
        install(model, tmp_path)


@pytest.mark.parametrize(
    "name",
    ["../escape", "/etc/escape", f"{NAME}/../../escape", f"{NAME}\\..\\escape", "C:/escape"],
)
def test_nothing_leaves_its_folder(tmp_path: Path, name: str) -> None:
    server = Server(archive({name: b"out"}))
    try:
        with pytest.raises(ModelError, match="outside its folder"):
            install(server.model(), tmp_path / "models")
    finally:
        server.close()
    assert [path.name for path in tmp_path.rglob("*escape*")] == []
    assert NAME not in left(tmp_path / "models")


def test_links_and_broken_archives_are_refused(tmp_path: Path) -> None:
    for data, words in ((archive(link=True), "outside"), (b"no archive" * 100, "unpacked")):
        server = Server(data)
        try:
            with pytest.raises(ModelError, match=words):
                install(server.model(), tmp_path)
        finally:
            server.close()
        assert NAME not in left(tmp_path)
        assert not any(name.endswith(".unpacking") for name in left(tmp_path))
        (tmp_path / f"{NAME}.zip.part").unlink()


def test_a_folder_that_cannot_be_written(server: Server, tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(ModelError, match="cannot be stored"):
        install(server.model(), tmp_path / "file")


def test_names_of_models(tmp_path: Path) -> None:
    assert in_catalogue(None) == CATALOGUE[0] == in_catalogue(CATALOGUE[0].name)
    with pytest.raises(ModelError, match="choose one of"):
        in_catalogue("nothing")
    with pytest.raises(ModelError, match="sweepsay model install"):
        find_model(None, tmp_path / "empty")
    assert all(len(bytes.fromhex(model.sha256)) == 32 for model in CATALOGUE)
    assert all(model.url.startswith("https://") for model in CATALOGUE)


def test_the_command_shows_progress_and_says_where_the_model_is(
    server: Server, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(model_command, "in_catalogue", lambda _name: server.model())
    monkeypatch.setattr(model_command, "models_folder", lambda: tmp_path)
    out, err = io.StringIO(), io.StringIO()
    assert model_command.run_model_install(None, out=out, err=err) == 0
    assert out.getvalue() == f"{tmp_path / NAME}\n"
    assert "100 %" in err.getvalue()
    out, err = io.StringIO(), io.StringIO()
    other = tmp_path / "other"
    monkeypatch.setattr(model_command, "models_folder", lambda: other)
    assert model_command.run_model_install(NAME, sha256="0" * 64, out=out, err=err) == 1
    assert out.getvalue() == ""
    assert "SHA-256" in err.getvalue()
