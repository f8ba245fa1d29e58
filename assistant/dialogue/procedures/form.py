"""The table's form: four more stations between the four, and a straight edge.

What four stations cannot see: a dish lifts all four alike, a twist across the corners goes
through all four at its zero, and a table bent in three lobes reads like a tilt (at 0, 90,
180 and 270 degrees cos 3b is cos b). The corners are read on from the zero of the sweep
just made, nothing being loosened between; the first station again shows that the dial
stayed. A smaller circle would show a dish only if the dial's zero were carried over, which
moving the dial in its clamp loses: the gap under a straight edge is that.
"""

from dataclasses import replace
from decimal import Decimal
from typing import Final

from assistant.dialogue.facts import FormFound, FormSweep
from assistant.dialogue.formatting import SPOKEN_STEP, amount
from assistant.dialogue.messages import Heard
from assistant.dialogue.missed import in_doubt
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures import sides
from assistant.dialogue.procedures.heights import Heights
from assistant.dialogue.procedures.sweep import FIRST, back_to_sweep
from assistant.dialogue.returns import cause_told, returns_of
from assistant.dialogue.rows import Procedure, Row
from assistant.dialogue.spoken import spoken
from assistant.dialogue.state import CompletedSweep, State
from assistant.dialogue.sweep_answer import reading_known, sweep_limits
from assistant.dialogue.turn import Outcome, Turn, ask, done, go
from assistant.dialogue.wording import call_again, reading, watch_this
from assistant.metrology.form import Spot, fit_form
from assistant.metrology.scatter import Scatter
from assistant.metrology.stations import BEARING_OF
from grammar.meaning import Reading
from grammar.say import signed_words
from grammar.vocabulary import Station


class Form(Phase):
    """The offer, the corners, the straight edge."""

    FORM = "form"
    CORNERS = "corners"
    HOLLOW = "hollow"


BEARINGS = (45.0, 135.0, 225.0, 315.0)
"""Of the corners, in their order; clockwise from the back."""

TERMS = 5
"""What is fitted to eight stations: height, two tilts, saddle and twist."""

# -- words -------------------------------------------------------------------------------
FORM: Final = "Check the table's form?"  # the readings do not belong to a plane

CORNERS: Final = ("back right", "front right", "front left", "back left")
"""Stations between the four, in the order of the sweep."""


@spoken
def corner(place: str) -> str:
    """Ask for a reading between two stations."""
    return f"{place.capitalize()}?"


@spoken
def corner_is(place: str, value: Decimal) -> str:
    """Read a corner's reading back."""
    return f"{place.capitalize()} {signed_words(value)}."


@spoken
def corner_taken_back(place: str) -> str:
    """After "disregard"."""
    return f"{place.capitalize()} taken back."


@spoken
def form_moved(station: Station) -> str:
    """The dial did not come back: the corners do not belong to the sweep before them."""
    return f"{station.capitalize()} moved. No form from this."


HOLLOW: Final = "Straight edge across. Gap in the middle?"
"""Eight stations on one circle cannot see a dish."""

NO_WARP: Final = "No warp that can be read."  # neither saddle nor twist stands out


@spoken
def warp(high: str, value: str) -> str:
    """Two opposite sides or corners that stand over the others."""
    return f"Warped: {high} {value} high."


@spoken
def hollow(value: str) -> str:
    """The gap under the straight edge."""
    return f"Hollow {value}."


@spoken
def gap_is_rough(value: str) -> str:
    """The gap is no more than a rough table has anywhere, without being hollow."""
    return f"Gap {value}, no more than rough."


NOT_BY_SETTING: Final = "No shim or tap takes that out."  # form is not tilt

# -- the offer ---------------------------------------------------------------------------


def offer_form(state: State) -> Turn | None:
    """Offer to look at the form; None where that was done or declined, or there is no dial."""
    form = state.form
    if form.found is not None or form.declined or not can_look(state):
        return None
    asked = replace(form, due=False, further=True, corners=())
    return go(replace(state, form=asked), Form.FORM)


def read_corners(state: State, said: str) -> Turn:
    """Four more stations, to know the tilt better."""
    asked = replace(state.form, corners=(), for_tilt=True)
    return go(replace(state, form=asked), Form.CORNERS, said)


def can_look(state: State) -> bool:
    """Whether the last sweep is one by a dial that can be read on from."""
    last = state.sweeps[-1] if state.sweeps else None
    return state.profile.method == "indicator" and last is not None and last.usable


def _yes(state: State, _: Heard) -> Turn:
    return go(replace(state, form=replace(state.form, corners=())), Form.CORNERS)


def _no(state: State, _: Heard) -> Turn:
    return _given_up(state, "")


def _back_from_offer(state: State, heard: Heard) -> Turn:
    return go(state, Heights.OTHER) if state.form.further else back_to_sweep(state, heard)


# -- the corners -------------------------------------------------------------------------


def _corner_asked(state: State) -> str:
    read = len(state.form.corners)
    return corner(CORNERS[read]) if read < len(CORNERS) else call_again(FIRST)


def _awaited(state: State) -> Station | None:
    return FIRST if len(state.form.corners) == len(CORNERS) else None


def _corner(state: State, called: Reading, _: Heard) -> Turn:
    """A corner, or the first station again."""
    read = state.form.corners
    if called.correction and read and called.station is None:
        read = read[:-1]
    at = len(read)
    if at < len(BEARINGS):
        if called.station is not None:
            return ask(state)
        corners = (*read, called.value)
        taken = replace(state, form=replace(state.form, corners=corners))
        return ask(taken, corner_is(CORNERS[at], called.value))
    if called.station not in (None, FIRST):
        return ask(state, watch_this(FIRST))
    return _closed(state, called.value)


def _unasked(state: State) -> bool:
    """Whether the person was sent here, and may well not want it."""
    return state.form.for_tilt and not state.form.corners


def _withheld(state: State) -> tuple[str, ...]:
    """What would do nothing now."""
    nothing = () if state.form.corners else ("correction",)
    return nothing if _unasked(state) else ("no", "yes", "done", "finish", *nothing)


def _corner_back(state: State, heard: Heard) -> Turn:
    form = state.form
    if not form.corners and form.for_tilt:
        return back_to_sweep(replace(state, form=replace(form, for_tilt=False)), heard)
    if not form.corners:
        return go(state, Form.FORM)
    shorter = replace(form, corners=form.corners[:-1])
    return ask(replace(state, form=shorter), corner_taken_back(CORNERS[len(shorter.corners)]))


def _closed(state: State, again: Decimal) -> Turn:
    """The first station once more: did the dial stay, and what is the form?"""
    last, said = state.sweeps[-1], reading(FIRST, again)
    begun = _closing(last)
    if abs(again - begun) > sweep_limits(state.profile).drift_refused:
        return _moved(state, again, said)
    if state.form.for_tilt:
        said = f"{said} {cause_told(state, returns_of(state), again - begun)}".strip()
        known = replace(last, corners=(*state.form.corners, again))
        asked = replace(state.form, for_tilt=False, corners=())
        with_corners = replace(state, sweeps=(*state.sweeps[:-1], known), form=asked)
        return done(with_corners, Outcome.KNOWN_BETTER, said)
    found = form_of(state, last, again)
    # What was read for the form tells the tilt, too.
    known = replace(last, corners=(*state.form.corners, again))
    form = replace(state.form, found=found)
    kept = replace(state, form=form, sweeps=(*state.sweeps[:-1], known))
    return go(kept, Form.HOLLOW, said)


def _moved(state: State, again: Decimal, said: str) -> Turn:
    """It did not come back: the corners are no good, unless the sweep's zero was at the front."""
    last = state.sweeps[-1]
    read = replace(last, corners=(*state.form.corners, again))
    doubt = in_doubt(replace(state, sweeps=(*state.sweeps[:-1], read)))
    if doubt in ("ends", "signs"):
        without = FormSweep(declined=True, further=state.form.further)
        return sides.asked(replace(state, form=without), doubt, said, again)
    return _given_up(state, f"{said} {form_moved(FIRST)}")


def form_of(state: State, sweep: CompletedSweep, again: Decimal) -> FormFound:
    """The form from the sweep and the corners, each freed of its even drift; in counts."""
    begun = _closing(sweep)
    round_ = [taken for taken in sweep.readings if not taken.closing]
    along = sorted(round_, key=lambda taken: taken.order)
    heights_at = [
        (float(BEARING_OF[taken.station]), float(taken.value - begun * k / len(along)))
        for k, taken in enumerate(along)
    ]
    drift, count = again - begun, len(BEARINGS) + 1
    for k, (bearing, value) in enumerate(zip(BEARINGS, state.form.corners, strict=True), 1):
        heights_at.append((bearing, float(value - begun - drift * k / count)))
    fit = fit_form([Spot(bearing, 1.0, height) for bearing, height in heights_at])
    # What the residuals and what the noise of readings say, together. Over eight places cos 2b has
    # a square sum of four, and a term is four times its coefficient: twice a reading's scatter.
    seen = Scatter(fit.u.get("saddle", 0.0) / 2, len(BEARINGS) * 2 - TERMS)
    scatter = reading_known(state.profile, state.spindle.stays).with_more([seen])
    # The terms count two against two; what one pair stands over the other is half of that.
    return FormFound(
        fit.front_minus_back,
        fit.right_minus_left,
        (fit.saddle or 0.0) / 2,
        (fit.twist or 0.0) / 2,
        scatter.sd,
        dof=scatter.dof,
    )


def _closing(sweep: CompletedSweep) -> Decimal:
    return next((taken.value for taken in sweep.readings if taken.closing), Decimal(0))


# -- the straight edge -------------------------------------------------------------------


def _gap(state: State, called: Reading, _: Heard) -> Turn:
    if called.station:
        return ask(state)
    if state.form.found is None:
        return _told(state)
    known = replace(state.form.found, hollow=abs(called.value))
    return _told(replace(state, form=replace(state.form, found=known)))


def _hollow_back(state: State, _: Heard) -> Turn:
    return go(replace(state, form=replace(state.form, found=None)), Form.CORNERS)


# -- and on with the job -----------------------------------------------------------------


def _given_up(state: State, said: str) -> Turn:
    return _go_on(replace(state, form=FormSweep(declined=True, further=state.form.further)), said)


def _told(state: State) -> Turn:
    """Everything that was found, in one breath, and on with the job."""
    return _go_on(state, form_words(state.form.found) if state.form.found else "")


def _go_on(state: State, said: str) -> Turn:
    """On with the job: to what it asks for, or to what is still to be had beyond that."""
    if state.form.further:
        return done(replace(state, axis_left_out=()), Outcome.CORRECT, said)
    last = state.sweeps[-1] if state.sweeps else None
    known = last is not None and last.usable and last.corners and state.form.found is not None
    return done(state, Outcome.KNOWN_BETTER if known else Outcome.ADVISE, said)


def form_words(found: FormFound) -> str:
    """The form as it is spoken."""
    told = [
        warp(high, amount(value, SPOKEN_STEP))
        for value, high in warps(found)
    ]  # fmt: skip
    gap = amount(found.hollow or 0, SPOKEN_STEP)
    if found.dished:
        told.append(hollow(gap))
    parts = [*told, NOT_BY_SETTING] if told else [NO_WARP]
    rough = [gap_is_rough(gap)] if found.hollow and not found.dished else []
    return " ".join([*parts, *rough])


def warps(found: FormFound) -> tuple[tuple[float, str], ...]:
    """The terms that stand out of the noise: size, and what is high."""
    terms = (
        (found.saddle, "front and back", "right and left"),
        (found.twist, "back right and front left", "front right and back left"),
    )
    return tuple(
        (abs(value), high if value > 0 else low)
        for value, high, low in terms
        if abs(value) > found.clear
    )


PROCEDURE = Procedure(
    (
        Row(
            Form.FORM,
            "FORM?",
            FORM,
            {"yes": _yes, "no": _no, "disregard": _back_from_offer},
            how="Four more readings show twist and hollow.",
        ),
        Row(
            Form.CORNERS,
            "EDGE",
            _corner_asked,
            {
                "skip": _no,
                "correction": _corner_back,
                "disregard": _corner_back,
                "no": _no,
                "yes": lambda state, _: ask(state),
                "done": _no,
                "finish": Outcome.FINISH,
            },
            withheld=_withheld,
            weighty=("finish",),
            on_reading=_corner,
            doubt="unit",
            readings=True,
            station=_awaited,
            how="Halfway between the stations, dial as it is.",
        ),
        Row(
            Form.HOLLOW,
            "GAP",
            HOLLOW,
            {"skip": lambda state, _: _told(state), "disregard": _hollow_back},
            on_number=_gap,
            readings=True,
            stations=False,
            how="Slip leaves under the middle of it.",
        ),
    ),
)
