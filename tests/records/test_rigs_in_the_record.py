"""Jobs by other ways of measuring in the record: report, export and what is read again of them."""

import csv
import html
import io
import json
import re
from dataclasses import replace
from decimal import Decimal

from assistant.dialogue.machine import Instrument, Profile
from assistant.records.export import export_csv, export_json
from assistant.records.journal.history import History, replay
from assistant.records.journal.journal import JobRow
from tests.dialogue.test_squares import FRONT_OPEN_BELOW, SQUARE
from tests.dialogue.typed import AT, FRONT_HIGH_SIX, GAP, READY, TOUCH, TypedJob
from tests.records.pages import report_html, report_pdf


def _history(profile: Profile, *lines: str) -> History:
    job = TypedJob.begin(profile)
    job.say(*READY, *lines)
    events = tuple(job.events)
    return replay(JobRow("typed", profile.name, AT, None, len(events)), events)


def _page(history: History) -> str:
    return html.unescape(re.sub(r"<[^>]+>", " ", report_html(history)))


def test_a_leaf_told_later_that_does_not_go_makes_no_second_reading() -> None:
    history = _history(GAP, "done", "fifteen", "sixteen", "twelve", "done", "nine", "yes")
    called = [f"{kept.taken.station} {kept.taken.value}" for kept in history.standing]
    assert called == ["back 10", "right 15", "front 12", "left 9", "back 10"]
    assert len(history.readings) == 5
    rows = list(csv.DictReader(io.StringIO(export_csv(history))))
    assert [row["value"] for row in rows] == ["10", "15", "12", "9", "10"]
    page = _page(history)
    assert "gaps under a bent rod by feeler leaves" in page
    assert "rod set to this leaf" in page
    assert "16.0 does not go" in page
    assert "+15" not in page


def test_a_rod_that_touched_is_in_the_record() -> None:
    history = _history(GAP, "done", "seven", "zero", "done")
    assert [(kept.taken.value, kept.undone.reason) for kept in history.undone if kept.undone] == [
        (Decimal(7), "the rod touched")
    ]


def test_the_page_of_a_square_says_how_it_was_read() -> None:
    page = _page(_history(SQUARE, *FRONT_OPEN_BELOW))
    assert "a square and feeler leaves over 5 in" in page
    assert "plus is open at the bottom" in page


def test_the_page_of_a_job_by_touch_claims_no_amount() -> None:
    history = _history(
        TOUCH, "front", "left", "yes", "done", "done", "locked", "skip", "yes", "done"
    )
    page = _page(history)
    assert "Set by touch: not measured." in page
    assert "Front, left, right, back dragged in this order" in page
    assert "All sides dragged alike" in page
    assert "no tolerance is proven" in page
    assert json.loads(export_json(history))["as_left"] is None


def test_the_page_tells_of_a_dial_that_is_not_the_usual_one() -> None:
    held = Instrument(face="continuous", higher="minus", lever_deg=Decimal(20))
    page = _page(_history(Profile(instrument=held), "zeroed", *FRONT_HIGH_SIX))
    assert "counting one way round, 100 to a turn" in page
    assert "lever at 20 degrees, its cosine taken out" in page
    assert "Minus: table high there." in page


def test_every_rig_has_a_printed_page() -> None:
    for profile in (GAP, SQUARE, TOUCH, replace(GAP, name="other")):
        assert report_pdf(_history(profile)).startswith(b"%PDF")
