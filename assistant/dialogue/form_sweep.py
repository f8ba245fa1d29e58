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
from math import sqrt

from assistant.dialogue import prompts
from assistant.dialogue.amounts import SPOKEN_STEP, amount
from assistant.dialogue.asking import FIRST, Out, ask, go
from assistant.dialogue.findings import FormFound, FormSweep
from assistant.dialogue.judging import advise, correct
from assistant.dialogue.phases import Phase
from assistant.dialogue.prompts import heights
from assistant.dialogue.reckoning import reading_sigma, sweep_limits
from assistant.dialogue.state import State, Sweep
from assistant.metrology.form import Spot, fit_form
from assistant.metrology.stations import BEARING_OF
from grammar.meaning import Reading

BEARINGS = (45.0, 135.0, 225.0, 315.0)
"""Of the corners, in their order; clockwise from the back."""

CLEAR = 2.0
"""A term of the form is believed when it is twice its standard uncertainty."""


def offer_form(state: State) -> Out | None:
    """Offer to look at the form; None where that was done or declined, or there is no dial."""
    form = state.form
    if form.found is not None or form.declined or not can_look(state):
        return None
    asked = replace(form, due=False, further=True, corners=())
    return go(replace(state, form=asked), Phase.FORM)


def can_look(state: State) -> bool:
    """Whether the last sweep is one by a dial that can be read on from."""
    last = state.sweeps[-1] if state.sweeps else None
    return state.profile.method == "indicator" and last is not None and last.usable


def form_command(state: State, name: str) -> Out | None:
    """A command in a phase of the form; None for one that does nothing there."""
    form = state.form
    match state.phase, name:
        case Phase.FORM, "yes":
            return go(replace(state, form=replace(form, corners=())), Phase.CORNERS)
        case Phase.FORM, "disregard" if form.further:
            return go(state, Phase.OTHER)
        case Phase.FORM, "no":
            return _given_up(state, "")
        case Phase.CORNERS, "skip":
            return _given_up(state, "")
        case Phase.CORNERS, "disregard" if form.corners:
            shorter = replace(form, corners=form.corners[:-1])
            back = heights.corner_taken_back(heights.CORNERS[len(shorter.corners)])
            return ask(replace(state, form=shorter), back)
        case Phase.HOLLOW, "disregard":
            return go(replace(state, form=replace(form, found=None)), Phase.CORNERS)
        case Phase.HOLLOW, "skip":
            return _told(state, "")
        case _:
            return None


def form_reading(state: State, called: Reading) -> Out:
    """A corner, the first station again, or the gap under the straight edge."""
    if state.phase is Phase.HOLLOW:
        return ask(state) if called.station else _gap(state, called)
    at = len(state.form.corners)
    if at < len(BEARINGS):
        if called.station is not None:
            return ask(state)
        corners = (*state.form.corners, called.value)
        taken = replace(state, form=replace(state.form, corners=corners), misses=0)
        return ask(taken, heights.corner_is(heights.CORNERS[at], called.value))
    if called.station not in (None, FIRST):
        return ask(state, prompts.watch_this(FIRST))
    return _closed(state, called.value)


def _closed(state: State, again: Decimal) -> Out:
    """The first station once more: did the dial stay, and what is the form?"""
    last, said = state.sweeps[-1], prompts.reading(FIRST, again)
    begun = _closing(last)
    if abs(again - begun) > sweep_limits(state.profile).drift_refused:
        return _given_up(state, f"{said} {heights.form_moved(FIRST)}")
    found = form_of(state, last, again)
    kept = replace(state, form=replace(state.form, found=found), misses=0)
    return go(kept, Phase.HOLLOW, said)


def form_of(state: State, sweep: Sweep, again: Decimal) -> FormFound:
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
    # The larger of what the residuals and what the noise of readings say. Over eight places
    # cos 2b has a square sum of four, and a term is four times its coefficient.
    by_noise = 4 * reading_sigma(state.profile) / sqrt(4)
    u = max(by_noise, fit.u.get("saddle", 0.0))
    # The terms count two against two; what one pair stands over the other is half of that.
    return FormFound(
        fit.front_minus_back,
        fit.right_minus_left,
        (fit.saddle or 0.0) / 2,
        (fit.twist or 0.0) / 2,
        u / 2,
    )


def _closing(sweep: Sweep) -> Decimal:
    return next((taken.value for taken in sweep.readings if taken.closing), Decimal(0))


def _gap(state: State, called: Reading) -> Out:
    found = state.form.found
    if found is None:
        return _told(state, "")
    known = replace(found, hollow=abs(called.value))
    return _told(replace(state, form=replace(state.form, found=known)), "")


def _given_up(state: State, said: str) -> Out:
    return _go_on(replace(state, form=FormSweep(declined=True, further=state.form.further)), said)


def _told(state: State, said: str) -> Out:
    """Everything that was found, in one breath, and on with the job."""
    words = form_words(state.form.found) if state.form.found else ""
    return _go_on(state, f"{said} {words}".strip())


def _go_on(state: State, said: str) -> Out:
    """On with the job: to what it asks for, or to what is still to be had beyond that."""
    if state.form.further:
        return correct(replace(state, axis_left_out=()), said)
    return advise(state, said)


def form_words(found: FormFound) -> str:
    """The form as it is spoken."""
    told = [
        heights.warp(high, amount(value, SPOKEN_STEP))
        for value, high in warps(found)
    ]  # fmt: skip
    if found.hollow:
        told.append(heights.hollow(amount(found.hollow, SPOKEN_STEP)))
    return " ".join([*told, heights.NOT_BY_SETTING]) if told else heights.NO_WARP


def warps(found: FormFound) -> tuple[tuple[float, str], ...]:
    """The terms that stand out of the noise: size, and what is high."""
    terms = (
        (found.saddle, "front and back", "right and left"),
        (found.twist, "back right and front left", "front right and back left"),
    )
    return tuple(
        (abs(value), high if value > 0 else low)
        for value, high, low in terms
        if abs(value) > CLEAR * found.u
    )
