"""Several jobs of one machine over time: does it stay square, how far does it wander?

Tilts of jobs with another sweep diameter or dial are brought to those of the newest job, so
that they can be compared: tilt goes with the diameter.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from assistant.dialogue.formatting import tolerance_counts
from assistant.dialogue.machine import Profile
from assistant.metrology.answer import Answer
from assistant.records.faults import RecordError
from assistant.records.journal.history import History, history_of
from assistant.records.journal.journal import Journal
from assistant.records.names import one_line
from assistant.records.report.axes import Frame, ticks
from assistant.records.report.blocks import (
    Chart,
    Document,
    Grid,
    Paragraph,
    Part,
    Points,
    Title,
)
from assistant.records.report.charts import counted
from assistant.records.report.content import made_by
from assistant.records.report.marks import patch, round_mark, sample, series, square_mark
from assistant.records.report.markup import Markup, tag
from assistant.records.report.palette import BAND, FRONT, SIDES
from assistant.records.report.verdicts import CAUTIONS
from assistant.records.report.wording import Words, bearing_words, day_of

_WIDTH = 520.0


@dataclass(frozen=True, slots=True)
class Visit:
    """One job in the trend; tilts and half widths of their 95 % intervals in counts of the
    newest job over its diameter."""

    history: History
    found: tuple[float, float]
    left: tuple[float, float]


def trend_of(journal: Journal, machine: str) -> Document:
    """The trend of a machine's jobs that have a complete sweep; raises RecordError."""
    wanted = one_line(machine)
    rows = [row for row in journal.jobs() if row.machine == wanted and row.events]
    histories = [history_of(journal, row.id) for row in rows]
    measured = [history for history in histories if history.as_left is not None]
    if not measured:
        known = ", ".join(sorted({one_line(row.machine, 40) for row in journal.jobs()})) or "none"
        shown = one_line(machine, 60)
        problem = f"no job of a machine {shown!r} has a complete sweep"
        raise RecordError("no_job", f"{problem}: machines in the record: {known}")
    profile = measured[-1].state.profile
    return _document(profile, [_visit(history, profile) for history in measured])


def _visit(history: History, newest: Profile) -> Visit:
    profile, found, left = history.state.profile, history.as_found, history.as_left
    if found is None or left is None:
        raise ValueError("a visit needs a complete sweep")
    counts = float(profile.scale.count_mm / newest.scale.count_mm)
    factor = counts * float(newest.sweep_diameter / profile.sweep_diameter)
    return Visit(history, _scaled(found, factor), _scaled(left, factor))


def _scaled(answer: Answer, factor: float) -> tuple[float, float]:
    return answer.tilt * factor, answer.expanded_uncertainty * factor


def _document(profile: Profile, visits: Sequence[Visit]) -> Document:
    words = Words(profile)
    name = visits[-1].history.row.machine or "machine"
    first, last = (day_of(visits[k].history.row.started_at) for k in (0, -1))
    head = ("Job", "Day", "As found", "As left", "Highest as found", "Sweep")
    note = Paragraph(
        f"Tilt in {words.unit} over {words.length(profile.sweep_diameter)}, with its 95 % "
        "uncertainty. Jobs with another sweep diameter are brought to this one.",
        small=True,
    )
    return Document(
        f"{name}, trend",
        (
            Title(name, f"{len(visits)} jobs from {first} to {last}."),
            Part(
                "How it was found and how it was left",
                (Chart(_chart(visits, words), _key()), note),
                whole=True,
            ),
            Part("Jobs", (Grid(head, tuple(_row(v, words) for v in visits), frozenset((2, 3))),)),
            Part("Cautions", (Points(CAUTIONS),), whole=True),
        ),
        f"{made_by()}.",
    )


def _row(visit: Visit, words: Words) -> tuple[str, ...]:
    history = visit.history
    found = history.as_found
    bearing = found.high_bearing_deg if found else None
    return (
        history.row.id,
        day_of(history.row.started_at),
        f"{words.number(visit.found[0])} ± {words.number(visit.found[1])}",
        f"{words.number(visit.left[0])} ± {words.number(visit.left[1])}",
        "" if bearing is None else bearing_words(bearing),
        Words(history.state.profile).length(history.state.profile.sweep_diameter),
    )


def _key() -> tuple[tuple[Markup, str], ...]:
    return (
        (sample(SIDES, "7 4", square_mark), "as found"),
        (sample(FRONT, None, round_mark), "as left"),
        (patch(BAND), "tolerance"),
    )


def _chart(visits: Sequence[Visit], words: Words) -> Markup:
    tolerance = tolerance_counts(words.profile)
    reach = [value + wide for visit in visits for value, wide in (visit.found, visit.left)]
    marks = ticks(0.0, max(*reach, tolerance))
    frame = Frame(_WIDTH, 300.0, (0.5, len(visits) + 0.5), (marks[0], marks[-1]))
    found = [(k, visit.found[0], visit.found[1]) for k, visit in enumerate(visits, 1)]
    left = [(k, visit.left[0], visit.left[1]) for k, visit in enumerate(visits, 1)]
    days = [(float(k), day_of(v.history.row.started_at)) for k, v in enumerate(visits, 1)]
    told = "; ".join(
        f"{day}: found {words.number(visit.found[0])}, left {words.number(visit.left[0])}"
        for (_, day), visit in zip(days, visits, strict=True)
    )
    every = 1 + len(days) // 5
    return tag(
        "svg",
        tag("title", f"Tilt job by job in {words.unit}. {told}"),
        tag("rect", x=frame.left, y=frame.y(tolerance), width=_WIDTH - frame.left - frame.right,
            height=frame.y(0.0) - frame.y(tolerance), fill=BAND),
        frame.grid(marks, counted(words, sign=False), f"tilt, {words.unit}"),
        frame.under(days[::every], "job"),
        series(frame, found, -0.04, SIDES, "7 4", square_mark),
        series(frame, left, 0.04, FRONT, None, round_mark),
        viewBox=f"0 0 {_WIDTH:g} 300", role="img", class_="chart",
    )  # fmt: skip
