"""The sheet for the machine: what was found, how it was left, what is in, when to look again.

One side of paper to hang on the wall, large enough to be read standing at the machine. The
report has the rest.
"""

from assistant.records.journal.history import History
from assistant.records.report.blocks import Document, Facts, PageBlock, Points, ScanCode, Title
from assistant.records.report.content import found_and_left, made_by
from assistant.records.report.sheet_code import code_drawing, code_text
from assistant.records.report.verdicts import squareness, verdict_of
from assistant.records.report.wording import Words, day_of

REMINDERS: tuple[str, ...] = (
    "Before you sweep: unplug or lock out, chuck key out, spindle by hand only, all held.",
    "True where it was swept, not at another height or swing. Follow the machine's manual, local "
    "codes and licensed practice.",
)


AGAIN = "after a week of use, after any hard knock"


def sheet_of(history: History) -> Document:
    """The sheet of a job; the same history always gives the same sheet."""
    words = Words(history.state.profile)
    blocks: tuple[PageBlock | None, ...] = (
        Title(
            history.row.machine or "machine",
            f"{squareness(words.profile.kind)}, {day_of(history.row.started_at)}.",
        ),
        verdict_of(history, words),
        found_and_left(history, words, short=True),
        _facts(history, words),
        _code(history, words),
    )
    return Document(
        f"{history.row.machine}, sheet, {day_of(history.row.started_at)}",
        tuple(block for block in blocks if block is not None),
        f"Job {history.row.id}. {made_by()}.",
    )


def _facts(history: History, words: Words) -> Facts:
    profile = words.profile
    rows: list[tuple[str, str]] = []
    if profile.method != "touch":
        # By touch nothing is measured: no size and no tolerance counts.
        rows.append(("Swept", f"{words.length(profile.sweep_diameter)} across, all locked"))
        rows.append(("Allowed", f"{words.tolerance()} over the sweep"))
    shims = words.shims_of(history.state)
    if shims or history.state.shims.trials:
        rows.append(("Shim", shims or words.shim_in(history.state.shims.total)))
    return Facts((*rows, ("Again", AGAIN)))


def _code(history: History, words: Words) -> ScanCode | None:
    text = code_text(history, words)
    if text is None:
        return None
    told = "The code holds the last readings as text; 'sweepsay solve' works it out again."
    return ScanCode(code_drawing(text), Points((*REMINDERS, told)))
