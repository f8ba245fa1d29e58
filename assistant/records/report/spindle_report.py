"""What the checks of the spindle found, in the words of the printed report."""

from decimal import Decimal

from assistant.dialogue.facts import SpindleChecks
from assistant.dialogue.procedures.spindle import lean_bounds, quill_leans, too_much
from assistant.metrology.answer import Answer
from assistant.metrology.spindle import travel_off_axis
from assistant.records.journal.history import History
from assistant.records.report.blocks import Paragraph, Part, Points
from assistant.records.report.wording import Words

_NOTE = (
    "Bar and dial turn as one body in a sweep, so that runout does not enter it. End play enters "
    "it as far as the spindle does not drop back by itself. Travel of the quill is not seen by "
    "any sweep; holes follow it."
)


def spindle_part(history: History, words: Words) -> Part | None:
    """The checks that were made, one line each; None without any."""
    done = history.state.spindle
    lines = (
        _runout(done, words),
        _shake(done, words),
        _end_play(done, words),
        _quill(done, words),
        _off_axis(done, history.as_found, words),
    )
    told = tuple(line for line in lines if line)
    if not told:
        return None
    return Part("The spindle before the sweep", (Points(told), Paragraph(_NOTE, small=True)))


def _runout(done: SpindleChecks, words: Words) -> str:
    if done.near is None or done.far is None:
        return ""
    scale = words.profile.scale
    apart = words.length(SpindleChecks.apart(scale))
    told = (
        f"Runout (full movement of the dial): {words.exact(done.near)} near the chuck, "
        f"{words.exact(done.far)} at {apart} down the bar"
    )
    if too_much(done, scale):
        told = (
            f"{told}. That is too much for a sound bar, chuck and spindle: see the machine's manual"
        )
    bounds = lean_bounds(done)
    if bounds is None or max(done.near, done.far) <= scale.step:
        return f"{told}."
    least, most = bounds
    by = words.amount(most)
    if least != most:
        by = f"between {words.number(least)} and {by}"
    match quill_leans(done, scale):
        case True:
            return f"{told}. The bar leans: its offset changes by {by} from one to the other."
        case False:
            return f"{told}. The bar sits off centre and does not lean."
        case _:
            return f"{told}. Its offset changes by {by}: off centre or leaning."


def _shake(done: SpindleChecks, words: Words) -> str:
    return "" if done.shake is None else f"Side shake: {words.exact(done.shake)}."


def _end_play(done: SpindleChecks, words: Words) -> str:
    if done.lifted is None or done.stays is None:
        return ""
    if done.stays <= words.profile.scale.step:
        return f"End play: {words.exact(done.lifted)}; the spindle drops back by itself."
    return (
        f"End play: {words.exact(done.lifted)}, of which {words.exact(done.stays)} stays when it "
        "is let go; that is a part of the uncertainty."
    )


def _quill(done: SpindleChecks, words: Words) -> str:
    ways = _ways(
        (None if done.back is None else float(done.back)),
        (None if done.right is None else float(done.right)),
        words,
    )
    depth = words.length(SpindleChecks.depth(words.profile.scale))
    return f"Going down {depth} along a square on the table the quill runs {ways}." if ways else ""


def _off_axis(done: SpindleChecks, found: Answer | None, words: Words) -> str:
    """Free of the tilt of the table, on which the square stood."""
    if done.back is None or done.right is None or found is None:
        return ""
    depth = SpindleChecks.depth(words.profile.scale)
    back, right = travel_off_axis(
        (float(done.back), float(done.right)),
        (found.front_minus_back, found.right_minus_left),
        float(depth / words.profile.sweep_diameter),
    )
    return (
        f"With the tilt of the table as found taken out, that is {_ways(back, right, words)} "
        "against the axis of the spindle (with the error of the square in it)."
    )


def _ways(back: float | None, right: float | None, words: Words) -> str:
    told = [
        f"{words.amount(value)} to the {plus if value > 0 else minus}"
        for value, plus, minus in ((back, "back", "front"), (right, "right", "left"))
        if value is not None and Decimal(str(value)) != 0
    ]
    if not told and back is None and right is None:
        return ""
    return " and ".join(told) or "true"
