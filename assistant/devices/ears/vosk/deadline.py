"""A time limit on a whole exchange with a web server, not on each read of it alone.

A server that sends a byte of its header now and then, or one interim answer after another
(RFC 9110, 15.2), keeps every single read within its limit, and the reader for ever.
"""

import http.client
import socket
import ssl
import threading
import time
import urllib.request
from contextlib import suppress
from types import TracebackType
from typing import Any

AGAIN_S = 0.2
"""How often connections that are made late are cut, too."""


class Deadline:
    """Cuts the connections that were made through its handlers when nothing comes in time.

    ``extend`` puts the end off by the limit from now; ``passed`` says whether it was reached.
    The reader then meets the end of its connection.
    """

    def __init__(self, limit_s: float) -> None:
        self.limit_s = limit_s
        self.passed = False
        self._until = time.monotonic() + limit_s
        self._sockets: list[socket.socket] = []
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._watch, name="deadline", daemon=True)

    def __enter__(self) -> "Deadline":
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._over.set()
        self._thread.join()
        # urllib leaves open what an error came through, such as a redirect to no address.
        for each in self._sockets:
            each.close()

    def extend(self) -> None:
        """Something has come."""
        self._until = time.monotonic() + self.limit_s

    def handlers(self) -> tuple[urllib.request.BaseHandler, ...]:
        """What opens http and https addresses within the limit."""
        return _Plain(self._sockets), _Encrypted(self._sockets)

    def _watch(self) -> None:
        while (left := self._until - time.monotonic()) > 0:
            if self._over.wait(left):
                return
        self.passed = True
        while True:
            for each in self._sockets:
                # One that is closed already needs no more.
                with suppress(OSError):
                    each.shutdown(socket.SHUT_RDWR)
            if self._over.wait(AGAIN_S):
                return


def _noting(connection: http.client.HTTPConnection, sockets: list[socket.socket]) -> None:
    """Note the socket of a connection as soon as it is made: before it is encrypted."""
    connect = connection._create_connection  # type: ignore[attr-defined]

    def noted(*given: Any, **named: Any) -> socket.socket:
        made: socket.socket = connect(*given, **named)
        sockets.append(made)
        return made

    connection._create_connection = noted  # type: ignore[attr-defined]


class _Plain(urllib.request.HTTPHandler):
    def __init__(self, sockets: list[socket.socket]) -> None:
        super().__init__()
        self._sockets = sockets

    def http_open(self, req: urllib.request.Request) -> http.client.HTTPResponse:
        def made(host: str, **given: Any) -> http.client.HTTPConnection:
            connection = http.client.HTTPConnection(host, **given)
            _noting(connection, self._sockets)
            return connection

        return self.do_open(made, req)


class _Encrypted(urllib.request.HTTPSHandler):
    def __init__(self, sockets: list[socket.socket]) -> None:
        super().__init__()
        self._sockets = sockets
        self._certificates = ssl.create_default_context()

    def https_open(self, req: urllib.request.Request) -> http.client.HTTPResponse:
        sockets = self._sockets

        class Connection(http.client.HTTPSConnection):
            def connect(self) -> None:
                super().connect()
                # Encrypting makes another socket of it.
                sockets.append(self.sock)

        def made(host: str, **given: Any) -> Connection:
            connection = Connection(host, **{**given, "context": self._certificates})
            _noting(connection, sockets)
            return connection

        return self.do_open(made, req)
