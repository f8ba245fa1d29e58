"""The page for the wall: one HTML file, complete in itself, as found and as left first.

Belongs here: what is on the page and in which order. How it looks is in `page_style` and the
drawings, what numbers are called in `wording`.
"""

from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path

from assistant.dialogue.state import Plan, Sweep, Taken
from assistant.records.charts import (
    budget_chart,
    response_chart,
    response_words,
    sweeps_chart,
    sweeps_key,
    trials_of,
)
from assistant.records.history import History, history_of
from assistant.records.journal import Journal
from assistant.records.markup import Child, Markup, join, tag
from assistant.records.page_style import STYLE
from assistant.records.table_drawing import high_side_words, table_drawing
from assistant.records.verdicts import CAUTIONS, NEXT_TIME, verdict_of
from assistant.records.versions import versions
from assistant.records.whole_files import replace_file
from assistant.records.wording import Words, day_of, minute_of, second_of
from grammar.vocabulary import STATIONS, Station


def write_report(journal: Journal, job_id: str, path: Path) -> None:
    """Write the page of a job, whole or not at all; raises RecordError."""
    replace_file(path, report_html(history_of(journal, job_id)).encode("utf-8"))


def report_html(history: History) -> str:
    """The page as HTML; the same history always gives the same page."""
    words = Words(history.state.profile)
    title = f"{history.row.machine}, {day_of(history.row.started_at)}"
    body = [
        _head(history, words),
        _verdict(history, words),
        _found_and_left(history, words),
        _done(history, words),
        _sweep_by_sweep(history, words),
        _response(history, words),
        _budget(history, words),
        _notes(history),
        _next_time(),
        _readings(history, words),
        _foot(history),
    ]
    return page(title, *body)


def page(title: str, *body: Child) -> str:
    """A whole HTML document; it may load nothing from anywhere."""
    document = tag(
        "html",
        tag(
            "head",
            tag("meta", charset="utf-8"),
            tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
            # Whatever gets past the escaping can still not load or run anything.
            tag("meta", http_equiv="Content-Security-Policy",
                content="default-src 'none'; style-src 'unsafe-inline'"),
            tag("title", title),
            tag("style", Markup(STYLE)),
        ),
        tag("body", tag("main", *body)),
        lang="en",
    )  # fmt: skip
    return f"<!DOCTYPE html>\n{document.text}\n"


def section(title: str, *body: Child, whole: bool = False) -> Markup:
    """A part of the page under its heading; ``whole``: not to be parted on paper."""
    return tag("section", tag("h2", title), *body, class_="whole" if whole else None)


def _head(history: History, words: Words) -> Markup:
    profile = words.profile
    dial = f"dial read to {words.exact(profile.scale.step)}"
    how = dial if profile.method == "indicator" else "by feeler gauges"
    about = (
        f"Table squared to the spindle on {day_of(history.row.started_at)}. "
        f"Sweep {words.length(profile.sweep_diameter)} across, {how}, "
        f"tolerance {words.tolerance()} over the sweep."
    )
    return tag(
        "header", tag("h1", history.row.machine or "machine"), tag("p", about, class_="about")
    )


def _verdict(history: History, words: Words) -> Markup:
    line = verdict_of(history, words)
    return tag(
        "p", f"{line.sign} {line.text}", tag("small", line.more) if line.more else None,
        class_=f"verdict {line.mood}",
    )  # fmt: skip


def _found_and_left(history: History, words: Words) -> Markup | None:
    usable = history.state.usable_sweeps
    if not usable:
        return None
    largest = max(sweep.answer.tilt for sweep in usable)
    if len(usable) == 1:
        return tag("div", _card("As found", "found", usable[0], largest, words), class_="pair")
    return tag(
        "div",
        _card("As found", "found", usable[0], largest, words),
        _card("As left", "left", usable[-1], largest, words),
        class_="pair",
    )


def _card(title: str, name: str, sweep: Sweep, largest: float, words: Words) -> Markup:
    answer = sweep.answer
    readings = {taken.station: words.called(taken.value) for taken in _first_round(sweep)}
    facts = (
        ("Front to back", words.front_to_back(answer)),
        ("Side to side", words.side_to_side(answer)),
        ("Tilt", f"{words.tilt(answer)}"),
        ("", high_side_words(answer)),
    )
    rows = [join(tag("dt", key), tag("dd", value)) for key, value in facts if value]
    return tag(
        "section", tag("h3", title), table_drawing(name, answer, readings, largest, words),
        tag("dl", *rows), class_="card",
    )  # fmt: skip


def _first_round(sweep: Sweep) -> tuple[Taken, ...]:
    return tuple(taken for taken in sweep.readings if not taken.closing)


def _done(history: History, words: Words) -> Markup | None:
    """What was done between the sweeps, in order."""
    fitted = trials_of(history.sweeps, history.state.trials)
    items: list[str] = []
    for sweep in history.sweeps:
        plan = sweep.plan_before
        if plan is not None and sweep.usable:
            items.append(f"Before sweep {sweep.number}: {_correction(plan, fitted, sweep, words)}.")
    if not items:
        return None
    return section("What was done", tag("ol", *(tag("li", item) for item in items), class_="steps"))


def _correction(plan: Plan, fitted: dict[int, Decimal], sweep: Sweep, words: Words) -> str:
    """What was told, and what was done instead if that is known to differ."""
    told = words.step(plan.step)
    shim = fitted.get(sweep.number)
    if plan.kind != "shim" or shim is None or abs(shim) == plan.step.total:
        return told
    return f"{told}; what went in is {words.shim_in(shim)}"


def _sweep_by_sweep(history: History, words: Words) -> Markup | None:
    if not history.sweeps:
        return None
    usable = history.state.usable_sweeps
    head = ("Sweep", *(station.capitalize() for station in STATIONS), "Back again",
            "Front − back", "Right − left", "Tilt", "Saddle", "")  # fmt: skip
    rows = [tag("tr", *(tag("td", cell) for cell in _sweep_row(s, words))) for s in history.sweeps]
    return section(
        "Sweep by sweep",
        tag("figure", sweeps_key(), sweeps_chart(usable, words)) if usable else None,
        tag(
            "div",
            tag(
                "table",
                tag("thead", tag("tr", *(tag("th", cell, scope="col") for cell in head))),
                tag("tbody", *rows),
                class_="figures",
            ),
            class_="wide",
        ),
        tag("p", f"All in {words.unit}. Plus: table high there. Differences are over the sweep "
            "diameter, after taking out the drift of the dial. Saddle: front + back − right "
            "− left, which is zero for a flat table however it tilts.", class_="small"),
    )  # fmt: skip


def _sweep_row(sweep: Sweep, words: Words) -> Sequence[str]:
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
        f"not used: {sweep.refused}" if sweep.refused else "",
    )


def _response(history: History, words: Words) -> Markup | None:
    trials, left = history.state.trials, history.as_left
    if not trials or left is None:
        return None
    response = left.shim.response
    return section(
        "What the shim did",
        tag("p", response_words(response, words)),
        tag("figure", response_chart(trials, response, words)),
        whole=True,
    )


def _budget(history: History, words: Words) -> Markup | None:
    left = history.as_left
    if left is None:
        return None
    factor = f"{left.coverage_factor:.1f}"
    return section(
        "How sure this is",
        tag("p", f"Tilt as left: {words.tilt(left)}, with 95 % confidence. That is {factor} times "
            f"the standard uncertainty of {words.amount(left.standard_uncertainty)}, which comes "
            "from:"),
        tag("figure", budget_chart(left.budget.tilt, words)),
        whole=True,
    )  # fmt: skip


def _readings(history: History, words: Words) -> Markup | None:
    if not history.readings:
        return None
    head = ("Sweep", "Station", "Reading", "Time, UTC", "")
    rows = []
    for kept in history.readings:
        taken, undone = kept.taken, kept.undone
        note = (
            "dial set to zero" if taken.zeroed else "first station again" if taken.closing else ""
        )
        value = words.called(taken.value)
        rows.append(
            tag(
                "tr",
                tag("td", str(taken.sweep)),
                tag("td", taken.station),
                tag("td", tag("s", value) if undone else value, f" {words.unit}"),
                tag("td", second_of(taken.at)),
                tag("td", f"taken back: {undone.reason}" if undone else note),
            )
        )
    return section(
        "Readings, in the order called",
        tag(
            "div",
            tag(
                "table",
                tag("thead", tag("tr", *(tag("th", cell, scope="col") for cell in head))),
                tag("tbody", *rows),
                class_="called",
            ),
            class_="wide",
        ),
    )


def _notes(history: History) -> Markup:
    left = history.as_left
    warnings = left.warnings if left is not None else ()
    damage = [str(history.damage)] if history.damage is not None else []
    notes = [*damage, *(warning.text for warning in warnings)]
    return join(
        section("Notes", tag("ul", *(tag("li", note) for note in notes))) if notes else None,
        section("Cautions", tag("ul", *(tag("li", caution) for caution in CAUTIONS))),
    )


def _next_time() -> Markup:
    return section("Next time", tag("ul", *(tag("li", line) for line in NEXT_TIME)))


def _foot(history: History) -> Markup:
    row = history.row
    made_by = ", ".join(f"{name} {version}" for name, version in versions().items())
    closed = f", closed {minute_of(row.closed_at)}" if row.closed_at else ""
    return tag(
        "footer",
        tag("p", f"Job {row.id}, started {minute_of(row.started_at)}{closed}. "
            f"{len(history.events)} events in the record. Made by {made_by}.", class_="small"),
    )  # fmt: skip
