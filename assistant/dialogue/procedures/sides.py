"""One station of a sweep read once more, where its sides may have changed places.

Belongs here: what that reading says of the sweep, and how the job goes on. How likely an exchange
is before it, and when it is worth a reading, is ``missed``'s.
"""

from dataclasses import replace
from decimal import Decimal
from math import hypot

from assistant.dialogue.messages import Heard
from assistant.dialogue.methods import way_of
from assistant.dialogue.missed import ENDS_EXCHANGED, EXCHANGED, MAYBE, SIDES_EXCHANGED
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.lock import Lock
from assistant.dialogue.procedures.sweep import Sweeping, back_to_sweep, set_aside, take, take_back
from assistant.dialogue.read_again import ShownNow, shown_now
from assistant.dialogue.returns import return_of
from assistant.dialogue.rows import Procedure, Row
from assistant.dialogue.spoken import spoken
from assistant.dialogue.state import State, Taken
from assistant.dialogue.sweep_answer import repeat_here
from assistant.dialogue.turn import Outcome, Turn, ask, done, go
from assistant.dialogue.watching import mirrored, moved, set_last_aside
from assistant.dialogue.wording import call_again, reading, watch_this
from assistant.metrology.exchanges import Exchange, ReadAgain, read_again
from grammar.meaning import Reading
from grammar.vocabulary import Station


class Sides(Phase):
    """The one reading."""

    ONCE_MORE = "once more"


# -- words -------------------------------------------------------------------------------


@spoken
def once_more(station: Station) -> str:
    """A sweep may have been read with two sides exchanged: one of them again, with care."""
    return f"Mind the sides. Dial to the {station}. What does it show?"


# -- the question ------------------------------------------------------------------------


def asked(state: State, exchange: Exchange, said: str, first_shows: Decimal | None = None) -> Turn:
    """Ask for the station that tells whether these sides of the last sweep changed places.

    ``first_shows``: the dial at the first station, if that was read once more since the sweep.
    """
    doubts = replace(state.doubts, sides=exchange, first_shows=first_shows)
    return go(replace(state, doubts=doubts), Sides.ONCE_MORE, said)


def _station(state: State) -> Station:
    """The right for its sides and the front for its ends; for both, where more is between them."""
    at = _at(state)
    lengthwise = abs(at["front"] - at["back"]) > abs(at["right"] - at["left"])
    ends = state.doubts.sides == "ends" or (state.doubts.sides == "signs" and lengthwise)
    return "front" if ends else "right"


def _question(state: State) -> str:
    return call_again(_station(state)) if state.short else once_more(_station(state))


def _readings(state: State) -> tuple[Taken, ...]:
    """Of the sweep that is not judged yet, or of the last one that was."""
    return state.readings or state.usable_sweeps[-1].readings


def _at(state: State) -> dict[Station, Decimal]:
    return {one.station: one.value for one in _readings(state) if not one.closing}


# -- what it says ------------------------------------------------------------------------


def _taken(state: State, called: Reading, heard: Heard) -> Turn:
    station = _station(state)
    if called.station not in (None, station):
        return ask(state, watch_this(station))
    told = reading(station, called.value, way_of(state.profile))
    shows = _shows(state, called.value)
    if shows.neither > MAYBE:
        return _miscalled(state, station, called, heard)
    if shows.opposite <= MAYBE:
        return _stands(state, told)
    word = ENDS_EXCHANGED if station == "front" else SIDES_EXCHANGED
    if state.readings:
        return go(set_aside(state, EXCHANGED), Lock.LOCK, f"{told} {word}")
    return set_last_aside(state, EXCHANGED, f"{told} {word}")


def _shows(state: State, value: Decimal) -> ReadAgain:
    """Whether it shows what was called opposite rather than what was called there, or neither.

    By the normal likelihoods of both and the odds before.
    """
    shown = _shown(state)
    u = hypot(2**0.5 * repeat_here(state), float(return_of(_readings(state))) / 4)
    before = mirrored(state, _station(state))
    return read_again(float(value) - shown.called, float(value) - shown.instead, u, before)


def _miscalled(state: State, station: Station, called: Reading, heard: Heard) -> Turn:
    """One call was wrong: this one takes the place of the other, or the sweep is made again."""
    if not state.readings:
        told = reading(station, called.value, way_of(state.profile))
        return moved(state, station, float(called.value) - _shown(state).called, told)
    doubts = replace(state.doubts, again=station, sides=None, sides_sure=True)
    there = replace(state, phase=Sweeping.SWEEP, awaited=station, doubts=doubts)
    return take(there, replace(called, station=station), heard)


def _shown(state: State) -> ShownNow:
    return shown_now(_readings(state), _station(state), state.doubts.first_shows)


def _expected(state: State, _: Station | None) -> Decimal:
    return Decimal(str(round(_shown(state).called, 3)))


def _stands(state: State, said: str) -> Turn:
    """They had not changed places: on with the sweep as it was called."""
    sure = replace(state, doubts=replace(state.doubts, sides=None, sides_sure=True))
    if state.readings:
        return done(sure, Outcome.SWEPT, said)
    return done(sure, Outcome.KNOWN_BETTER if state.sweeps[-1].corners else Outcome.ADVISE, said)


def _back(state: State, heard: Heard) -> Turn:
    return take_back(state, heard.at) if state.readings else back_to_sweep(state, heard)


PROCEDURE = Procedure(
    (
        Row(
            Sides.ONCE_MORE,
            "AGAIN",
            _question,
            {"skip": lambda state, _: _stands(state, ""), "disregard": _back},
            on_reading=_taken,
            expected=_expected,
            readings=True,
            station=_station,
            left="sweep",
            how="Stand at the front. Right is your right.",
        ),
    ),
)
