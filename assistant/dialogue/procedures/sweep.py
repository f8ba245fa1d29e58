"""The sweep: the dial set to zero, a reading at each station, and whether they belong together."""

from dataclasses import replace
from decimal import Decimal
from math import hypot
from typing import Final

from assistant.dialogue.dial_setting import needs_sign
from assistant.dialogue.facts import FormSweep, Reread
from assistant.dialogue.formatting import amount, digits, tolerance_counts
from assistant.dialogue.gauging import no_go_of, no_go_question
from assistant.dialogue.messages import Heard, Step
from assistant.dialogue.methods import method_of, square_first, way_of
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.lock import Lock
from assistant.dialogue.returns import (
    DIAL_DRIFTS,
    LOOSE_SOMEWHERE,
    cause_of_returns,
    return_of,
    returns_of,
)
from assistant.dialogue.rows import Procedure, Row
from assistant.dialogue.spoken import spoken
from assistant.dialogue.state import AskReading, State, Taken, Undone
from assistant.dialogue.sweep_answer import (
    answer_of,
    forecast_of,
    reading_sigma,
    suspects_of,
    sweep_limits,
)
from assistant.dialogue.turn import Outcome, Turn, ask, done, go, tell
from assistant.dialogue.wording import NOT_ZEROED, call, call_again, digitwise, not_now, taken_back
from assistant.dialogue.wording import reading as read_back
from assistant.metrology.causes import of_returns
from assistant.metrology.stations import OPPOSITE
from grammar.meaning import Reading
from grammar.numerals import number_words
from grammar.say import Way, value_words
from grammar.vocabulary import STATIONS, Station


class Sweeping(Phase):
    """Zero, and round."""

    ZERO = "zero"
    SWEEP = "sweep"


FIRST: Station = STATIONS[0]
"""The station where the dial is zeroed and where a sweep closes."""

MOST_ASKED_AGAIN = 2
"""Stations of a sweep that are asked again because it does not fit."""

MAX_DRIFT_REPEATS = 2
"""Sweeps that may be refused for drift before the person is told to look for play."""

# -- words -------------------------------------------------------------------------------


@spoken
def zero(station: Station) -> str:
    """Zero the dial at the first station."""
    return f"Dial to zero at the {station}. Say zeroed."


ZEROED: Final = "Zeroed?"  # the same in the short form

LIFT_TIP: Final = "Lift the tip before each reading."
"""Before the first sweep and those that may prove. A dial that sticks hangs behind its tip, the
same way at a station in every sweep; let down from above it is off alike at all of them."""

LIFT_EACH: Final = "Lift the tip each time."  # the same in the short form


@spoken
def which(station: Station, heard: Decimal, instead: Decimal, way: Way = "signed") -> str:
    """One reading does not fit and another way to hear it does: ask about exactly that."""
    first = value_words(heard, way, digitwise=digitwise(heard))
    other = value_words(instead, way, digitwise=digitwise(instead))
    return f"{station.capitalize()}: {first}, or {other}?"


@spoken
def corrected(station: Station, value: Decimal, way: Way = "signed") -> str:
    """Read a replaced value back."""
    return f"{station.capitalize()} now {value_words(value, way)}."


CLOSED_FIRST: Final = "The others first."  # the first station was called before the others

MISFIT: Final = "One reading looks wrong."
"""The readings cannot belong to a plane; the likeliest to be wrong is asked again."""

NOT_FLAT: Final = "The four don't agree. Rough there, or bent."
"""Nor does a new sweep fit, or none is wanted."""


@spoken
def drifted(station: Station, drift: str) -> str:
    """The first station does not repeat."""
    return f"{station.capitalize()} moved {drift}. Sweep again."


DRIFTING_ON: Final = "Check bar, clamp and dial for play."
"""The sweep will not close again and again."""

STILL_NO_FIT: Final = "Still no fit."  # each station was read again, and still no plane
CALL_THICKEST: Final = "Call the thickest that goes."  # once for each sweep, before its stations


@spoken
def still_drags(station: Station, leaf: Decimal) -> str:
    """Closing: does the leaf that the rod was set to still drag there?"""
    return f"{station.capitalize()}: does {number_words(leaf)} still drag?"


# -- zero --------------------------------------------------------------------------------


def _zero_asked(state: State) -> str:
    words = zero(FIRST)
    return f"{LIFT_TIP} {words}" if not state.usable_sweeps or _may_prove(state) else words


def _zero_briefly(state: State) -> str:
    return f"{LIFT_EACH} {ZEROED}" if _may_prove(state) else ZEROED


def _may_prove(state: State) -> bool:
    """Whether the correction just made should have brought the table within its tolerance."""
    plan = state.plan
    if plan is None:
        return False
    return hypot(plan.expected_fb, plan.expected_rl) <= tolerance_counts(state.profile)


def _zeroed(state: State, heard: Heard) -> Turn:
    """The dial shows zero at the first station: that is the first reading of the sweep."""
    first = Taken(
        state.sweep_number, FIRST, Decimal(0), heard.at, heard.source, heard.confidence, zeroed=True
    )
    return go(state.begun_with(first), Sweeping.SWEEP)


def _called_at_zero(state: State, called: Reading, heard: Heard) -> Turn:
    if called.value == 0 and not called.correction:
        return _zeroed(state, heard)
    return ask(state, NOT_ZEROED)


def _back_from_zero(state: State, _: Heard) -> Turn:
    if state.heights.under_way:
        return done(state, Outcome.PLACE_BACK)
    return go(state, Lock.LOCK)


# -- which station is asked --------------------------------------------------------------


def _awaited(state: State) -> Station:
    """The one that is asked again, else the next of the sweep."""
    if state.doubts.again is not None:
        return state.doubts.again
    read = {taken.station for taken in state.readings}
    missing = [station for station in STATIONS if station not in read]
    return missing[0] if missing else FIRST


def _expected(state: State, station: Station | None) -> Decimal | None:
    """What a reading should be near: the zero again, or the plane of the others."""
    if station is None:
        return None
    at = {taken.station: taken.value for taken in state.readings if not taken.closing}
    if station == FIRST:
        return at.get(FIRST)
    beside = [name for name in STATIONS if name not in (station, OPPOSITE[station])]
    if all(name in at for name in (*beside, OPPOSITE[station])):
        return sum((at[name] for name in beside), Decimal(0)) - at[OPPOSITE[station]]
    return None


def _station_asked(state: State) -> str:
    station = _awaited(state)
    heard = None if state.doubts.again is None else state.called(state.doubts.again)
    if heard is not None and state.doubts.instead is not None:
        return which(station, heard.value, state.doubts.instead, way_of(state.profile))
    if state.profile.method == "square" and not state.readings:
        return square_first(station)
    if _leaf_asked(state):
        return still_drags(station, state.readings[0].value)
    if state.short and state.doubts.again is None:
        return call(station)
    if state.doubts.again is not None or state.taken(station) is not None:
        return call_again(station)
    return call(station)


def _leaf_asked(state: State) -> bool:
    """Whether the leaf that the rod was set to is asked about, to close the sweep."""
    if state.profile.method != "gap" or state.pending:
        return False
    return _awaited(state) == FIRST and state.doubts.instead is None


def _still_drags(state: State, heard: Heard) -> Turn:
    """The leaf that the rod was set to drags as it did; the sweep closes without drift."""
    same = Reading(state.readings[0].value, True, FIRST)
    return take(state, same, heard)


# -- a reading is taken ------------------------------------------------------------------


def _called(state: State, called: Reading, heard: Heard) -> Turn:
    """A called reading. By leaves a gap of zero means that the rod rests on the table there."""
    station = called.station or state.awaited or FIRST
    if state.profile.method == "gap" and called.value == 0 and station != FIRST:
        gone = tuple(
            Undone(one, heard.at, "the rod touched") for one in state.readings if not one.zeroed
        )
        thrown = replace(state.begun_with(), pending=None, undone=gone)
        return done(thrown, Outcome.ROD_TOUCHES)
    return take(state, called, heard)


def take(state: State, reading: Reading, heard: Heard) -> Turn:
    """Accept a called reading, read it back, and ask for the next or close the sweep."""
    station = _station_of(state, reading)
    # The reading that a new one at this station would replace.
    earlier = state.called(station)
    if _closing(state, station) and not _others_read(state):
        return ask(state, CLOSED_FIRST)
    asked_for = station in (state.doubts.again, state.awaited)
    if earlier is not None and not asked_for:
        if earlier.value == reading.value and state.doubts.again is None:
            way = way_of(state.profile)
            return ask(replace(state, pending=None), read_back(station, reading.value, way))
        if not reading.correction:
            # A second reading of a station that is not asked for: a slip of tongue or ear.
            candidate = replace(reading, station=station, correction=True)
            return ask(replace(state, pending=AskReading((candidate,))))
    taken, taken_in, said = _taken_in(state, station, reading, heard)
    pending = no_go_question(taken, reading_sigma(state.profile, state.spindle.stays))
    if pending is not None:
        return ask(replace(taken_in, pending=pending), said)
    return carry_on(taken_in, said)


def _taken_in(
    state: State, station: Station, reading: Reading, heard: Heard
) -> tuple[Taken, State, str]:
    """The reading, the state with it, and its read-back."""
    earlier, closing = state.called(station), _closing(state, station)
    taken = Taken(
        state.sweep_number,
        station,
        reading.value,
        heard.at,
        heard.source,
        heard.confidence,
        heard.alternatives,
        closing=closing,
        order=max((old.order for old in state.readings), default=0) + 1,
        no_go=None if closing else no_go_of(state.profile, reading.value),
    )
    undone: tuple[Undone, ...] = ()
    kept, way = state.readings, way_of(state.profile)
    astray = _astray(state, reading) if earlier is None and not closing else None
    if astray is not None:
        undone = (Undone(astray, heard.at, "correction"),)
        kept = tuple(old for old in kept if old is not astray)
    if earlier is None:
        kept, said = (*kept, taken), read_back(station, reading.value, way)
    else:
        reason = "correction" if reading.correction else "read again"
        undone = (Undone(earlier, heard.at, reason),)
        kept = tuple(taken if old is earlier else old for old in kept)
        said = corrected(station, reading.value, way)
    recheck = state.doubts.read_again
    if state.doubts.again == station and _complete(state):
        # Asked again because the sweep did not fit, and not to correct a slip on the way.
        recheck = (*recheck, station)
    taken_in = replace(
        state,
        readings=kept,
        undone=undone,
        pending=None,
        doubts=replace(state.doubts, again=None, instead=None, read_again=recheck),
    )
    return taken, taken_in, said


def carry_on(state: State, said: str) -> Turn:
    """Ask for the next station, or close the sweep that has all of them."""
    return _close_sweep(state, said) if _complete(state) else ask(state, said)


def _station_of(state: State, reading: Reading) -> Station:
    if reading.station is not None:
        return reading.station
    latest = latest_called(state)
    if reading.correction and latest is not None and state.doubts.again is None:
        return latest.station
    return state.awaited or FIRST


def latest_called(state: State) -> Taken | None:
    """The reading that was taken last, wherever it stands in the sweep; None before any."""
    called = [taken for taken in state.readings if not taken.zeroed]
    return max(called, key=lambda taken: taken.order, default=None)


def _astray(state: State, reading: Reading) -> Taken | None:
    """The last reading, when a correction names another station: it was put down wrongly."""
    return latest_called(state) if reading.correction else None


def _others_read(state: State) -> bool:
    return {taken.station for taken in state.readings} == set(STATIONS)


def _closing(state: State, station: Station) -> bool:
    return station == FIRST and method_of(state.profile).closes


def _complete(state: State) -> bool:
    closes = method_of(state.profile).closes
    closed = not closes or any(taken.closing for taken in state.readings)
    return closed and _others_read(state)


# -- a reading is taken back -------------------------------------------------------------


def take_back(state: State, at: str) -> Turn:
    """Remove the last reading and ask for that station again."""
    last = latest_called(state)
    if last is None:
        # A square has no zero to go back to.
        begun = state.begun_with()
        closes = method_of(state.profile).closes
        return done(begun, Outcome.MEASURE) if closes else go(begun, Lock.LOCK)
    back = replace(
        state,
        phase=Sweeping.SWEEP,
        readings=tuple(taken for taken in state.readings if taken is not last),
        undone=(Undone(last, at, "disregard"),),
        pending=None,
        doubts=replace(state.doubts, again=None, instead=None),
    )
    return ask(back, taken_back(last.station))


def last_taken_back(state: State, heard: Heard) -> Turn:
    """ "Disregard" in a sweep."""
    return take_back(state, heard.at)


def back_to_sweep(state: State, heard: Heard) -> Turn:
    """ "Disregard" just after a sweep or a round by touch: its last call is taken back.

    With another shim in since then, it is back to the dial: that sweep is not of this table.
    """
    if state.shim_unswept:
        return done(state, Outcome.MEASURE)
    if state.reread != Reread() and not state.loosened:
        return ask(replace(state, reread=Reread()))
    if state.touch.rounds:
        return done(state, Outcome.ROUND_BACK)
    if state.sweeps and state.sweeps[-1].usable:
        return take_back_sweep(state, heard.at)
    return go(state, Lock.LOCK)


def take_back_sweep(state: State, at: str) -> Turn:
    """Reopen the last sweep without its last reading, and forget what was planned from it."""
    last = state.sweeps[-1]
    before = last.before.restored(state).begun_with(*last.readings)
    reopened = replace(before, sweeps=state.sweeps[:-1], form=FormSweep())
    return take_back(reopened, at)


def _correct_last(state: State, _: Heard) -> Turn:
    """ "Correction" by itself: ask for the last reading again; it stays until it is replaced."""
    last = latest_called(state)
    if last is None:
        return ask(state)
    return ask(_asked_again(state, last.station))


def _leave_as_is(state: State, _: Heard) -> Turn:
    """ "Next" when a station is asked again: the reading stays as it was called."""
    station = state.doubts.again
    if station is None:
        return ask(state, not_now("next"))
    read_again = (*state.doubts.read_again, station)
    settled = replace(state.doubts, again=None, instead=None, read_again=read_again)
    return carry_on(replace(state, doubts=settled), "")


# -- a sweep is complete -----------------------------------------------------------------


def _close_sweep(state: State, said: str) -> Turn:
    """A sweep has all its readings: does it repeat, do they belong to a plane?"""
    limits = sweep_limits(state.profile, state.spindle.stays)
    drift = return_of(state.readings)
    drifted_away = abs(drift) > limits.drift_refused
    if drifted_away and FIRST in state.doubts.read_again:
        return _refuse_for_drift(state, said, drift)
    forecast = forecast_of(state)
    found = suspects_of(state, state.readings, forecast)
    doubted = found or suspects_of(state, state.readings, forecast, as_before=True)
    # The closing first: it is at hand, and tells a dial that moved from a wrong call.
    asked = sorted(doubted, key=lambda each: not (drifted_away and each.place == "closing"))
    for suspect in asked if len(state.doubts.read_again) < MOST_ASKED_AGAIN else ():
        station: Station = FIRST if suspect.place == "closing" else suspect.place
        if station not in state.doubts.read_again:
            again = _asked_again(state, station, suspect.better)
            return ask(again, f"{said} {MISFIT}".strip())
    if drifted_away:
        return ask(_asked_again(state, FIRST), said)
    if not found:
        return done(state, Outcome.SWEPT, f"{said} {cause_of_returns(state, drift)}".strip())
    if not state.again.afresh:
        return done(state, Outcome.NO_FIT, f"{said} {STILL_NO_FIT}".strip())
    return stands(state, said)


def stands(state: State, said: str) -> Turn:
    """The readings stand though they make no plane: the table's form is due to be looked at."""
    form, dial = state.form, state.profile.method == "indicator"
    wanted = dial and form.found is None and not form.declined and not state.heights.under_way
    doubted = replace(state, form=replace(form, due=wanted, further=False))
    return done(doubted, Outcome.SWEPT, f"{said} {NOT_FLAT}".strip())


def set_aside(state: State, reason: str) -> State:
    """Keep the sweep in the record, but do not build on it: the next one takes its place."""
    return state.kept(state.as_sweep(answer_of(state, state.readings, alone=True), reason))


def _asked_again(state: State, station: Station, instead: Decimal | None = None) -> State:
    return replace(state, doubts=replace(state.doubts, again=station, instead=instead))


def _refuse_for_drift(state: State, said: str, drift: Decimal) -> Turn:
    if state.doubts.drift_repeats >= MAX_DRIFT_REPEATS:
        # It will not get better: the sweep stands, with what it is worth, and the cause is told.
        returns = [*returns_of(state), drift]
        cause = of_returns([float(one) for one in returns], sweep_limits(state.profile).drift)
        word = LOOSE_SOMEWHERE if cause == "loose" else DIAL_DRIFTS
        return done(state, Outcome.SWEPT, f"{said} {word}".strip())
    aside = set_aside(state, "drift")
    doubts = replace(aside.doubts, drift_repeats=state.doubts.drift_repeats + 1)
    again = replace(aside, doubts=doubts)
    word = drifted(FIRST, amount(drift, state.profile.scale.step))
    if again.doubts.drift_repeats >= MAX_DRIFT_REPEATS:
        word = f"{word} {DRIFTING_ON}"
    return done(again, Outcome.MEASURE, f"{said} {word}")


# -- rows --------------------------------------------------------------------------------


def _shows(state: State) -> tuple[str, str]:
    """The last reading, or before any how one is called."""
    last = max(state.readings, key=lambda taken: taken.order, default=None)
    if last is not None and not last.zeroed:
        return digits(last.value, state.profile), f"{last.station}, the last reading"
    if state.profile.method == "square":
        return "+ −", "open at the bottom, at the top"
    if needs_sign(state.profile):
        return "±", "plus is plunger in, table high"
    return "", ""


def _withheld(state: State) -> tuple[str, ...]:
    """There is nothing to quietly as it is unless a reading is asked again."""
    return () if state.doubts.again is not None else ("next",)


PROCEDURE = Procedure(
    (
        Row(
            Sweeping.ZERO,
            "ZERO",
            _zero_asked,
            {"zeroed": _zeroed, "settle": Outcome.NOISE_WANTED, "disregard": _back_from_zero},
            on_number=_called_at_zero,
            readings=True,
            step=Step("zero", station=FIRST),
            short=_zero_briefly,
            left="sweep",
            how="Turn the spindle there. Press the tip half in. Turn the face to zero.",
        ),
        Row(
            Sweeping.SWEEP,
            lambda state: (state.awaited or FIRST).upper(),
            _station_asked,
            {"correction": _correct_last, "disregard": last_taken_back, "next": _leave_as_is},
            at_times={
                "yes": _still_drags,
                "no": lambda state, _: tell(state, CALL_THICKEST),
            },
            when=_leaf_asked,
            withheld=_withheld,
            on_reading=_called,
            expected=_expected,
            readings=True,
            station=_awaited,
            shows=_shows,
            wishes=("read back", "start over"),
            left="sweep",
            how=lambda state: method_of(state.profile).how_call,
        ),
    ),
    due=lambda state: state.profile.method == "indicator",
)
