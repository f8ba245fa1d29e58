"""``python -m tests.pictures.report_picture``: README's picture of a report, by Chromium.

The job is the one of README. Needs Debian's packages ``chromium`` and ``imagemagick``.
"""

import shutil
import subprocess
import tempfile
from pathlib import Path

from assistant.records.history import replay
from assistant.records.journal import JobRow
from tests.documents import AT, job_of_readme
from tests.records.pages import report_html

TARGET = Path(__file__).with_name("report.png")

SIZE = (900, 1000)
"""In pixels: verdict, as found and as left."""


def main() -> None:
    """Write the page, have it drawn, keep its top."""
    events = job_of_readme()
    row = JobRow("example", events[0].profile.name, AT, AT, len(events))  # type: ignore[union-attr]
    for program in ("chromium", "convert"):
        if shutil.which(program) is None:
            raise SystemExit(f"{program} is missing: apt install chromium imagemagick")
    with tempfile.TemporaryDirectory() as folder:
        page, shot = Path(folder) / "report.html", Path(folder) / "report.png"
        page.write_text(report_html(replay(row, events)), encoding="utf-8")
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


if __name__ == "__main__":
    main()
