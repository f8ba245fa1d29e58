"""What the page says about a job in one sentence, for whoever reads only that."""

from assistant.dialogue.machine import MachineKind
from assistant.dialogue.procedures.packing import packing_told
from assistant.metrology.conformance import Verdict as Outcome
from assistant.records.journal.history import History
from assistant.records.report.blocks import VerdictLine
from assistant.records.report.left_to_do import loosened_since
from assistant.records.report.wording import Words

_HELD: dict[MachineKind, str] = {
    "bolted": "Hold the table before its lock or bolt is loosened: it may drop. Wear eye "
    "protection when tapping.",
    "pinned": "Hold the table before its locating pin or bolt is loosened: it may drop or swing. "
    "Wear eye protection when tapping.",
    "free": "Hold the table before its lock is loosened: it may drop or turn. Wear eye "
    "protection when tapping.",
    "packed": "What stands on plain feet may slide or tip when its bolts are eased, and comes down "
    "on fingers: pry it up, fingers out of the gap. Wear eye protection.",
    "head": "Support the head before its bolts are loosened: snug, never off. It may swing. Wear "
    "eye protection.",
}


def cautions_for(kind: MachineKind) -> tuple[str, ...]:
    """What must be kept in mind at a machine of this kind."""
    where = "height of the knee" if kind == "head" else "height and one swing of the table"
    return (
        "Unplug the machine, or lock it out where it is wired in, before a bar is chucked. Turn "
        "the spindle by hand only. Chuck key out.",
        _HELD[kind],
        "Follow the machine's own manual, local codes and licensed practice: they come before this "
        "page.",
        f"Squareness was measured at one {where}: it can differ at another.",
    )


CAUTIONS = cautions_for("bolted")
"""For a page that is not about one job."""


def next_time(history: History) -> tuple[str, ...]:
    """What to look at next time, by what is in the machine."""
    tight = "bolts and locks are tight."
    shimmed = f"the shim is still where it was put, and that {tight}"
    leaves_in = history.state.shims.total or packing_told(history.state)
    return (
        "Sweep again after a week of use, and after any hard knock.",
        f"Check that {shimmed if leaves_in else tight}",
    )


def squareness(kind: MachineKind) -> str:
    """What the page is about; whether it is square is the verdict's to say."""
    what = "head to the table" if kind == "head" else "table to the spindle"
    return f"Squareness of the {what}"


def verdict_of(history: History, words: Words) -> VerdictLine:
    """The verdict on how the table was left."""
    left = history.as_left
    tolerance = f"{words.tolerance()} over {words.length(words.profile.sweep_diameter)}"
    if left is None:
        text = (
            "Set by touch: not measured."
            if history.state.touch.rounds
            else "No complete sweep yet."
        )
        return VerdictLine("open", "–", text, _state(history))
    if loosened_since(history.state):
        text = "Loosened since the last sweep: sweep it again."
        more = f"The last sweep has a tilt of {words.tilt(left)} (95 %)."
        return VerdictLine("open", "–", text, f"{more} {_state(history)}".strip())
    tilt = words.tilt(left)
    line = _line(left.verdict, tolerance)
    what = "head" if words.profile.kind == "head" else "table"
    more = f"The {what} was left with a tilt of {tilt} (95 %)."
    if not history.finished:
        more = f"The last sweep has a tilt of {tilt} (95 %)."
    if left.verdict in ("beyond", "undecided"):
        more = f"{more} Allowed: {tolerance}."
    return VerdictLine(line.mood, line.sign, line.text, f"{more} {_state(history)}".strip())


def _line(verdict: Outcome | None, tolerance: str) -> VerdictLine:
    match verdict:
        case "within":
            return VerdictLine("good", "✓", f"Square within {tolerance}.", "")
        case "beyond":
            return VerdictLine("bad", "✗", "Out of tolerance.", "")
        case "undecided":
            return VerdictLine("open", "?", "Too close to the tolerance to call.", "")
        case None:
            return VerdictLine("open", "–", "No tolerance to judge by.", "")


def _state(history: History) -> str:
    if history.damage is not None:
        return "Part of the record is damaged: this page shows what could be read."
    if not history.finished:
        return "The job was not finished; it can be gone on with."
    return ""
