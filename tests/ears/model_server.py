"""A web server on this machine that sends one file, well or badly, and archives for it."""

import hashlib
import io
import threading
import zipfile
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import numpy as np

from assistant.devices.ears.vosk.model_store import Model

NAME = "vosk-model-test"


def archive(
    extra: dict[str, bytes] | None = None, link: bool = False, model: str = "am/final.mdl"
) -> bytes:
    """A zip of a model's form, about 400 kB that cannot be compressed."""
    stream = io.BytesIO()
    noise = np.random.default_rng(1).integers(0, 256, 400_000, dtype=np.uint8).tobytes()
    with zipfile.ZipFile(stream, "w") as packed:
        packed.writestr(f"{NAME}/{model}", noise)
        packed.writestr(f"{NAME}/README", b"for tests")
        for name, data in (extra or {}).items():
            packed.writestr(name, data)
        if link:
            member = zipfile.ZipInfo(f"{NAME}/link")
            member.external_attr = 0o120777 << 16
            packed.writestr(member, "/etc")
    return stream.getvalue()


class Server:
    """One file; what is in the lists is used up, one for each answer.

    ``sends``: how much is sent before the connection closes (0: nothing, and it stays
    open). ``statuses``: errors to answer with. ``asked``: Range and If-Range of each
    request.
    """

    def __init__(self, data: bytes) -> None:
        self.data, self.tag = data, '"1"'
        self.sends: list[int | None] = []
        self.statuses: list[int] = []
        self.asked: list[tuple[str | None, str | None]] = []
        self.ranges, self.lengths = True, True
        self.wrong_part = False
        self.length: int | None = None
        self.redirect = ""
        self.gate = threading.Event()
        server = self

        class Handler(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                server.answer(self)

            def log_message(self, format: str, *args: object) -> None:
                pass

        self._http = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.url = f"http://127.0.0.1:{self._http.server_address[1]}/{NAME}.zip"
        self._thread = threading.Thread(target=self._http.serve_forever, args=(0.01,))
        self._thread.start()

    def answer(self, to: BaseHTTPRequestHandler) -> None:
        """One answer by RFC 9110 sections 13.1.5 and 14, but for what was asked to be wrong."""
        wanted, version = to.headers.get("Range"), to.headers.get("If-Range")
        self.asked.append((wanted, version))
        if self.statuses:
            to.send_error(self.statuses.pop(0))
            return
        if self.redirect:
            to.send_response(302)
            to.send_header("Location", self.redirect)
            to.end_headers()
            return
        whole = len(self.data)
        start = 0
        if wanted and self.ranges and version in (None, self.tag):
            start = int(wanted.removeprefix("bytes=").removesuffix("-"))
            if start >= whole:
                to.send_response(416)
                to.send_header("Content-Range", f"bytes */{whole}")
                to.send_header("Content-Length", "0")
                to.end_headers()
                return
        body = self.data[start:]
        to.send_response(206 if start else 200)
        if start:
            begin = start - 1 if self.wrong_part else start
            to.send_header("Content-Range", f"bytes {begin}-{whole - 1}/{whole}")
        if self.tag:
            to.send_header("ETag", self.tag)
        if self.lengths:
            to.send_header("Content-Length", str(self.length or len(body)))
        to.end_headers()
        limit = self.sends.pop(0) if self.sends else None
        to.wfile.write(body[:limit])
        if limit == 0:
            self.gate.wait(10)

    def close(self) -> None:
        """Stop; answers that hang are let go."""
        self.gate.set()
        self._http.shutdown()
        self._thread.join()
        self._http.server_close()

    def model(self, data: bytes | None = None) -> Model:
        """The served file as a model of the catalogue, with the sum of ``data``."""
        return Model(NAME, self.url, sha256=hashlib.sha256(data or self.data).hexdigest())
