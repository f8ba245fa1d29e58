"""``python -m tests.pictures.report_picture``: README's picture of a report, by Chromium.

The job is the one of README. Needs Debian's packages ``chromium`` and ``imagemagick``.
"""

import hashlib
import os
import shutil
import struct
import subprocess
import tempfile
import time
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from assistant.records.journal.history import replay
from assistant.records.journal.journal import JobRow
from tests.documents import AT, job_of_readme
from tests.records.pages import report_html

TARGET = Path(__file__).with_name("report.png")

SIZE = (900, 1000)
"""In pixels: verdict, as found and as left."""


@contextmanager
def _in_utc() -> Iterator[None]:
    """Local time is UTC meanwhile, so that the picture is the same wherever it is made."""
    zone = os.environ.get("TZ")
    try:
        os.environ["TZ"] = "UTC"
        _set_zone()
        yield
    finally:
        os.environ.pop("TZ")
        if zone is not None:
            os.environ["TZ"] = zone
        _set_zone()


def _set_zone() -> None:
    # Windows has none to set.
    if hasattr(time, "tzset"):
        time.tzset()


def page_of_report() -> str:
    """The page that is drawn."""
    events = job_of_readme()
    row = JobRow("example", events[0].profile.name, AT, AT, len(events))  # type: ignore[union-attr]
    with _in_utc():
        return report_html(replay(row, events))


def digest(page: str) -> str:
    """SHA-256 of what the picture shows of the page: its top, with the style."""
    return hashlib.sha256(page[: page.index("Sweep by sweep")].encode()).hexdigest()


def drawn_from(picture: Path = TARGET) -> str:
    """The digest that the picture was kept with: a text of PNG's (PNG specification, 11.3.4)."""
    data, at = picture.read_bytes(), 8
    while at < len(data):
        length, kind = struct.unpack(">I4s", data[at : at + 8])
        if kind == b"tEXt":
            return data[at + 8 : at + 8 + length].partition(b"\0")[2].decode("latin-1")
        at += 12 + length
    return ""


def main() -> None:
    """Write the page, have it drawn, keep its top."""
    html = page_of_report()
    for program in ("chromium", "convert"):
        if shutil.which(program) is None:
            raise SystemExit(f"{program} is missing: apt install chromium imagemagick")
    with tempfile.TemporaryDirectory() as folder:
        page, shot = Path(folder) / "report.html", Path(folder) / "report.png"
        page.write_text(html, encoding="utf-8")
        subprocess.run(
            ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic",
             "--no-first-run", "--disable-background-networking", "--disable-component-update",
             "--disable-sync", f"--user-data-dir={folder}/profile", "--hide-scrollbars",
             f"--window-size={SIZE[0]},{SIZE[1]}", f"--screenshot={shot}", page.as_uri()],
            check=True, capture_output=True,
        )  # fmt: skip
        subprocess.run(
            ["convert", shot, "+dither", "-colors", "96", "-strip", f"PNG8:{TARGET}"], check=True
        )
    _sign(TARGET, digest(html))


def _sign(picture: Path, text: str) -> None:
    """Put a text chunk behind the header of a PNG, which is 33 bytes long."""
    data, body = picture.read_bytes(), b"tEXtSource\0" + text.encode("latin-1")
    chunk = struct.pack(">I", len(body) - 4) + body + struct.pack(">I", zlib.crc32(body))
    picture.write_bytes(data[:33] + chunk + data[33:])


if __name__ == "__main__":
    main()
