"""Several jobs of one machine: their tilts side by side, brought to one diameter."""

import io
import re
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader

from assistant.commands.job import job_trend
from assistant.dialogue.messages import Event, Started
from assistant.metrology.lengths import Length
from assistant.records.faults import RecordError
from assistant.records.journal.journal import Journal
from assistant.records.report.html_page import html_page
from assistant.records.report.pdf_page import pdf_page
from assistant.records.report.trend import trend_of
from tests.records.jobs import corrected, record, rehearsed
from tests.records.test_report import _Page


def _of(seed: int, day: int, **changes: object) -> tuple[Event, ...]:
    first, *rest = rehearsed(seed).events
    assert isinstance(first, Started)
    profile = replace(first.profile, **changes)  # type: ignore[arg-type]
    return (replace(first, at=f"2031-05-{day:02}T08:00:00Z", profile=profile), *rest)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "jobs.db"
    record(path, _of(1, 1), _of(2, 2), corrected())
    return path


def test_every_measured_job_is_there_as_found_and_as_left(path: Path) -> None:
    with Journal.open(path, write=False) as journal:
        document = trend_of(journal, "drill press")
    page = _Page(html_page(document))
    assert page.open == []
    for seed in (1, 2):
        state = rehearsed(seed).state
        for answer in (state.as_found, state.as_left):
            assert answer is not None
            assert f"{answer.tilt:.1f} ± {answer.expanded_uncertainty:.1f}" in page.text
    assert "2 jobs from 1 May 2031 to 2 May 2031" in page.text
    assert "job-corrected" not in page.text
    text = " ".join(PdfReader(io.BytesIO(pdf_page(document))).pages[0].extract_text().split())
    assert "How it was found and how it was left" in text


def test_another_diameter_is_brought_to_that_of_the_newest_job(tmp_path: Path) -> None:
    """Tilt over a sweep goes with its diameter: twice as wide, twice as much (derived)."""
    path = tmp_path / "jobs.db"
    newest = _of(2, 2, sweep_diameter=Length.of(20, "in"))
    record(path, _of(1, 1), newest)
    with Journal.open(path, write=False) as journal:
        text = _Page(html_page(trend_of(journal, "drill press"))).text
    old, new = rehearsed(1).state.as_found, rehearsed(2).state.as_found
    assert old is not None
    assert new is not None
    row = re.search(r"job-1 1 May 2031 ([0-9.]+) ±", text)
    assert row is not None
    assert float(row[1]) == pytest.approx(2 * old.tilt, abs=0.051)
    row = re.search(r"job-2 2 May 2031 ([0-9.]+) ±", text)
    assert row is not None
    assert float(row[1]) == pytest.approx(new.tilt, abs=0.051)


def test_a_machine_without_jobs_says_which_there_are(path: Path) -> None:
    known = "machines in the record: drill press"
    with Journal.open(path) as journal, pytest.raises(RecordError, match=known):
        trend_of(journal, "mill\x1b[2J")
    empty = path.with_name("new.db")
    with Journal.open(empty) as journal, pytest.raises(RecordError, match="none"):
        trend_of(journal, "mill")


def test_many_jobs_make_a_page_whose_words_do_not_collide(tmp_path: Path) -> None:
    path = tmp_path / "jobs.db"
    events = rehearsed(1).events
    first = events[0]
    assert isinstance(first, Started)
    record(path, *((replace(first, job=f"job-{k}"), *events[1:18]) for k in range(40)))
    with Journal.open(path) as journal:
        page = html_page(trend_of(journal, "drill press"))
    drawing = re.findall(r"<svg.*?</svg>", page, re.DOTALL)[-1]
    assert drawing.count("4 March 2024</text>") <= 16


def test_the_command_writes_page_and_paper(path: Path, tmp_path: Path) -> None:
    out, err = io.StringIO(), io.StringIO()
    assert job_trend(path, "drill press", tmp_path / "t", as_json=False, out=out, err=err) == 0
    names = [Path(line).name for line in out.getvalue().splitlines()]
    assert names == ["trend-drill-press.html", "trend-drill-press.pdf"]
    assert all((tmp_path / "t" / name).stat().st_size > 1000 for name in names)
