"""The page for the wall: complete, valid, escaped, readable, and true to the record."""

import re
from dataclasses import replace
from decimal import Decimal
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import html5lib
import pytest

from assistant.devices.text.lines import event_of
from assistant.dialogue.messages import Event, Heard, Started
from assistant.dialogue.procedures.form import Form
from assistant.dialogue.step import fold
from assistant.records.faults import RecordError
from assistant.records.journal.history import History, replay
from assistant.records.journal.journal import JobRow, Journal
from assistant.records.report import palette
from assistant.records.report.files import write_report
from assistant.records.report.page_style import STYLE
from grammar.meaning import Reading
from grammar.scale import System
from tests.contrast import contrast
from tests.dialogue.typed import FRONT_HIGH_SIX, LEVEL, NEAR_LIMIT, READY, WORN, TypedJob
from tests.records.jobs import corrected, record, rehearsed
from tests.records.pages import report_html, report_pdf

SEEDS = (1, 2, 3)


def history(events: tuple[Event, ...], *, closed: bool = True) -> History:
    first = events[0]
    assert isinstance(first, Started)
    closed_at = "2031-05-04T12:00:00Z" if closed else None
    return replay(JobRow(first.job, first.profile.name, first.at, closed_at, len(events)), events)


class _Page(HTMLParser):
    """Python's own reader of HTML; tags must nest and text is gathered."""

    void = frozenset(("meta", "br", "col"))

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in self.void:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if not self.open or self.open[-1] != "style":
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


@pytest.mark.parametrize("system", ["thou", "mm"])
@pytest.mark.parametrize("seed", SEEDS)
def test_the_page_tells_what_the_record_holds(seed: int, system: System) -> None:
    told = history(rehearsed(seed, system).events)
    page = _Page(report_html(told))
    assert page.open == []
    text = page.text
    unit = "thou" if system == "thou" else "mm"
    size = 1.0 if system == "thou" else 0.01
    places = 1 if system == "thou" else 3
    assert told.as_found is not None
    assert told.as_left is not None
    for answer in (told.as_found, told.as_left):
        shown = f"{answer.tilt * size:.{places}f} ± {answer.expanded_uncertainty * size:.{places}f}"
        assert f"{shown} {unit}" in text
    found = told.as_found.front_minus_back
    side = "front" if found > 0 else "back"
    assert f"{side} high {abs(found) * size:.{places}f} {unit}" in text
    assert text.index("As found") < text.index("As left") < text.index("Sweep by sweep")
    assert text.index("Square within") < text.index("As found")
    # What the tilt means at the work: an angle, rates, and where a drill comes out.
    assert "per 300 mm" in text
    assert ("A hole 2 in deep" if system == "thou" else "A hole 50 mm deep") in text
    assert "comes out" in text
    called = text[text.index("Readings, in the order called") :]
    assert f"Station {unit} Time" in called
    for kept in told.readings:
        value = float(kept.taken.value) * size
        assert re.search(rf"{kept.taken.station} [+−]?{abs(value):.{2 if system == 'mm' else 1}f} ",
                         called)  # fmt: skip
    for told_step in told.steps:
        if told_step.step.do == "shim" and told_step.step.total:
            assert f"shim {float(told_step.step.total) * size:g} {unit}" in text
    for word in ("Cautions", "manual", "Unplug", "Next time", f"Job {told.row.id}", "Python"):
        assert word in text


def test_figures_that_are_not_those_of_the_readings_beside_them_say_of_what_they_are() -> None:
    """Front and back alike in the last sweep, and front high 1.5: two sweeps count together."""
    job = TypedJob.begin(WORN)
    job.say(*READY, "zeroed", *FRONT_HIGH_SIX, "done", "done", "locked", "zeroed")
    job.say("plus one and a half", "plus three", "plus one and a half", "zero")
    alone = _Page(report_html(history(tuple(job.events)))).text
    assert "Reckoned from" not in alone
    assert "count together" not in alone
    job.say("skip", "done", "yes", "zeroed", *LEVEL)
    two = job.state.usable_sweeps[-1]
    assert two.answer.front_minus_back == pytest.approx(1.5, abs=0.1)
    told = history(tuple(job.events), closed=False)
    text = _Page(report_html(told)).text
    assert "Reckoned from sweeps 2 and 3" in text
    assert text.count("Reckoned from") == 1, "as found stands alone"
    assert "Sweeps between which nothing was moved count together." in text


def test_readings_between_the_stations_are_said_to_count() -> None:
    job = TypedJob.begin(WORN)
    job.say(*READY, "zeroed", *NEAR_LIMIT)
    assert job.state.phase is Form.CORNERS
    job.say("plus three", "plus four", "plus four", "plus two", "zero")
    assert job.state.usable_sweeps[-1].corners
    text = _Page(report_html(history(tuple(job.events), closed=False))).text
    assert "Reckoned from this sweep and readings between" in text
    assert "Readings between the stations count, too." in text


@pytest.mark.parametrize("seed", SEEDS)
def test_the_page_is_html_without_a_parse_error(seed: int) -> None:
    """html5lib follows the parsing rules of the HTML standard; strict, it raises at any error."""
    for events in (rehearsed(seed).events, rehearsed(seed).events[:9], corrected()):
        parser = html5lib.HTMLParser(strict=True)
        parser.parse(report_html(history(events)))
        assert parser.errors == []


@pytest.mark.parametrize("seed", SEEDS)
def test_the_page_needs_nothing_from_elsewhere(seed: int) -> None:
    page = report_html(history(rehearsed(seed).events))
    tags = _Page(page).tags
    assert not {name for name, _ in tags} & {
        "script", "link", "img", "iframe", "object", "embed", "base", "form", "image", "use",
    }  # fmt: skip
    assert not {key for _, attributes in tags for key in attributes} & {"src", "href", "xlink:href"}
    assert "url(" not in STYLE
    assert "@import" not in STYLE
    assert set(re.findall(r"url\(([^)]*)\)", page)) <= {"#shade-found", "#shade-left"}
    assert len(page.encode()) < 100_000


def test_the_same_job_gives_the_same_page() -> None:
    events = rehearsed(1).events
    assert report_html(history(events)) == report_html(history(events))


def test_every_drawing_is_whole_xml_with_a_title() -> None:
    """ElementTree (expat) reads the SVG strictly; the title is what a screen reader says."""
    page = report_html(history(rehearsed(2).events))
    drawings = re.findall(r"<svg.*?</svg>", page, re.DOTALL)
    assert len(drawings) == 8
    for drawing in drawings:
        root = ElementTree.fromstring(drawing)
        if root.get("aria-hidden") != "true":
            assert root.get("role") == "img"
            title = root.find("title")
            assert title is not None
            assert title.text
        for element in root.iter():
            for name in ("x", "y", "x1", "x2", "y1", "y2", "cx", "cy", "width", "height"):
                assert "nan" not in element.get(name, "")
                assert "inf" not in element.get(name, "")


def test_an_endless_job_has_a_page_of_bounded_length() -> None:
    events = list(corrected())
    state = fold(events)
    for number in range(1500):
        assert state is not None
        meaning = Reading(Decimal(number % 20), True, "front", correction=True)
        events.append(Heard("2031", state.turn, "voice", "accept", "x", meaning))
        state = fold(events[-1:], state)
    told = history(tuple(events), closed=False)
    assert len(told.readings) > 1500
    text = _Page(report_html(told)).text
    assert f"{len(told.readings) - 300} more in the export" in text
    assert text.count("taken back: correction") < 310
    assert len(report_pdf(told)) < 300_000


HOSTILE = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "</style></title><b>&amp;",
    "\x1b[2J\x00\u202egpj.exe\ud800",
    "{{7*7}}${7*7}%s",
    "x" * 5000,
)


@pytest.mark.parametrize("name", HOSTILE, ids=range(len(HOSTILE)))
def test_names_cannot_become_markup(name: str) -> None:
    first, *rest = rehearsed(1).events
    assert isinstance(first, Started)
    events = (replace(first, profile=replace(first.profile, name=name), at=name), *rest)
    told = replay(JobRow("job-1", name, name, name, len(events)), events)
    page = report_html(told)
    page.encode("utf-8")
    plain = {tag for tag, _ in _Page(report_html(history(rehearsed(1).events))).tags}
    assert {tag for tag, _ in _Page(page).tags} == plain
    assert not re.search("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202e\ud800]", page)
    assert len(page) < 120_000


def test_a_job_stopped_anywhere_has_a_page() -> None:
    events = (*corrected(),)
    for count in range(1, len(events) + 1):
        text = _Page(report_html(history(events[:count], closed=False))).text
        assert "No complete sweep yet." in text
        assert "can be gone on with" in text
    text = _Page(report_html(history(events, closed=False))).text
    assert "taken back: correction" in text
    assert "taken back: disregard" in text
    full = rehearsed(3).events
    for count in range(1, len(full) + 1):
        page = _Page(report_html(history(full[:count], closed=False)))
        assert page.open == []


def test_a_damaged_job_has_a_page_that_says_so(tmp_path: Path) -> None:
    path = tmp_path / "jobs.db"
    record(path, rehearsed(1).events)
    data = path.read_bytes()
    place = data.index(b'"turn":20,')
    path.write_bytes(data[:place] + b'"turn":21,' + data[place + 10 :])
    with Journal.open(path) as journal:
        write_report(journal, "job-1", tmp_path / "page.html")
    text = _Page((tmp_path / "page.html").read_text(encoding="utf-8")).text
    assert "Part of the record is damaged" in text
    assert "its check sum is wrong" in text


def test_the_page_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    path = tmp_path / "jobs.db"
    record(path, rehearsed(1).events)
    target = tmp_path / "reports" / "page.html"
    with Journal.open(path) as journal:
        write_report(journal, "job-1", target)
        first = target.read_text(encoding="utf-8")
        target.write_text("old", encoding="utf-8")
        write_report(journal, "job-1", target)
        assert target.read_text(encoding="utf-8") == first
        with pytest.raises(RecordError):
            write_report(journal, "no-job", target)
        assert target.read_text(encoding="utf-8") == first
        (tmp_path / "file").touch()
        with pytest.raises(RecordError, match="name another place"):
            write_report(journal, "job-1", tmp_path / "file" / "page.html")
    assert [each.name for each in target.parent.iterdir()] == ["page.html"]


# -- colours ---------------------------------------------------------------------------------


TEXT_PAIRS: tuple[tuple[str, str], ...] = (
    *((palette.INK, ground) for ground in (
        palette.PAPER, palette.PANEL, palette.HIGH, palette.LOW, palette.BAND,
    )),
    (palette.MUTED, palette.PAPER), (palette.MUTED, palette.PANEL),
    (palette.FRONT, palette.PAPER), (palette.SIDES, palette.PAPER),
    (palette.GOOD, palette.GOOD_PAPER), (palette.BAD, palette.BAD_PAPER),
    (palette.OPEN, palette.OPEN_PAPER), (palette.OPEN, palette.PAPER), (palette.BAD, palette.PAPER),
)  # fmt: skip
"""Text and what it stands on."""

GRAPHIC_PAIRS: tuple[tuple[str, str], ...] = (
    *((line, ground) for line in (palette.FRONT, palette.SIDES, palette.AXIS)
      for ground in (palette.PAPER, palette.BAND)),
    (palette.INK, palette.HIGH), (palette.INK, palette.LOW), (palette.AXIS, palette.PANEL),
)  # fmt: skip
"""Lines and marks that carry meaning, and what they stand on."""


@pytest.mark.parametrize("pair", TEXT_PAIRS)
def test_text_can_be_read(pair: tuple[str, str]) -> None:
    """WCAG 2.2, 1.4.3 Contrast (Minimum): 4.5 to 1."""
    assert contrast(*pair) >= 4.5


@pytest.mark.parametrize("pair", GRAPHIC_PAIRS)
def test_marks_can_be_seen(pair: tuple[str, str]) -> None:
    """WCAG 2.2, 1.4.11 Non-text Contrast: 3 to 1."""
    assert contrast(*pair) >= 3.0


def test_every_colour_of_the_page_is_of_the_palette_and_checked() -> None:
    page = report_html(history(rehearsed(2).events))
    known = {value for name, value in vars(palette).items() if name.isupper() and "#" in value}
    used = set(re.findall(r"#[0-9a-f]{6}\b", page))
    # The shade of a drawing lies between these two; what stands on it is checked on both.
    shades = set(re.findall(r'offset="1" stop-color="(#[0-9a-f]{6})"', page))
    assert used - shades <= known
    checked = {colour for pair in TEXT_PAIRS + GRAPHIC_PAIRS for colour in pair}
    assert known - {palette.RULE} <= checked


def test_a_head_s_page_speaks_of_the_head() -> None:
    first, *others = rehearsed(2).events
    assert isinstance(first, Started)
    fine = replace(first.profile.scale, step=Decimal("0.1"))
    head = replace(first, profile=replace(first.profile, kind="head", scale=fine))
    page = report_html(history((head, *others), closed=False))
    assert "Squareness of the head to the table" in page
    assert "Support the head" in page
    assert "Check that bolts and locks are tight." in page
    # A dial that is read to a tenth of a thou is not answered in tenths only.
    assert re.search(r"\d\.\d\d ± \d\.\d\d thou", page)


def test_a_note_is_printed_in_the_report_and_nothing_of_it_steers_the_page() -> None:
    events = corrected()
    state = fold(events)
    assert state is not None
    noted = event_of(
        "note gib <b>adjusted</b>, +12 C", events[-1].at, state.turn, state.profile.scale
    )
    text = _Page(report_html(history((*events, noted)))).text
    assert "Noted at the machine: gib <b>adjusted</b>, +12 C." in text


@pytest.mark.parametrize("system", ["thou", "mm"])
def test_a_tilt_that_may_be_none_says_how_far_a_hole_is_out_at_most(system: System) -> None:
    """By hand: tilt and its uncertainty over the sweep, times the depth of the hole."""
    told = next(
        one for one in (history(rehearsed(seed, system).events) for seed in (1, 2, 3, 4, 5, 6))
        if one.as_left is not None and one.as_left.inside_noise
    )  # fmt: skip
    left, profile = told.as_left, told.state.profile
    assert left is not None
    across = float(profile.sweep_diameter.mm / profile.scale.count_mm)
    depth_mm = 50.8 if system == "thou" else 50.0
    out_mm = (left.tilt + left.expanded_uncertainty) / across * depth_mm
    size = f"{out_mm / 0.0254:.2g} thou" if system == "thou" else f"{out_mm:.2g} mm"
    text = _Page(report_html(told)).text
    as_left = text[text.index("As left") :]
    assert f"deep comes out within {size}" in as_left
    assert "At the work under 0°" in as_left
