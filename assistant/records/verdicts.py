"""What the page says about a job in one sentence, for whoever reads only that."""

from assistant.metrology.conformance import Verdict as Outcome
from assistant.records.blocks import Verdict
from assistant.records.history import History
from assistant.records.wording import Words

CAUTIONS: tuple[str, ...] = (
    "Unplug the machine, or lock it out where it is wired in, before a bar is chucked. Turn the "
    "spindle by hand only. Chuck key out.",
    "Hold the table before its lock or bolt is loosened: it may drop. Wear eye protection when "
    "tapping.",
    "The machine's own manual, local codes and the rules of the shop come before this page.",
    "Squareness was measured at one height and one swing of the table: it can differ at another.",
)

NEXT_TIME: tuple[str, ...] = (
    "Sweep again after a week of use, and after any hard knock.",
    "Check that the shim is still where it was put, and that bolt and locks are tight.",
)


def verdict_of(history: History, words: Words) -> Verdict:
    """The verdict on how the table was left."""
    left = history.as_left
    tolerance = f"{words.tolerance()} over {words.length(words.profile.sweep_diameter)}"
    if left is None:
        return Verdict("open", "–", "No complete sweep yet.", _state(history))
    tilt = words.tilt(left)
    line = _line(left.verdict, tolerance)
    more = f"The table was left with a tilt of {tilt} (95 %)."
    if left.verdict in ("beyond", "undecided"):
        more = f"{more} Allowed: {tolerance}."
    return Verdict(line.mood, line.sign, line.text, f"{more} {_state(history)}".strip())


def _line(verdict: Outcome | None, tolerance: str) -> Verdict:
    match verdict:
        case "within":
            return Verdict("good", "✓", f"Square within {tolerance}.", "")
        case "beyond":
            return Verdict("bad", "✗", "Out of tolerance.", "")
        case "undecided":
            return Verdict("open", "?", "Too close to the tolerance to call.", "")
        case None:
            return Verdict("open", "–", "No tolerance to judge by.", "")


def _state(history: History) -> str:
    if history.damage is not None:
        return "Part of the record is damaged: this page shows what could be read."
    if not history.finished:
        return "The job was not finished; it can be gone on with."
    return ""
