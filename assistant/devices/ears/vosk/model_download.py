"""One file from a web server to a file here: resumed, timed, limited. Nothing is unpacked.

The only place in the program that opens a connection to another machine.
"""

import errno
import http.client
import os
import re
import shutil
import time
import urllib.error
import urllib.request
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any
from urllib.parse import urlsplit

from assistant.devices.ears.model_faults import ModelError, NoRoom
from assistant.devices.ears.vosk.deadline import Deadline
from assistant.devices.text.lines import harmless

BLOCK = 1 << 16
LARGEST = 3 << 30
"""No archive of a model is larger; common practice, no source."""

NO_END = "the server comes to no end with its answer"

SLOWEST = 1_000
"""Bytes a second; below this for a whole patience, a server counts as stalled."""

# RFC 9110, 14.4 and 8.6: digits without an end are to be expected; no file has more.
_CONTENT_RANGE = re.compile(r"bytes ([0-9]{1,18})-[0-9]{1,18}/([0-9]{1,18}|\*)", re.IGNORECASE)
_ALL_OF_IT = re.compile(r"bytes \*/([0-9]{1,18})", re.IGNORECASE)
_LENGTH = re.compile(r"[0-9]{1,18}")

Progress = Callable[[int, int | None], None]
"""Told the bytes that are there and how many there will be, if that is known."""


@dataclass(frozen=True, slots=True)
class ServerPatience:
    """How long a server is waited for.

    ``stall_s``: seconds without an answer, or with hardly any bytes, after which an attempt
    is given up. ``tries``: attempts in a row that bring nothing. ``pause_s``: before the
    second one, doubled before each further one.
    """

    stall_s: float = 30.0
    tries: int = 4
    pause_s: float = 1.0


class _Stopped(Exception):
    """An attempt ended too early. ``final``: another one would not help."""

    def __init__(self, reason: str, *, final: bool = False) -> None:
        super().__init__(reason)
        self.final = final


class _SafeRedirects(urllib.request.HTTPRedirectHandler):
    """Follows redirects, but never from an encrypted connection to another kind."""

    def http_error_302(
        self, req: urllib.request.Request, fp: IO[bytes], code: int, msg: str, headers: Any
    ) -> Any:
        try:
            return super().http_error_302(req, fp, code, msg, headers)
        except BaseException:
            fp.close()
            raise

    http_error_301 = http_error_303 = http_error_307 = http_error_308 = http_error_302

    def redirect_request(
        self, req: urllib.request.Request, fp: IO[bytes], code: int, msg: str, headers: Any,
        newurl: str,
    ) -> urllib.request.Request | None:  # fmt: skip
        allowed = ("https",) if req.type == "https" else ("http", "https")
        if urlsplit(newurl).scheme not in allowed:
            raise _Stopped(
                f"it sends us to {harmless(newurl):.80}, which is not encrypted", final=True
            )
        return super().redirect_request(req, fp, code, msg, headers, newurl)


def validator_of(part: Path) -> Path:
    """The file beside a half-finished download that says which version of the file it is."""
    return part.with_name(f"{part.name}.version")


def forget(part: Path) -> None:
    """Remove a half-finished download."""
    part.unlink(missing_ok=True)
    validator_of(part).unlink(missing_ok=True)


def download(
    url: str,
    part: Path,
    progress: Progress,
    patience: ServerPatience,
    pause: Callable[[float], None] = time.sleep,
) -> None:
    """Fetch ``url`` into ``part``, going on with what is there of the same version.

    Raises ``ModelError`` when the server does not deliver or the file cannot be stored; what
    has come stays for the next time.
    """
    if not url.startswith(("http://", "https://")):
        raise ModelError(f"{url}: only http and https can be downloaded")
    failures = 0
    while True:
        before = _size(part)
        try:
            return _attempt(url, part, progress, patience.stall_s)
        except _Stopped as stopped:
            if stopped.final:
                raise ModelError(f"{url}: {stopped}; try again later") from stopped
            reason = str(stopped)
        except (OSError, http.client.HTTPException) as error:
            reason = _in_words(error)
        # One that brings something may go on for as long as it does.
        failures = 0 if _size(part) >= before + BLOCK else failures + 1
        if failures >= patience.tries:
            raise ModelError(
                f"{url}: {reason}; what has come is kept: check the network, "
                "then run the command again to go on"
            )
        pause(patience.pause_s * 2 ** max(0, failures - 1))


def _size(path: Path) -> int:
    return path.stat().st_size if path.exists() else 0


def _in_words(error: Exception) -> str:
    reason = getattr(error, "reason", None) or error
    if isinstance(reason, TimeoutError):
        return "the server is silent"
    if isinstance(reason, OSError) and reason.strerror:
        return reason.strerror
    # It may hold what the server sent.
    return harmless(" ".join(str(reason).split()))[:80] or type(reason).__name__


def _attempt(url: str, part: Path, progress: Progress, stall_s: float) -> None:
    request = urllib.request.Request(url, headers={"User-Agent": "sweepsay"})
    there, version = _size(part), _version(part)
    if there and version:
        request.add_header("Range", f"bytes={there}-")
        request.add_header("If-Range", version)
    # A server that says nothing at all is noticed by the single read before.
    with Deadline(2 * stall_s + 0.5) as deadline:
        try:
            _ask(request, deadline, there, part, progress, stall_s)
        except (ValueError, http.client.InvalidURL) as error:
            # An address that is none, by itself or in a redirect.
            reason = f"that is not an address ({_in_words(error)})"
            raise _Stopped(reason, final=not deadline.passed) from error
        except (OSError, http.client.HTTPException) as error:
            if not deadline.passed or isinstance(error, TimeoutError):
                raise
            raise _Stopped(NO_END) from error
        if deadline.passed:
            # A connection that was cut looks like one that came to its end.
            raise _Stopped(NO_END)


def _ask(
    request: urllib.request.Request, deadline: Deadline, there: int, part: Path,
    progress: Progress, stall_s: float,
) -> None:  # fmt: skip
    opener = urllib.request.build_opener(_SafeRedirects, *deadline.handlers())
    try:
        answer = opener.open(request, timeout=stall_s)
    except urllib.error.HTTPError as error:
        with error:
            if error.code == 416:
                # The version was checked first, so the same size is the same file.
                told = _ALL_OF_IT.fullmatch(error.headers.get("Content-Range", ""))
                if told and int(told[1]) == there:
                    return
                forget(part)
                raise _Stopped("what was there did not fit") from error
            final = error.code < 500 and error.code not in (408, 429)
            raise _Stopped(f"the server answers {error.code}", final=final) from error
    with answer:
        begin, total = _extent(answer, there, part)
        if total is not None:
            _room(part, total, total - begin)
        deadline.extend()
        _receive(answer, part, begin, total, progress, stall_s, deadline)


def _extent(answer: http.client.HTTPResponse, there: int, part: Path) -> tuple[int, int | None]:
    """Where the bytes of this answer begin in the file, and the file's size if it is told."""
    if answer.status == 206:
        told = _CONTENT_RANGE.fullmatch(answer.headers.get("Content-Range", ""))
        if told is None or int(told[1]) != there:
            forget(part)
            raise _Stopped("the server sent another part than was asked for")
        return there, None if told[2] == "*" else int(told[2])
    length = answer.headers.get("Content-Length")
    if length is None or answer.headers.get("Transfer-Encoding"):
        # RFC 9112, 6.3: the encoding overrides the length.
        return 0, None
    if not _LENGTH.fullmatch(length.strip()):
        # RFC 9112, 6.3: such an answer cannot be told from one that was cut off.
        raise _Stopped("it states a length that is none", final=True)
    return 0, int(length)


def _version(part: Path) -> str:
    try:
        return validator_of(part).read_text(encoding="ascii").strip()
    except (FileNotFoundError, UnicodeDecodeError):
        return ""


def _receive(
    answer: http.client.HTTPResponse, part: Path, begin: int, total: int | None,
    progress: Progress, stall_s: float, deadline: Deadline,
) -> None:  # fmt: skip
    with _store(part, begin) as stream:
        if not begin:
            _remember(part, answer)
        there = mark = begin
        since = time.monotonic()
        # One read of the socket each, so that a trickle is seen and shown.
        while block := answer.read1(BLOCK):
            deadline.extend()
            there += len(block)
            if there > (LARGEST if total is None else total):
                forget(part)
                raise _Stopped("it sends more than it should", final=True)
            _write(stream, block)
            progress(there, total)
            if time.monotonic() - since > stall_s:
                if there - mark < SLOWEST * stall_s:
                    raise _Stopped("the server is far too slow")
                mark, since = there, time.monotonic()
    if total is not None and there < total:
        raise _Stopped("the connection closed early")


def _remember(part: Path, answer: http.client.HTTPResponse) -> None:
    """Keep what tells this version of the file from another one; a weak tag does not."""
    tag = answer.headers.get("ETag", "")
    version = tag if tag.startswith('"') else answer.headers.get("Last-Modified", "")
    try:
        validator_of(part).write_text(version if version.isascii() else "", encoding="ascii")
    except OSError as error:
        raise not_stored(validator_of(part), error) from error


def _store(part: Path, begin: int) -> IO[bytes]:
    try:
        return part.open("ab" if begin else "wb", buffering=0)
    except OSError as error:
        raise not_stored(part, error) from error


def _write(stream: IO[bytes], block: bytes) -> None:
    left = memoryview(block)
    try:
        while left:
            left = left[stream.write(left) :]
    except OSError as error:
        raise not_stored(Path(stream.name), error) from error


def _room(part: Path, total: int, missing: int) -> None:
    if total > LARGEST:
        raise _Stopped(f"its {total / 1e9:.1f} GB are more than any model has", final=True)
    check_room(part.parent, missing)


def check_room(folder: Path, wanted: int) -> None:
    """Raise ``ModelError`` when ``wanted`` bytes do not fit on the folder's disk."""
    free = shutil.disk_usage(folder).free
    if wanted > free:
        raise NoRoom(
            f"{folder}: {wanted / 1e6:.0f} MB are needed and {free / 1e6:.0f} MB are free; "
            "free some space, then run the command again"
        )


def not_stored(path: Path, error: OSError) -> NoRoom:
    """The one line for a file that cannot be written."""
    full = error.errno in (errno.ENOSPC, errno.EDQUOT)
    remedy = "free some space" if full else "check the folder's permissions"
    reason = error.strerror or os.strerror(error.errno or errno.EIO)
    return NoRoom(f"cannot store {path}: {reason}; {remedy}, then run the command again")
