"""Other heights of the table and its form, in the words of the printed report."""

from assistant.dialogue.procedures.form import warps
from assistant.dialogue.procedures.heights import differ, places_of, survey_of
from assistant.records.journal.history import History
from assistant.records.report.blocks import Grid, Paragraph, Part, Points
from assistant.records.report.wording import Words

_UNSEEN = (
    "Four stations cannot see a dish, which lifts all four alike, nor a twist, which goes through "
    "all four at its zero; and they take a table bent in three lobes for a tilted one. Eight "
    "stations on one circle show the last two, a straight edge the first."
)


def heights_part(history: History, words: Words) -> Part | None:
    """The same table at other heights and swings, or None where only one was swept."""
    state = history.state
    first, together, others = state.as_left, survey_of(state), places_of(state)
    if first is None or together is None:
        return None
    named = (("first, as left", first), *((sweep.place, sweep.answer) for sweep in others))
    rows = tuple(
        (
            name,
            words.signed(answer.front_minus_back),
            words.signed(answer.right_minus_left),
            words.tilt(answer),
        )
        for name, answer in named
    )
    shift_fb, shift_rl = together.shift
    text = (
        f"Not square alike everywhere: worst is {together.worst}. One setting for all would change "
        f"front − back by {words.signed(shift_fb)} and right − left by {words.signed(shift_rl)}, "
        f"and leave {words.amount(together.best_tilt)} at the worst place."
        if any(differ(first, sweep.answer) for sweep in others)
        else "The places cannot be told apart by these sweeps."
    )
    grid = Grid(("Place", "Front − back", "Right − left", "Tilt"), rows, frozenset((1, 2, 3)))
    return Part("At other heights and swings", (grid, Paragraph(text)), whole=True)


def form_part(history: History, words: Words) -> Part | None:
    """The table's form, or None where it was not looked at."""
    found = history.state.form.found
    if found is None:
        return None
    told = [f"{high} stand {words.amount(value)} over the rest" for value, high in warps(found)]
    if not told:
        told = [f"no warp beyond the noise of {words.amount(2 * found.u)}"]
    told.append(
        f"by eight stations: front − back {words.signed(found.front_minus_back)}, "
        f"right − left {words.signed(found.right_minus_left)}"
    )
    if found.hollow is not None:
        gap = words.exact(found.hollow) if found.hollow else "none"
        told.append(f"gap under a straight edge, in the middle: {gap}")
    items = tuple(f"{text[:1].upper()}{text[1:]}." for text in told)
    return Part("The table's form", (Points(items), Paragraph(_UNSEEN, small=True)), whole=True)
