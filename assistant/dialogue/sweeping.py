"""Taking readings: read-back, correction, taking back, and whether a sweep belongs together."""

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

from assistant.dialogue import prompts
from assistant.dialogue.amounts import amount, way_of
from assistant.dialogue.asking import FIRST, Out, ask, go
from assistant.dialogue.findings import FormSweep
from assistant.dialogue.gauging import no_go_of, open_question
from assistant.dialogue.messages import Heard
from assistant.dialogue.phases import Phase
from assistant.dialogue.prompts import repeating as again_prompts
from assistant.dialogue.reckoning import (
    answer_of,
    forecast_of,
    reading_sigma,
    suspects_of,
    sweep_limits,
)
from assistant.dialogue.state import AskReading, State, Taken, Undone
from grammar.meaning import Reading
from grammar.vocabulary import STATIONS, Station

Judge = Callable[[State, str], Out]
"""What is done with a state whose sweep is complete and fits; the text is the last read-back."""

MAX_DRIFT_REPEATS = 2
"""Sweeps that may be refused for drift before the person is told to look for play."""


def zeroed(state: State, heard: Heard) -> Out:
    """The dial shows zero at the first station: that is the first reading of the sweep."""
    first = Taken(
        state.sweep_number, FIRST, Decimal(0), heard.at, heard.source, heard.confidence, zeroed=True
    )
    return go(state.begun_with(first), Phase.SWEEP)


def take(state: State, reading: Reading, heard: Heard, judge: Judge) -> Out:
    """Accept a called reading, read it back, and ask for the next or judge the sweep."""
    station = _station_of(state, reading)
    way, closing = way_of(state.profile), station == FIRST and closes(state)
    # The reading that a new one at this station would replace.
    earlier = state.called(station)
    if closing and not _others_read(state):
        return ask(state, prompts.CLOSED_FIRST)
    repeated = earlier is not None and earlier.value == reading.value
    if repeated and state.suspect is None and station != state.awaited():
        return ask(replace(state, pending=None), prompts.reading(station, reading.value, way))
    expected = station in (state.suspect, state.awaited())
    if earlier is not None and not expected and not reading.correction:
        # A second reading of a station that is not asked for: a slip of the tongue or of the ear.
        candidate = replace(reading, station=station, correction=True)
        return ask(replace(state, pending=AskReading((candidate,))))
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
    kept = state.readings
    undone: tuple[Undone, ...] = ()
    astray = _astray(state, reading) if earlier is None and not closing else None
    if astray is not None:
        undone = (*undone, Undone(astray, heard.at, "correction"))
        kept = tuple(old for old in kept if old is not astray)
    if earlier is not None:
        reason = "correction" if reading.correction else "read again"
        undone = (*undone, Undone(earlier, heard.at, reason))
        kept = tuple(taken if old is earlier else old for old in kept)
        said = prompts.corrected(station, reading.value, way)
    else:
        kept = (*kept, taken)
        said = prompts.reading(station, reading.value, way)
    recheck = state.recheck
    if state.suspect == station and _complete(state):
        # Asked again because the sweep did not fit, and not to correct a slip on the way.
        recheck = (*recheck, station)
    taken_in = replace(
        state,
        readings=kept,
        undone=undone,
        pending=None,
        suspect=None,
        instead=None,
        recheck=recheck,
        misses=0,
    )
    pending = open_question(taken, reading_sigma(state.profile, state.spindle.stays))
    if pending is not None:
        return ask(replace(taken_in, pending=pending), said)
    return carry_on(taken_in, said, judge)


def carry_on(state: State, said: str, judge: Judge) -> Out:
    """Ask for the next station, or close the sweep that has all of them."""
    return close_sweep(state, said, judge) if _complete(state) else ask(state, said)


def _station_of(state: State, reading: Reading) -> Station:
    if reading.station is not None:
        return reading.station
    latest = latest_called(state)
    if reading.correction and latest is not None and state.suspect is None:
        return latest.station
    return state.awaited() or FIRST


def latest_called(state: State) -> Taken | None:
    """The reading that was taken last, wherever it stands in the sweep; None before any."""
    called = [taken for taken in state.readings if not taken.zeroed]
    return max(called, key=lambda taken: taken.order, default=None)


def _astray(state: State, reading: Reading) -> Taken | None:
    """The last reading, when a correction names another station: it was put down wrongly."""
    return latest_called(state) if reading.correction else None


def _others_read(state: State) -> bool:
    return {taken.station for taken in state.readings} == set(STATIONS)


def closes(state: State) -> bool:
    """Whether a sweep ends at its first station again: a square has no zero that may wander."""
    return state.profile.method != "square"


def _complete(state: State) -> bool:
    closed = not closes(state) or any(taken.closing for taken in state.readings)
    return closed and _others_read(state)


def take_back(state: State, at: str) -> Out:
    """Remove the last reading and ask for that station again."""
    last = latest_called(state)
    if last is None:
        return go(state.begun_with(), Phase.ZERO if closes(state) else Phase.LOCK)
    back = replace(
        state,
        phase=Phase.SWEEP,
        readings=tuple(taken for taken in state.readings if taken is not last),
        undone=(Undone(last, at, "disregard"),),
        pending=None,
        suspect=None,
        instead=None,
    )
    return ask(back, prompts.taken_back(last.station))


def take_back_sweep(state: State, at: str) -> Out:
    """Reopen the last sweep without its last reading, and forget what was planned from it."""
    last = state.sweeps[-1]
    before = last.before.restored(state).begun_with(*last.readings)
    reopened = replace(before, sweeps=state.sweeps[:-1], form=FormSweep())
    return take_back(reopened, at)


def correct_last(state: State) -> Out:
    """ "Correction" by itself: ask for the last reading again; it stays until it is replaced."""
    last = latest_called(state)
    if last is None:
        return ask(state)
    return ask(replace(state, suspect=last.station, instead=None, pending=None))


def leave_as_is(state: State, judge: Judge) -> Out:
    """ "Next" when a station is asked again: the reading stays as it was called."""
    station = state.suspect
    if station is None:
        return ask(state, prompts.not_now("next"))
    kept = replace(state, suspect=None, instead=None, recheck=(*state.recheck, station))
    return carry_on(kept, "", judge)


def close_sweep(state: State, said: str, judge: Judge) -> Out:
    """A sweep has all its readings: does it repeat, do they belong to a plane?"""
    limits = sweep_limits(state.profile, state.spindle.stays)
    closing = next((taken for taken in state.readings if taken.closing), None)
    drift = closing.value - state.readings[0].value if closing else Decimal(0)
    drifted = abs(drift) > limits.drift_refused
    if drifted and FIRST in state.recheck:
        return _refuse_for_drift(state, said, drift)
    found = suspects_of(state, state.readings, forecast_of(state))
    for suspect in found:
        station: Station = FIRST if suspect.place == "closing" else suspect.place
        if station not in state.recheck:
            again = replace(state, suspect=station, instead=suspect.better)
            return ask(again, f"{said} {prompts.MISFIT}".strip())
    if drifted:
        return ask(replace(state, suspect=FIRST, instead=None), said)
    if found and not state.again.afresh:
        return go(state, Phase.AFRESH, f"{said} {again_prompts.STILL_NO_FIT}".strip())
    return judge_not_flat(state, said, judge) if found else judge(state, said)


def judge_not_flat(state: State, said: str, judge: Judge) -> Out:
    """The readings stand though they are no plane: the table's form is due to be looked at."""
    form, dial = state.form, state.profile.method == "indicator"
    wanted = dial and form.found is None and not form.declined and not state.heights.under_way
    doubted = replace(state, form=replace(form, due=wanted, further=False))
    return judge(doubted, f"{said} {prompts.NOT_FLAT}".strip())


def set_aside(state: State, reason: str) -> State:
    """Keep the sweep in the record, but do not build on it: the next one takes its place."""
    return state.kept(state.as_sweep(answer_of(state, state.readings, alone=True), reason))


def _refuse_for_drift(state: State, said: str, drift: Decimal) -> Out:
    again = replace(set_aside(state, "drift"), drift_repeats=state.drift_repeats + 1)
    word = prompts.drifted(FIRST, amount(drift, state.profile.scale.step))
    if again.drift_repeats >= MAX_DRIFT_REPEATS:
        word = f"{word} {prompts.DRIFTING_ON}"
    return go(again, Phase.ZERO, f"{said} {word}")
