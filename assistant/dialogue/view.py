"""What a screen shows, as plain data: a picture of the state, made by one pure function.

Nothing here decides anything, and nothing knows of terminals. Levels and whether the voice
is speaking are the devices' business and are added by whoever draws.
"""

from dataclasses import dataclass
from typing import Literal

from assistant.dialogue.answer_words import axes_words
from assistant.dialogue.formatting import count_name, digits, signed_digits
from assistant.dialogue.job import row_of
from assistant.dialogue.keys import legend
from assistant.dialogue.pending import open_question
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.gap import Gap
from assistant.dialogue.procedures.safety import Safety
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.procedures.touch import high_words
from assistant.dialogue.questions import asked_now, before_job, offer_now, stopped_words
from assistant.dialogue.state import AskGoOn, State, Taken
from assistant.dialogue.wording import number_hint, shim_hint
from assistant.metrology.answer import Answer
from assistant.metrology.judgement import stands_out
from grammar.say import Way
from grammar.vocabulary import STATIONS, Station

Listening = Literal["listening", "standing by", "too loud", "no microphone", "closed"]

StationMark = Literal["missing", "read", "awaited", "asked again"]

RULES = "Follow the machine's manual, local codes and licensed practice."
CAUTION = f"Unplugged. Spindle by hand. Table held. Glasses on. {RULES}"
"""Shown all the time."""

ORDERS = f"Unplug. Hold the table. Glasses on. Chuck key out. Spindle by hand. {RULES}"
"""Shown in its place until all of it was agreed to."""


@dataclass(frozen=True, slots=True)
class StationView:
    """One station of the picture. ``value``: "+6", "-2.5", "0", or empty."""

    station: Station
    value: str
    mark: StationMark


@dataclass(frozen=True, slots=True)
class View:
    """Everything on the screen.

    ``sweep``: 0 before there is a job. ``headline``: one word to be read from afar.
    ``number``: the value that matters now, as digits, with ``number_label`` saying what it
    is. ``step``: what is asked or to be done. ``said``: all that was said last.
    ``high``: the sides that are high beyond the noise, none when that is unknown;
    ``result``: the same in words, ``result_is_old`` when a new sweep is under way since.
    ``offers``: what can be said. ``legend``: keys that do something now and what they do.
    ``entry``: keys typed so far.
    """

    machine: str
    unit: str
    phase: str
    sweep: int
    headline: str
    number: str
    number_label: str
    step: str
    said: str
    stations: tuple[StationView, ...]
    high: tuple[Station, ...]
    result: str
    result_is_old: bool
    listening: Listening
    offers: tuple[str, ...]
    entry: str
    lost: tuple[str, ...]
    caution: str = CAUTION
    legend: tuple[tuple[str, str], ...] = ()


def view(state: State) -> View:
    """The picture of a state."""
    answer = state.as_left
    number, label = _number(state)
    last_words = stopped_words(state) if state.stopped else state.last_said
    ended = state.stopped or state.phase is Close.CLOSED
    return View(
        machine=state.profile.name,
        unit=count_name(state.profile.scale),
        phase=str(state.phase),
        sweep=0
        if before_job(state)
        else state.sweep_number
        if _sweeping(state) or not state.sweeps
        else len(state.sweeps),
        headline=_headline(state),
        number=number,
        number_label=label,
        step=last_words if ended else asked_now(state),
        said=state.last_said,
        stations=tuple(_station(state, station) for station in STATIONS),
        high=touched_sides(state) if answer is None or _sweeping(state) else high_sides(answer),
        result=_touched_words(state) if answer is None else axes_words(answer, state.profile),
        result_is_old=_sweeping(state),
        listening=_listening(state),
        offers=() if ended else _offers(state),
        entry=state.entry,
        lost=state.lost,
        caution=CAUTION if _agreed_safe(state) else ORDERS,
        legend=() if ended else legend(state),
    )


def _agreed_safe(state: State) -> bool:
    """Whether all that makes the machine safe was agreed to; who comes back is asked again."""
    asking = before_job(state) or isinstance(state.phase, Safety)
    return not asking and not isinstance(state.pending, AskGoOn)


def high_sides(answer: Answer) -> tuple[Station, ...]:
    """The sides that are high beyond the noise: none, one, or two that share a corner."""
    budget = answer.budget
    sides: list[Station] = []
    if stands_out(answer.front_minus_back, budget.front_minus_back):
        sides.append("front" if answer.front_minus_back > 0 else "back")
    if stands_out(answer.right_minus_left, budget.right_minus_left):
        sides.append("right" if answer.right_minus_left > 0 else "left")
    return tuple(sides)


def touched_sides(state: State) -> tuple[Station, ...]:
    """The sides that dragged first and second in the last round by touch."""
    rounds = state.touch.rounds
    return tuple(s for s in (rounds[-1].first, rounds[-1].second) if s) if rounds else ()


def _touched_words(state: State) -> str:
    return high_words(state.touch.rounds[-1]) if state.touch.rounds else ""


def _sweeping(state: State) -> bool:
    """Whether a new sweep is under way, so that the answer is that of the one before."""
    return bool(state.readings) or state.phase in (Sweeping.ZERO, Gap.ROD, Sweeping.SWEEP)


def _headline(state: State) -> str:
    if state.stopped:
        return "STOP"
    if state.pending is not None and open_question(state.pending).headline:
        return open_question(state.pending).headline
    return row_of(state.phase).headline_of(state)


def _shown_readings(state: State) -> tuple[Taken, ...]:
    """The sweep under way, or the last one between sweeps."""
    if _sweeping(state) or not state.sweeps:
        return state.readings
    return state.sweeps[-1].readings


def _station(state: State, station: Station) -> StationView:
    readings = [taken for taken in _shown_readings(state) if taken.station == station]
    value = digits(readings[0].value, state.profile) if readings else ""
    if state.phase is Sweeping.SWEEP and station == state.awaited:
        return StationView(station, value, "asked again" if readings else "awaited")
    last_seen = row_of(state.phase).last_seen
    if last_seen is not None and station == state.awaited:
        last = last_seen(state)
        if last is None:
            return StationView(station, value, "awaited")
        return StationView(station, signed_digits(last), "asked again")
    return StationView(station, value, "read" if readings else "missing")


def _number(state: State) -> tuple[str, str]:
    """The digits that matter now and what they are."""
    if state.entry == "/":
        return state.entry, "and one more key"
    if state.entry:
        return state.entry, "typed, then Enter"
    if state.pending is not None:
        shows = open_question(state.pending).shows
        if shows is not None:
            return shows(state, state.pending)
    return row_of(state.phase).shows(state)


def _listening(state: State) -> Listening:
    if state.stopped or state.phase is Close.CLOSED:
        return "closed"
    if state.standing_by:
        return "standing by"
    if "microphone" in state.lost or "recogniser" in state.lost:
        return "no microphone"
    return "too loud" if state.too_loud else "listening"


def _offers(state: State) -> tuple[str, ...]:
    """What can be said; numbers only where they are taken, not where they are refused."""
    offer = offer_now(state)
    if offer.shim:
        return (shim_hint(offer.shim_places), *offer.phrases())
    if offer.signs:
        return offer.phrases()
    signless = bool(offer.sizes) or not offer.stations
    if (state.awaited is not None or signless) and (offer.readings or offer.sizes):
        way: Way = "signed" if offer.signed else "plain"
        return (number_hint(state.awaited, way), *offer.phrases())
    return offer.phrases()
