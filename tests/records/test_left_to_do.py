"""What is left to do, and that no page says more of a job than it was."""

import io
import re
import time
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from math import ceil, hypot

import pytest
from pypdf import PageObject, PdfReader

from assistant.arguments import CAUTIONS as PRINTED
from assistant.dialogue.job import JOB
from assistant.dialogue.machine import Method, Profile
from assistant.dialogue.messages import Event, Step
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.heights import Heights
from assistant.dialogue.procedures.packing import Feet
from assistant.dialogue.procedures.pin import Pin
from assistant.dialogue.procedures.repeat import Repeat
from assistant.dialogue.procedures.retighten import Retighten
from assistant.dialogue.procedures.shim import Bolt
from assistant.records.job_text import job_lines
from assistant.records.journal.history import History
from assistant.records.report.content import report_of
from assistant.records.report.html_page import MOST_COLUMNS, html_page
from assistant.records.report.left_to_do import left_to_do, loosened_since
from assistant.records.report.verdicts import verdict_of
from assistant.records.report.wall_sheet import sheet_of
from assistant.records.report.wording import Words, day_of, minute_of, second_of, zone_of
from tests.dialogue.golden_jobs import files as golden
from tests.dialogue.typed import READY, TypedJob
from tests.records.jobs import corrected, rehearsed
from tests.records.pages import report_html, report_pdf
from tests.records.test_report import _Page, history


def _told(*lines: str, closed: bool = False) -> History:
    job = TypedJob.begin()
    job.say(*READY, "zeroed", *lines)
    return history(tuple(job.events), closed=closed)


def _to_do(told: History) -> str:
    return " ".join(left_to_do(told, Words(told.state.profile)))


FRONT_HIGH = ("plus four", "plus eight", "plus four", "zero")

CASES: list[tuple[tuple[str, ...], str]] = [
    (("plus four",), "Finish sweep 1: front, left, back again."),
    (FRONT_HIGH, "Hold it first"),
    (FRONT_HIGH, "above the tilt bolt. Tighten, lock all, sweep again."),
    ((*FRONT_HIGH, "done", "shim three above"), "Tighten, lock all, sweep again."),
    ((*FRONT_HIGH, "done", "shim three above", "locked"), "Lock all and sweep again."),
    ((*FRONT_HIGH, "done", "shim three above", "locked", "zeroed", "zero"),
     "Finish sweep 2: front, left, back again."),
    ((*FRONT_HIGH, "finish", "yes", "done"), "Front to back: front high 8.0 thou;"),
    ((*FRONT_HIGH, "finish", "yes", "done"), "of shim in all, above the tilt bolt."),
    ((*FRONT_HIGH, "skip", "yes"), "Front to back: front high 8.0 thou;"),
    ((*FRONT_HIGH, "skip", "yes"), "Finish: lock all"),
    (("zero",) * 4, "Finish: lock all, bar out, chuck key out."),
    (("zero", "zero", "zero", "zero", "yes", "done"), "Nothing: it is square within 4 thou."),
]  # fmt: skip


@pytest.mark.parametrize(("lines", "expected"), CASES)
def test_what_is_left_to_do_is_told_from_where_the_job_stands(
    lines: tuple[str, ...], expected: str
) -> None:
    told = _told(*lines)
    assert expected in _to_do(told)
    page = _Page(report_html(told)).text
    assert "What is left to do" in page
    for text in left_to_do(told, Words(told.state.profile)):
        assert text in page
        assert text in "\n".join(job_lines(told))
    assert told.finished or "sweepsay run 'drill press'" in page


@pytest.mark.parametrize(
    ("phase", "expected"),
    [
        # In few words the bolt is loosened and the shim put in by one answer.
        (Bolt.BOTH, "above the tilt bolt. Tighten, lock all, sweep again."),
        (Retighten.RETIGHTEN, "Tighten, lock all, sweep again."),
        (Repeat.AFRESH, "Lock all and sweep again."),
        (Repeat.AGAIN, "Sweep once more to be sure."),
        (Feet.BOLT_DOWN, "Tighten, lock all, sweep again."),
        (Pin.PIN, "Hold it first, hands clear."),
        (Heights.MOVE_TABLE, "Hold it first, hands clear."),
    ],
)
def test_where_a_job_may_be_left_otherwise(phase: Phase, expected: str) -> None:
    job = TypedJob.at(phase)
    assert expected in _to_do(history(tuple(job.events), closed=False))


def test_after_a_correction_the_sweep_before_it_tells_nothing_any_more() -> None:
    told = _told(*FRONT_HIGH, "done", "shim three above")
    assert loosened_since(told.state)
    tight = _told(*FRONT_HIGH, "done", "shim three above", "locked", "zeroed", "zero")
    assert not tight.state.loosened
    assert loosened_since(tight.state)
    swept = _told(*FRONT_HIGH, "done", "shim three above", "locked", "zeroed", *("zero",) * 4)
    assert not loosened_since(swept.state)


def test_whoever_left_something_loose_is_told_so_and_that_no_sweep_counts() -> None:
    loose = set()
    for phase in (row.phase for row in JOB.table.values() if row.left != "finish"):
        job = TypedJob.at(phase)
        if job.state.loosened:
            loose.add(str(phase))
            assert loosened_since(job.state)
            told = _to_do(history(tuple(job.events), closed=False))
            assert "Hold it first" in told, phase
            assert "Tighten, lock all" in told, phase
    assert loose >= {"shim", "tighten", "tap", "tap lock", "shim under", "tighten again"}


OTHER_METHODS = [name for name in golden.names() if not name.startswith("table")][::4]
"""Some golden jobs by each method and of each kind of machine."""


@pytest.mark.parametrize(
    ("method", "told"),
    [
        ("indicator", "tap the right up until the dial there shows −2.0"),
        ("gap", "tap the right up until the gap there is 2.0"),
        ("square", "tap the right up until −2.0 is read there"),
        ("touch", "tap the right down a little"),
    ],
)
def test_a_tap_is_told_by_what_is_read_there(method: Method, told: str) -> None:
    step = Step("tap", station="right", change=Decimal("1.5"), dial_target=Decimal(-2))
    assert Words(replace(Profile(), method=method)).step(step) == told


@pytest.mark.parametrize("name", OTHER_METHODS)
def test_every_golden_job_has_something_left_to_do_until_it_is_closed(name: str) -> None:
    job = golden.read(name)
    if job.known is not None:
        # Before a machine is known there is no job that could be shown.
        return
    for count in {len(job.events) // 3, 2 * len(job.events) // 3, len(job.events)} - {0}:
        told = history(job.events[:count], closed=False)
        todo = _to_do(told)
        assert todo or (told.finished and told.as_left is None)
        if not told.finished:
            assert todo.count("Go on with it: sweepsay run '") == 1
        by_touch = told.state.profile.method == "touch"
        if by_touch and told.state.touch.rounds and not told.finished:
            assert "sweep" not in todo.removesuffix(todo[todo.index("Go on") :])
            assert "dial" not in todo


def _prefixes(events: tuple[Event, ...]) -> Iterator[History]:
    for count in (*range(1, len(events), 3), len(events)):
        yield history(events[:count], closed=count == len(events))


@pytest.mark.parametrize("seed", [2, 13])
def test_no_job_is_called_squared_that_was_not(seed: int) -> None:
    good = set()
    for told in _prefixes(rehearsed(seed).events):
        words = Words(told.state.profile)
        verdict = verdict_of(told, words)
        for page in (html_page(report_of(told)), html_page(sheet_of(told))):
            head = _Page(page).text
            assert "squared" not in head
            # A saddle is a part of a machine.
            assert "addle" not in head
            assert "Squareness of the table to the spindle" in head
            assert ("As left" in head) <= told.finished
            assert ("Square within" in head) == (verdict.mood == "good")
        good.add(verdict.mood)
        last = told.as_left
        assert verdict.mood != "good" or (last is not None and last.verdict == "within")
        if told.state.phase in ("shim", "tighten", "tap", "tap lock", "lock again"):
            assert verdict.text == "Loosened since the last sweep: sweep it again."
    assert "good" in good
    assert "open" in good


def test_a_corrected_shim_is_the_one_that_is_in() -> None:
    lines = (*FRONT_HIGH, "done", "shim three above", "locked", "zeroed",
             "plus two", "plus four", "plus two", "zero", "done", "shim five above", "locked",
             "zeroed", "zero", "zero", "zero", "zero")  # fmt: skip
    told = _told(*lines)
    page = _Page(report_html(told)).text
    assert "Shim in 5 thou above the tilt bolt" in page
    assert "in place of 3 thou above the tilt bolt" in page
    assert "shim in        5 thou above the tilt bolt" in job_lines(told)


@pytest.mark.parametrize("seed", [2, 13])
def test_a_high_side_has_its_arrow_and_the_noise_has_none(seed: int) -> None:
    told = history(rehearsed(seed).events)
    drawings = re.findall(r"<svg[^>]*><title>Table from above.*?</svg>", report_html(told))
    assert len(drawings) == 2
    for answer, drawing in zip((told.as_found, told.as_left), drawings, strict=True):
        assert answer is not None
        assert ("<polygon" in drawing) == (not answer.inside_noise)
        for x, y in re.findall(r'<polygon points="([0-9.]+),([0-9.]+) ', drawing):
            # A twentieth of the drawing, which is 23 rem wide at most: long enough to be seen.
            assert hypot(float(x) - 160, float(y) - 160) > 320 / 20
    assert "<polygon" in drawings[0]


@pytest.mark.parametrize("seed", [2, 13])
def test_no_row_needs_more_than_a_phone_s_width(seed: int) -> None:
    """Tables of many columns become blocks there, each cell under the heading it has."""
    page = report_html(history(rehearsed(seed).events))
    tables = re.findall(r"<table.*?</table>", page)
    assert len(tables) == 2
    for table in tables:
        heads = re.findall(r"<th[^>]*>([^<]*)</th>", table)
        cells = re.findall(r"<td[^>]*data-head=\"([^\"]*)\"[^>]*>[^<]+</td>", table)
        many = len(heads) > MOST_COLUMNS
        assert ('class="many"' in table) == many
        assert set(cells) == (set(heads) if many else set())
    assert "overflow-x" not in page


def _lines(page: PageObject) -> list[float]:
    """How high above the foot of the sheet its lines of text stand, in points."""
    heights: list[float] = []

    def note(text: str, page_at: list[float], at: list[float], *_more: object) -> None:
        up = at[4] * page_at[1] + at[5] * page_at[3] + page_at[5]
        if text.strip() and up > 60:
            heights.append(round(up))

    page.extract_text(visitor_text=note)
    return sorted(set(heights))


@pytest.mark.parametrize("seed", [2, 13])
def test_no_sheet_but_the_last_is_half_empty(seed: int) -> None:
    told = history(rehearsed(seed).events)
    *full, last = PdfReader(io.BytesIO(report_pdf(told))).pages
    assert len(full) == 2
    for page in full:
        assert _lines(page)[0] < 0.3 * float(page.mediabox.height)
    if seed == 13:
        # The readings stand in two columns of half as many, under the names of the columns.
        called = sum(len(sweep.readings) for sweep in told.state.sweeps)
        _, _, readings = last.extract_text().partition("in the order called\n")
        assert len(readings.partition("\nJob ")[0].splitlines()) == ceil(called / 2) + 1


def test_wherever_cautions_are_printed_licensed_practice_is_named() -> None:
    told = history(corrected(), closed=False)
    texts = [PRINTED, _Page(report_html(told)).text]
    texts.append(_Page(html_page(sheet_of(history(rehearsed(2).events)))).text)
    for text in texts:
        for word in ("manual", "local codes", "licensed practice"):
            assert word in text


EET = "EET-2EEST,M3.5.0/3,M10.5.0/4"


@pytest.fixture
def zone(monkeypatch: pytest.MonkeyPatch) -> Iterator[pytest.MonkeyPatch]:
    yield monkeypatch
    monkeypatch.undo()
    time.tzset()


@pytest.mark.parametrize(
    ("name", "at", "day", "minute", "offset"),
    [
        ("UTC", "2031-05-04T08:00:09.500Z", "4 May 2031", "08:00", "UTC"),
        # POSIX zones, so that no table of zones is needed: minutes, and summer time.
        ("NST3:30", "2031-05-04T02:00:09Z", "3 May 2031", "22:30", "UTC−3:30"),
        (EET, "2031-05-04T22:30:09Z", "5 May 2031", "01:30", "UTC+3"),
        (EET, "2031-12-04T22:30:09Z", "5 December 2031", "00:30", "UTC+2"),
    ],
)  # fmt: skip
def test_times_are_those_of_the_clock_in_the_shop(
    name: str, at: str, day: str, minute: str, offset: str, zone: pytest.MonkeyPatch
) -> None:
    zone.setenv("TZ", name)
    time.tzset()
    assert day_of(at) == day
    assert minute_of(at) == f"{day}, {minute} {offset}"
    assert second_of(at) == f"{minute}:09"
    assert zone_of(at) == offset


@pytest.mark.parametrize("at", ["", "soon", "9999-12-31T23:59:59Z", "0001-01-01T00:00:00Z"])
def test_a_time_that_is_none_stays_as_it_is(at: str, zone: pytest.MonkeyPatch) -> None:
    for name in ("EET-14", "WST12"):
        zone.setenv("TZ", name)
        time.tzset()
        assert isinstance(minute_of(at) + day_of(at) + second_of(at) + zone_of(at), str)
