"""What the report of a job says, in which order: as found and as left first.

Belongs here: the content. How it is laid out is the business of `html_page` and `pdf_page`.
"""

from collections.abc import Sequence
from decimal import Decimal

from assistant.dialogue.state import CompletedSweep, Plan, Taken
from assistant.dialogue.work_words import hole_depth, lean_here
from assistant.metrology.answer import Answer
from assistant.records.journal.history import History, Kept
from assistant.records.journal.versions import versions
from assistant.records.names import one_line
from assistant.records.report.apart_report import form_part, heights_part
from assistant.records.report.blocks import (
    Card,
    Cards,
    Cell,
    Chart,
    Document,
    Grid,
    PageBlock,
    Paragraph,
    Part,
    Points,
    Struck,
    Title,
)
from assistant.records.report.charts import (
    budget_chart,
    response_chart,
    response_words,
    sweeps_chart,
    sweeps_key,
    trials_of,
)
from assistant.records.report.last_job_text import last_job_words
from assistant.records.report.lean_text import angle_text, depth_text, exit_text, rates_text
from assistant.records.report.left_to_do import correction_told, left_to_do
from assistant.records.report.proof_text import proof_text
from assistant.records.report.rig_words import how_read, set_at_first, what_reads
from assistant.records.report.spindle_report import spindle_part
from assistant.records.report.table_drawing import high_side_words, table_drawing
from assistant.records.report.touch_rounds import touch_part
from assistant.records.report.verdicts import cautions_for, next_time, squareness, verdict_of
from assistant.records.report.wording import Words, day_of, minute_of, second_of, zone_of
from grammar.vocabulary import STATIONS, Station

MOST_ROWS = 300
"""Longer tables are shortened in their middle; the export of the job has all of it."""

MOST_SWEEPS = 40
"""Sweeps in the chart, the last ones."""


def report_of(history: History) -> Document:
    """The report of a job; the same history always gives the same report."""
    words = Words(history.state.profile)
    blocks: tuple[PageBlock | None, ...] = (
        _title(history, words),
        verdict_of(history, words),
        found_and_left(history, words),
        _done(history, words),
        _to_do(history, words),
        Part("Cautions", (Points(cautions_for(words.profile.kind)),), whole=True),
        Part("Next time", (Points(next_time(history)),), whole=True),
        spindle_part(history, words),
        touch_part(history, words),
        heights_part(history, words),
        form_part(history, words),
        _sweep_by_sweep(history, words),
        _response(history, words),
        _budget(history, words),
        _notes(history, words),
        _readings(history, words),
    )
    return Document(
        f"{history.row.machine}, {day_of(history.row.started_at)}",
        tuple(block for block in blocks if block is not None),
        _foot(history),
    )


def made_by() -> str:
    """The versions as one line."""
    return "Made by " + ", ".join(f"{name} {version}" for name, version in versions().items())


def _title(history: History, words: Words) -> Title:
    profile = words.profile
    measured = profile.method != "touch"
    allowed = f", tolerance {words.tolerance()} over the sweep" if measured else ""
    return Title(
        history.row.machine or "machine",
        f"{squareness(profile.kind)}, {day_of(history.row.started_at)}. "
        f"Sweep {words.length(profile.sweep_diameter)} across, {how_read(words)}{allowed}.",
    )


def found_and_left(history: History, words: Words, *, short: bool = False) -> Cards | None:
    """The table as it was found and as it was left, drawn to the same scale.

    ``short``: for one page, without what it means for the work and what it is reckoned from.
    """
    usable = history.state.usable_sweeps
    if not usable:
        return None
    largest = max(sweep.answer.tilt for sweep in usable)
    first = history.state.found or usable[0]
    sweeps = history.state.together_with(first)
    found = _card("As found", "found", sweeps, largest, words, short=short)
    if history.state.found is usable[-1]:
        return Cards((found,), large=short)
    shim = "" if short else _shim_in(history, words)
    title = "As left" if history.finished else "Last sweep"
    sweeps = history.state.same_table
    left = _card(title, "left", sweeps, largest, words, short=short, shim=shim)
    return Cards((found, left), large=short)


def _shim_in(history: History, words: Words) -> str:
    """The shims that are in; empty where none was ever put in."""
    shims = words.shims_of(history.state)
    return shims or (words.shim_in(history.state.shims.total) if history.state.shims.trials else "")


def _card(
    title: str,
    name: str,
    together: Sequence[CompletedSweep],
    largest: float,
    words: Words,
    *,
    short: bool,
    shim: str = "",
) -> Card:
    """The readings of the last of these sweeps, and what all of them come to."""
    answer = together[-1].answer
    readings = {taken.station: words.called(taken.value) for taken in _first_round(together[-1])}
    facts = (
        ("Reckoned from", "" if short else _made_of(together)),
        ("Front to back", words.front_to_back(answer)),
        ("Side to side", words.side_to_side(answer)),
        ("Tilt", words.tilt(answer)),
        ("", "" if answer.inside_noise else high_side_words(answer)),
        ("Shim in", shim),
        *(() if short else _at_work(answer, words)),
    )
    drawing = table_drawing(name, answer, readings, largest, words)
    return Card(title, drawing, tuple(fact for fact in facts if fact[1]))


def _at_work(answer: Answer, words: Words) -> tuple[tuple[str, str], ...]:
    """What the tilt means for a hole that is drilled here."""
    # Where the tilt may be none at all it is how far at most.
    most = answer.tilt + answer.expanded_uncertainty if answer.inside_noise else None
    lean = lean_here(answer, words.profile, most)
    under = "" if most is None else "under "
    inch = words.profile.scale.system == "thou"
    depth = depth_text(hole_depth(words.profile), inch)
    return (
        ("At the work", f"{under}{angle_text(lean)}, {rates_text(lean)}"),
        (f"A hole {depth} deep", exit_text(lean, inch, at_most=most is not None)),
    )


def _made_of(sweeps: Sequence[CompletedSweep]) -> str:
    """What an answer is reckoned from, where that is more than the readings drawn beside it."""
    numbers = [str(sweep.number) for sweep in sweeps]
    many = len(numbers) > 1
    from_all = f"sweeps {', '.join(numbers[:-1])} and {numbers[-1]}" if many else "this sweep"
    between = " and readings between" if any(sweep.corners for sweep in sweeps) else ""
    return f"{from_all}{between}" if many or between else ""


def _first_round(sweep: CompletedSweep) -> tuple[Taken, ...]:
    return tuple(taken for taken in sweep.readings if not taken.closing)


def corrections(history: History, words: Words) -> tuple[str, ...]:
    """What was done between the sweeps, in order."""
    fitted = trials_of(history.sweeps, history.state.shims.trials)
    return tuple(
        f"Before sweep {sweep.number}: {_correction(sweep.before.plan, fitted, sweep, words)}."
        for sweep in history.sweeps
        if sweep.before.plan is not None and sweep.usable
    )


def _correction(plan: Plan, fitted: dict[int, Decimal], sweep: CompletedSweep, words: Words) -> str:
    """What was told, and what was done instead if that is known to differ."""
    told = correction_told(plan, words)
    shim = fitted.get(sweep.number)
    if plan.kind != "shim" or shim is None or abs(shim) == plan.step.total:
        return told
    return f"{told}; what went in is {words.shim_in(shim)}"


def _done(history: History, words: Words) -> Part | None:
    items = corrections(history, words)
    shim = _shim_in(history, words) if history.as_left is None else ""
    told = (Paragraph(f"In now: {shim}."),) if shim else ()
    done = (Points(items, numbered=True),) if items else ()
    return Part("What was done", (*done, *told)) if items or shim else None


def _to_do(history: History, words: Words) -> Part | None:
    items = left_to_do(history, words)
    return Part("What is left to do", (Points(items),), whole=True) if items else None


def _sweep_by_sweep(history: History, words: Words) -> Part | None:
    if not history.sweeps:
        return None
    usable = history.state.usable_sweeps
    head = ("Sweep", *(station.capitalize() for station in STATIONS), "Again",
            "Front − back", "Right − left", "Tilt", "Off plane", "")  # fmt: skip
    rows = _shortened(tuple(_sweep_row(sweep, words) for sweep in history.sweeps))
    if all(sweep.usable for sweep in history.sweeps):
        head, rows = head[:-1], tuple(row[:-1] for row in rows)
    grid = Grid(head, rows, frozenset(range(1, 10)))
    together = any(len(history.state.together_with(sweep)) > 1 for sweep in usable)
    note = Paragraph(
        f"All in {words.unit}. {what_reads(words)} Differences are over the sweep diameter, "
        "after taking out the drift of the dial. "
        f"{'Sweeps between which nothing was moved count together. ' if together else ''}"
        f"{'Readings between the stations count, too. ' if any(s.corners for s in usable) else ''}"
        "Off plane: front + back − right − left, which is zero for a flat table however it tilts.",
        small=True,
    )
    chart = (Chart(sweeps_chart(usable[-MOST_SWEEPS:], words), sweeps_key()),) if usable else ()
    return Part("Sweep by sweep", (*chart, grid, note))


def _sweep_row(sweep: CompletedSweep, words: Words) -> tuple[Cell, ...]:
    at: dict[Station, str] = {t.station: words.called(t.value) for t in _first_round(sweep)}
    closing = next((words.called(t.value) for t in sweep.readings if t.closing), "")
    answer = sweep.answer
    return (
        str(sweep.number),
        *(at.get(station, "") for station in STATIONS),
        closing,
        words.signed(answer.front_minus_back),
        words.signed(answer.right_minus_left),
        words.number(answer.tilt),
        "" if answer.saddle is None else words.signed(answer.saddle),
        f"not used: {sweep.refused}" if sweep.refused else sweep.place,
    )


def _response(history: History, words: Words) -> Part | None:
    trials, left = history.state.shims.trials, history.as_left
    if not trials or left is None:
        return None
    response = left.shim.response
    return Part(
        "What the shim did",
        (
            Paragraph(response_words(response, words)),
            Chart(response_chart(trials, response, words)),
        ),
        whole=True,
    )


def _budget(history: History, words: Words) -> Part | None:
    left = history.as_left
    if left is None:
        return None
    which = "as left" if history.finished else "of the last sweep"
    text = (
        f"Tilt {which}: {words.tilt(left)}, with 95 % confidence. That is "
        f"{left.coverage_factor:.1f} times the standard uncertainty of "
        f"{words.amount(left.standard_uncertainty)}, which comes from:"
    )
    chart = Chart(budget_chart(left.budget.tilt, words))
    proof = proof_text(left.judgement, words.amount)
    more = (Paragraph(f"The tilt is {proof}."),) if proof else ()
    return Part("How sure this is", (Paragraph(text), chart, *more), whole=True)


def _readings(history: History, words: Words) -> Part | None:
    if not history.readings:
        return None
    rows = _shortened(tuple(_reading_row(kept, words) for kept in history.readings))
    time = f"Time, {zone_of(history.readings[0].taken.at)}".removesuffix(", ")
    grid = Grid(("Sweep", "Station", words.unit, time, ""), rows, frozenset((2,)))
    return Part("Readings, in the order called", (grid,))


def _shortened(rows: tuple[tuple[Cell, ...], ...]) -> tuple[tuple[Cell, ...], ...]:
    left_out = len(rows) - MOST_ROWS
    if left_out <= 0:
        return rows
    half = MOST_ROWS // 2
    gap: tuple[Cell, ...] = ("…", *("" for _ in rows[0][1:-1]), f"{left_out} more in the export")
    return (*rows[:half], gap, *rows[-half:])


def _reading_row(kept: Kept, words: Words) -> tuple[Cell, ...]:
    taken, undone = kept.taken, kept.undone
    value = words.called(taken.value)
    note = "first station again" if taken.closing else ""
    note = set_at_first(words) if taken.zeroed else note
    if taken.no_go is not None:
        note = f"{words.called(taken.no_go)} does not go"
    return (
        str(taken.sweep),
        taken.station,
        Struck(value) if undone else value,
        second_of(taken.at),
        f"taken back: {undone.reason}" if undone else note,
    )


def _notes(history: History, words: Words) -> Part | None:
    left = history.as_left
    warnings = left.warnings if left is not None else ()
    damage = [str(history.damage)] if history.damage is not None else []
    kept = (f"noted at the machine: {one_line(text, 200)}" for text in history.state.notes)
    begun = last_job_words(history.state, words)
    texts = (*damage, *(warning.text for warning in warnings), *begun, *kept)
    notes = tuple(f"{text[:1].upper()}{text[1:]}." for text in texts)
    return Part("Notes", (Points(notes),)) if notes else None


def _foot(history: History) -> str:
    row = history.row
    closed = f", closed {minute_of(row.closed_at)}" if row.closed_at else ""
    return (
        f"Job {row.id}, started {minute_of(row.started_at)}{closed}. "
        f"{len(history.events)} events in the record. {made_by()}."
    )
