"""The sheet for a machine: one side of paper, and a code that another library reads back."""

import io
import json
import re
import shutil
import subprocess
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import html5lib
import pytest
import zxingcpp
from PIL import Image, ImageDraw
from pypdf import PdfReader

from assistant.commands.job import job_sheet
from assistant.dialogue.messages import Started
from assistant.metrology.solve import solve
from assistant.records.readings.readings_file import read_problem
from assistant.records.report.html_page import html_page
from assistant.records.report.markup import Markup
from assistant.records.report.pdf_page import pdf_page
from assistant.records.report.sheet_code import QUIET, code_drawing, code_text
from assistant.records.report.wall_sheet import sheet_of
from assistant.records.report.wording import Words
from grammar.scale import System
from tests.records.jobs import corrected, record, rehearsed
from tests.records.test_report import history

PRINTER = shutil.which("pdftoppm")
CHROMIUM = shutil.which("chromium")


def _pixels(drawing: Markup, scale: int = 4) -> Image.Image:
    """The code's own runs of modules, drawn without any of our page code."""
    box = re.search(r'viewBox="0 0 (\d+) \1"', drawing.text)
    assert box is not None
    size = int(box[1])
    image = Image.new("L", (size * scale, size * scale), 255)
    pen = ImageDraw.Draw(image)
    for x, y, wide in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\3z", drawing.text):
        left, top = int(x) * scale, int(y) * scale
        pen.rectangle((left, top, left + int(wide) * scale - 1, top + scale - 1), fill=0)
    return image


@pytest.mark.parametrize("system", ["thou", "mm"])
def test_the_code_read_back_is_a_readings_file_of_the_last_sweep(
    system: System, tmp_path: Path
) -> None:
    told = history(rehearsed(2, system).events)
    text = code_text(told, Words(told.state.profile))
    assert text is not None
    (code,) = zxingcpp.read_barcodes(_pixels(code_drawing(text)))
    assert code.format == zxingcpp.BarcodeFormat.QRCode
    assert code.text == text
    path = tmp_path / "scanned.toml"
    path.write_text(code.text, encoding="utf-8")
    problem = read_problem(str(path), io.StringIO())
    left, counts = told.as_left, 1.0 if system == "thou" else 0.01
    assert left is not None
    called = [float(taken.value) * counts for taken in told.state.sweeps[-1].readings]
    read = [float(reading.value.to(problem.unit)) for reading in problem.readings]
    assert read == pytest.approx(called[:4])
    # The job knows besides what its other sweeps showed: the last by itself says it less surely.
    answer = solve(problem)
    within = answer.expanded_uncertainty / 2
    assert answer.front_minus_back == pytest.approx(left.front_minus_back * counts, abs=within)
    assert answer.right_minus_left == pytest.approx(left.right_minus_left * counts, abs=within)


def test_the_code_keeps_its_white_border() -> None:
    drawing = code_drawing("a")
    starts = re.findall(r"M(\d+) (\d+)h", drawing.text)
    assert min(int(x) for x, _ in starts) == min(int(y) for _, y in starts) == QUIET == 4


def test_a_name_from_elsewhere_cannot_break_out_of_the_code() -> None:
    plain = history(rehearsed(2).events)
    told = replace(plain, row=replace(plain.row, machine='drill"\nunit = "mm" [x]'))
    text = code_text(told, Words(told.state.profile))
    assert text is not None
    assert text.count("unit =") == 2
    assert [line for line in text.splitlines() if line.startswith("unit")] == ['unit = "thou"']


def test_the_sheet_is_one_side_of_paper_with_everything_on_it() -> None:
    told = history(rehearsed(2).events)
    reader = PdfReader(io.BytesIO(pdf_page(sheet_of(told))), strict=True)
    assert len(reader.pages) == 1
    text = " ".join(reader.pages[0].extract_text().split())
    for word in ("drill press", "Square within", "As found", "As left", "Shim", "tilt bolt",
                 "Again", "unplug", "manual", f"Job {told.row.id}"):  # fmt: skip
        assert word in text
    assert told.as_left is not None
    assert Words(told.state.profile).tilt(told.as_left) in text


def test_a_job_without_a_sweep_still_makes_a_sheet() -> None:
    told = history(corrected(), closed=False)
    page = html_page(sheet_of(told))
    assert "No complete sweep yet." in page
    assert "<svg" not in page
    assert len(PdfReader(io.BytesIO(pdf_page(sheet_of(told)))).pages) == 1


def test_the_page_is_whole_html() -> None:
    parser = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False)
    tree = parser.parse(html_page(sheet_of(history(rehearsed(2).events))))
    assert tree.find(".//dl") is not None
    assert not parser.errors


@pytest.mark.skipif(PRINTER is None, reason="pdftoppm not installed (apt install poppler-utils)")
def test_the_code_is_read_from_the_printed_sheet(tmp_path: Path) -> None:
    told = history(rehearsed(2).events)
    (tmp_path / "sheet.pdf").write_bytes(pdf_page(sheet_of(told)))
    subprocess.run(
        [str(PRINTER), "-r", "100", "-png", "-singlefile", "sheet.pdf", "sheet"],
        check=True, cwd=tmp_path,
    )  # fmt: skip
    (code,) = zxingcpp.read_barcodes(Image.open(tmp_path / "sheet.png"))
    assert code.text == code_text(told, Words(told.state.profile))


def test_the_command_names_both_files(tmp_path: Path) -> None:
    record(tmp_path / "jobs.db", rehearsed(2).events)
    out = io.StringIO()
    code = job_sheet(tmp_path / "jobs.db", None, tmp_path, as_json=True, out=out, err=out)
    assert code == 0
    told = json.loads(out.getvalue())
    for kind in ("html", "pdf"):
        assert Path(told[kind]).is_file()


@pytest.mark.skipif(CHROMIUM is None, reason="chromium not installed (apt install chromium)")
def test_a_browser_prints_the_page_on_one_side(tmp_path: Path) -> None:
    page, paper = tmp_path / "sheet.html", tmp_path / "sheet.pdf"
    page.write_text(html_page(sheet_of(history(rehearsed(2).events))), encoding="utf-8")
    subprocess.run(
        [str(CHROMIUM), "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer",
         f"--user-data-dir={tmp_path / 'profile'}", f"--print-to-pdf={paper}", page.as_uri()],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    assert len(PdfReader(paper).pages) == 1


def test_gaps_get_no_code_since_they_would_be_read_the_wrong_way() -> None:
    first, *others = rehearsed(2).events
    assert isinstance(first, Started)
    told = history((first, *others))
    profile = replace(first.profile, method="gap")
    assert code_text(told, Words(profile)) is None
    levered = replace(first.profile.instrument, lever_deg=Decimal(15))
    assert code_text(told, Words(replace(first.profile, instrument=levered))) is None
    assert code_text(told, Words(first.profile)) is not None
