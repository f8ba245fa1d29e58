"""The report as PDF: its text is read back by another library."""

import io
from dataclasses import replace

import pytest
from fpdf import FPDF
from pypdf import PdfReader

from assistant.dialogue.messages import Started
from assistant.records.journal.history import replay
from assistant.records.journal.journal import JobRow
from assistant.records.report.pdf_page import plain
from grammar.scale import System
from tests.records.jobs import corrected, rehearsed
from tests.records.pages import report_pdf
from tests.records.test_report import HOSTILE, history


def _text(pdf: bytes) -> str:
    reader = PdfReader(io.BytesIO(pdf), strict=True)
    return " ".join(" ".join(page.extract_text() for page in reader.pages).split())


@pytest.mark.parametrize("system", ["thou", "mm"])
def test_the_text_of_the_pdf_is_that_of_the_job(system: System) -> None:
    told = history(rehearsed(2, system).events)
    text = _text(report_pdf(told))
    size, places, unit = (1.0, 1, "thou") if system == "thou" else (0.01, 3, "mm")
    assert told.as_found is not None
    assert told.as_left is not None
    for answer in (told.as_found, told.as_left):
        wide = answer.expanded_uncertainty * size
        assert f"{answer.tilt * size:.{places}f} ± {wide:.{places}f} {unit}" in text
    for kept in told.readings:
        value = float(kept.taken.value) * size
        assert (
            f"{kept.taken.station} {value:+.{2 if system == 'mm' else 1}f}".replace(
                "+", "" if not value else "+"
            )
            in text
        )
    for word in ("Square within", "As found", "As left", "Cautions", "Unplug", "manual", "Sheet 2"):
        assert word in text
    assert text.index("Square within") < text.index("As found") < text.index("Readings, in the")


def test_a_reading_that_was_taken_back_stands_in_brackets() -> None:
    text = _text(report_pdf(history(corrected(), closed=False)))
    assert "(+3.0)" in text
    assert "taken back: correction" in text
    assert "No complete sweep yet." in text


def test_the_same_job_gives_the_same_bytes() -> None:
    events = rehearsed(1).events
    assert report_pdf(history(events)) == report_pdf(history(events))


def test_the_file_says_what_it_is() -> None:
    reader = PdfReader(io.BytesIO(report_pdf(history(rehearsed(1).events))))
    assert reader.metadata is not None
    assert reader.metadata.title == "drill press, 4 March 2024"
    assert all(round(float(page.mediabox.width)) == 595 for page in reader.pages)  # A4 in points
    assert "/JavaScript" not in str(reader.trailer["/Root"])


@pytest.mark.parametrize("name", HOSTILE, ids=range(len(HOSTILE)))
def test_any_name_gives_a_pdf(name: str) -> None:
    first, *rest = rehearsed(1).events
    assert isinstance(first, Started)
    events = (replace(first, profile=replace(first.profile, name=name)), *rest)
    told = replay(JobRow("job-1", name, name, name, len(events)), events)
    assert "As left" in _text(report_pdf(told))


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("−3 ± 1", "-3 ± 1"),
        ("Łódź", "Lódz"),
        ("プレス", "???"),
        ("naïve", "naïve"),
        ("a\u0301", "a"),
    ],
)
def test_letters_beyond_latin_1_become_plain_ones(text: str, shown: str) -> None:
    got = plain(text)
    assert got == shown
    got.encode("latin-1")


def test_long_facts_are_broken_inside_their_card_and_signs_are_letters_of_the_font() -> None:
    pdf = report_pdf(history(rehearsed(2).events))
    right_edges: list[float] = []
    letters = FPDF(unit="pt")

    def seen(text: str, _cm: object, matrix: list[float], font: object, size: float) -> None:
        if text.strip() and matrix[4] > 300:
            # What begins in the right half is in a card.
            assert isinstance(font, dict)
            bold = "B" if str(font["/BaseFont"]).endswith("-Bold") else ""
            letters.set_font("helvetica", style=bold, size=size)
            right_edges.append(matrix[4] + letters.get_string_width(text.strip()))

    page = PdfReader(io.BytesIO(pdf)).pages[0]
    text = page.extract_text(visitor_text=seen)
    assert "At the work" in text
    assert "?" not in text
    assert max(right_edges) < float(page.mediabox.width) - 42  # the margin, 15 mm
