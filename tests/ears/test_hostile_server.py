"""A web server that answers against RFC 9110 and RFC 9112, and archives that are bombs."""

import io
import random
import socket
import threading
import time
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest

from assistant.devices.ears.model_faults import ModelError
from assistant.devices.ears.vosk.model_archive import MOST_EXPANDED, NEEDED, unpack
from assistant.devices.ears.vosk.model_download import ServerPatience, download, validator_of

DIGITS = b"1" * 5_000
OK = b"HTTP/1.1 200 OK\r\n"
PATIENCE = ServerPatience(stall_s=0.2, tries=1)

Answer = Callable[[socket.socket], None]


@contextmanager
def serving(answer: Answer) -> Iterator[str]:
    """The address of a server that reads a request and then does this with the connection."""
    over = threading.Event()
    with socket.create_server(("127.0.0.1", 0)) as door:

        def serve() -> None:
            while not over.is_set():
                with suppress(OSError):
                    connection, _ = door.accept()
                    with connection:
                        connection.recv(65_536)
                        answer(connection)

        thread = threading.Thread(target=serve, daemon=True)
        thread.start()
        yield f"http://127.0.0.1:{door.getsockname()[1]}/model.zip"
        over.set()
        door.shutdown(socket.SHUT_RDWR)
    thread.join(5)


def sends(*parts: bytes) -> Answer:
    return lambda connection: connection.sendall(b"".join(parts))


def redirects(address: bytes) -> Answer:
    return sends(b"HTTP/1.1 302 Found\r\nContent-Length: 0\r\nLocation: ", address, b"\r\n\r\n")


def drips(begin: bytes, drop: bytes, pause_s: float = 0.02) -> Answer:
    """Sends this, and then one of these after another for ever."""

    def answer(connection: socket.socket) -> None:
        connection.sendall(begin)
        while True:
            connection.sendall(drop)
            time.sleep(pause_s)

    return answer


def refused(answer: Answer, part: Path) -> str:
    """What is said of a server that answers so; it takes no longer than the patience allows."""
    began = time.monotonic()
    with serving(answer) as url, pytest.raises(ModelError) as caught:
        download(url, part, lambda *_: None, PATIENCE)
    # Not a figure to be reached: without a limit it would never end.
    assert time.monotonic() - began < 30
    told = str(caught.value)
    assert told.isprintable()
    assert len(told) < 400
    return told


@pytest.mark.parametrize(
    ("length", "says"),
    [
        (DIGITS, "a length that is none"),
        (b"-5", "a length that is none"),
        (b"+5", "a length that is none"),
        (b"5, 6", "a length that is none"),
        (b"0x10", "a length that is none"),
        ("\u0661\u0662".encode(), "a length that is none"),
        (b"9" * 18, "more than any model has"),
    ],
)
def test_a_length_is_a_number_that_can_be(tmp_path: Path, length: bytes, says: str) -> None:
    """RFC 9110, 8.6: digits only, and integer overflow is to be prevented; RFC 9112, 6.3, 5: an
    invalid length is an error that cannot be recovered from."""
    answer = sends(OK, b"Content-Length: ", length, b"\r\n\r\nxxxxx")
    assert says in refused(answer, tmp_path / "part")


def test_the_encoding_overrides_the_length(tmp_path: Path) -> None:
    """RFC 9112, 6.3, 3."""
    head = b"Transfer-Encoding: chunked\r\nContent-Length: 3\r\n\r\n"
    with serving(sends(OK, head, b"5\r\nmodel\r\n0\r\n\r\n")) as url:
        download(url, tmp_path / "part", lambda *_: None, PATIENCE)
    assert (tmp_path / "part").read_bytes() == b"model"


@pytest.mark.parametrize(
    "told",
    [
        b"bytes 3-9/" + DIGITS, b"bytes " + DIGITS + b"-9/10", b"bytes 3-/10", b"bytes */10", b"",
        b"lines 3-9/10", b"bytes 0-9/10",
    ],
    ids=lambda told: told[:20],
)  # fmt: skip
def test_a_part_is_the_one_that_was_asked_for(tmp_path: Path, told: bytes) -> None:
    """RFC 9110, 14.4: a Content-Range that is invalid is not to be combined with what is there."""
    part = tmp_path / "part"
    part.write_bytes(b"abc")
    validator_of(part).write_text('"1"')
    head = b"HTTP/1.1 206 Partial Content\r\nContent-Length: 7\r\nContent-Range: "
    refused(sends(head, told, b"\r\n\r\nxxxxxxx"), part)
    assert not part.exists() or b"abcx" not in part.read_bytes()


@pytest.mark.parametrize(
    "address",
    [
        b"http://[bad/", b"http://[::1/model", "http://\u043c\u043e\u0434\u0435\u043b\u044c.test/".encode(),
        b"http://" + b"a" * 300 + b".test/", b"http://host:port/", b"http://host:99999999/",
        b"http://host/a b\tc", b"http:///", b"ftp://host/", b"file:///etc/passwd", b"//", b"http://",
    ],
    ids=lambda address: ascii(address[:20]),
)  # fmt: skip
def test_a_redirect_to_no_address_is_one_line(tmp_path: Path, address: bytes) -> None:
    """RFC 9110, 10.2.2: Location is a URI reference; RFC 1035, 2.3.4: a label has 63 octets."""
    refused(redirects(address), tmp_path / "part")


def test_redirects_in_a_circle_end(tmp_path: Path) -> None:
    """RFC 9110, 15.4: a client should detect cyclical redirections."""
    refused(redirects(b"/model.zip"), tmp_path / "part")


@pytest.mark.parametrize(
    "answer",
    [
        drips(OK + b"X-Slow: ", b"."),
        drips(b"", b"HTTP/1.1 100 Continue\r\n\r\n", 0.0),
        drips(b"", b"HTTP/1.1 103 Early Hints\r\n\r\n", 0.0),
        drips(OK + b"Transfer-Encoding: chunked\r\n\r\n", b"0"),
        drips(OK, b"X-Header: y\r\n"),
        drips(b"", b"\r\n"),
    ],
    ids=["a header for ever", "100 for ever", "103 for ever", "a chunk's length for ever",
         "headers for ever", "empty lines for ever"],
)  # fmt: skip
def test_what_never_comes_to_an_end_is_given_up(tmp_path: Path, answer: Answer) -> None:
    """RFC 9110, 15.2: one or more interim answers may come; nothing says that they end."""
    refused(answer, tmp_path / "part")


# -- archives ------------------------------------------------------------------------------------


def _archive(path: Path, method: int, content: bytes) -> bytes:
    with zipfile.ZipFile(path, "w", method) as packed:
        packed.writestr(f"model/{NEEDED}", content)
    return path.read_bytes()


@pytest.mark.parametrize("method", [zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_a_damaged_member_is_one_line(tmp_path: Path, method: int) -> None:
    path = tmp_path / "model.zip"
    content = random.Random(1).randbytes(20_000)
    whole = _archive(path, method, content)
    start = whole.index(NEEDED.encode()) + len(NEEDED)
    damaged = 0
    for place in range(start, whole.index(b"PK\1\2"), 1_500):
        data = bytearray(whole)
        data[place] ^= 0xFF
        path.write_bytes(data)
        # Whatever else it raised would be a traceback.
        try:
            unpack(path, tmp_path / "scratch", "model")
        except ModelError:
            damaged += 1
    assert damaged > 8


def test_a_bomb_is_not_unpacked(tmp_path: Path) -> None:
    path = tmp_path / "model.zip"
    size = len(_archive(path, zipfile.ZIP_DEFLATED, bytes(20_000_000)))
    assert MOST_EXPANDED * size < 20_000_000
    with pytest.raises(ModelError, match="far larger than a model"):
        unpack(path, tmp_path / "scratch", "model")
    assert not (tmp_path / "scratch").exists()


def test_members_that_lie_on_each_other_are_no_way_round(tmp_path: Path) -> None:
    """Many names for the same few bytes: each member is harmless, all together are not."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr(f"model/{NEEDED}", bytes(range(256)) * 40)
        (first,) = packed.filelist
        for number in range(5_000):
            again = zipfile.ZipInfo(f"model/{number}")
            for name in ("header_offset", "compress_size", "file_size", "CRC", "compress_type"):
                setattr(again, name, getattr(first, name))
            packed.filelist.append(again)
        packed._didModify = True  # type: ignore[attr-defined]
    path = tmp_path / "model.zip"
    path.write_bytes(out.getvalue())
    assert path.stat().st_size < 600_000
    with pytest.raises(ModelError, match="far larger than a model"):
        unpack(path, tmp_path / "scratch", "model")
