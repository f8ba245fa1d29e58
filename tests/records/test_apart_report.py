"""Other heights and the table's form, in the report and in the export."""

import json

from assistant.dialogue.messages import Started
from assistant.records.export import export_json
from assistant.records.journal.history import History, replay
from assistant.records.journal.journal import JobRow
from assistant.records.report.blocks import Part
from assistant.records.report.content import report_of
from assistant.records.report.html_page import html_page
from tests.dialogue.typed import FRONT_HIGH_SIX, LEVEL, READY, TypedJob

AWAY = (*READY, "zeroed", *LEVEL, "no", "yes", "locked", "zeroed", *FRONT_HIGH_SIX, "no")
TWISTED = ("plus two", "minus two", "plus two", "minus two", "zero", "one")


def _history(*lines: str) -> History:
    job = TypedJob.begin()
    job.say(*lines)
    first = job.events[0]
    assert isinstance(first, Started)
    row = JobRow(first.job, first.profile.name, first.at, None, len(job.events))
    return replay(row, job.events)


def _titles(history: History) -> list[str]:
    return [block.title for block in report_of(history).blocks if isinstance(block, Part)]


def test_other_heights_stand_in_a_table_of_their_own() -> None:
    history = _history(*AWAY, "yes", "done")
    page = html_page(report_of(history))
    assert "At other heights and swings" in page
    # Six at one place and none at the other: three off for both, three left (derived).
    assert "leave 3.0 thou at the worst place" in page
    assert "place 2" in page
    document = json.loads(export_json(history))
    assert [row["place"] for row in document["sweeps"]] == [None, "place 2"]
    assert document["as_left"]["front_minus_back"] == 0


def test_the_form_and_what_four_stations_cannot_see() -> None:
    history = _history(*READY, "zeroed", *LEVEL, "no", "no", "yes", *TWISTED, "yes", "done")
    page = html_page(report_of(history))
    assert "Back right and front left stand 4.0 thou over the rest." in page
    assert "Gap under a straight edge, in the middle: 1 thou." in page
    assert "Four stations cannot see a dish" in page
    assert json.loads(export_json(history))["form"]["found"]["hollow"] == "1"


def test_neither_stands_there_without_having_been_done() -> None:
    titles = _titles(_history(*READY, "zeroed", *LEVEL, "yes", "done"))
    assert "At other heights and swings" not in titles
    assert "The table's form" not in titles
