"""Ordinary wishes that belong to no phase: typed at any time, by voice where a row offers them.

Each leaves the job where it is and puts the open question again, but for what it changes.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Final

from assistant.dialogue.answer_words import axes_words, tilt_words, uncertainty_words
from assistant.dialogue.facts import FormSweep
from assistant.dialogue.formatting import size_words, tolerance_words
from assistant.dialogue.job import row_of
from assistant.dialogue.messages import Heard, Tuned, VoiceWish
from assistant.dialogue.methods import method_of, way_of
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.introduction import Introducing
from assistant.dialogue.procedures.safety import Safety
from assistant.dialogue.procedures.sweep import Sweeping, back_to_sweep, take_back
from assistant.dialogue.rows import Row
from assistant.dialogue.set_sizes import with_sweep, with_tolerance
from assistant.dialogue.spoken import spoken
from assistant.dialogue.state import State, Taken, Undone
from assistant.dialogue.turn import Outcome, Turn, ask, done, go
from assistant.dialogue.wording import not_now
from assistant.dialogue.wording import reading as read_back
from assistant.metrology.lengths import Length
from grammar.meaning import Reading, Size, Wish
from grammar.vocabulary import Station

# -- words -------------------------------------------------------------------------------
NOTHING_READ: Final = "Nothing read yet."  # asked to read back before any reading
NO_RESULT: Final = "No result yet."  # asked how far off before a whole sweep
NOTED: Final = "Noted."  # a note is kept with the job
FROM_ZERO: Final = "From the start."  # the sweep begins once more
SWEPT_ALREADY: Final = "This job has a sweep. Change it in the next."
"""Another size of sweep was wanted after the first."""


@spoken
def not_read(station: Station) -> str:
    """A station was asked for that was not read yet."""
    return f"{station.capitalize()} not read yet."


@spoken
def voice_is(name: VoiceWish) -> str:
    """How the program speaks from now on; what can be heard is not told."""
    return {"quiet": "Quiet now.", "talk": "Talking again."}.get(name, "")


@spoken
def at_its_end(name: VoiceWish) -> str:
    """Said by whoever knows the voice, where a wish changes nothing any more."""
    ends = {"louder": "loud", "softer": "soft", "slower": "slow", "faster": "fast"}
    return f"As {ends[name]} as it goes." if name in ends else ""


@spoken
def within_now(tolerance: str) -> str:
    """The tolerance of this job was changed."""
    return f"Within {tolerance} now."


@spoken
def across_now(size: str) -> str:
    """The sweep diameter of this job was changed."""
    return f"Sweep {size} now."


@spoken
def off(tilt: str, axes: str, unsure: str) -> str:
    """How far out it is, and each way."""
    return f"Out {tilt}. {axes} {unsure}"


# -- how it speaks -----------------------------------------------------------------------


def _in_few_words(state: State, _: Heard) -> Turn:
    """The short form from here on; what is safe is then asked in one sentence."""
    brief = replace(state, short=True)
    if state.phase is Safety.UNPLUGGED and state.pending is None:
        return go(brief, Safety.ALL, "", Tuned("short"))
    return ask(brief, "", Tuned("short"))


def _in_full(state: State, _: Heard) -> Turn:
    """The long form from here on."""
    full = replace(state, short=False)
    if state.phase is Safety.ALL and state.pending is None:
        return go(full, Safety.UNPLUGGED, "", Tuned("long"))
    return ask(full, "", Tuned("long"))


def _tuned(name: VoiceWish) -> Callable[[State, Heard], Turn]:
    return lambda state, _: ask(_as_quiet(state, name), voice_is(name), Tuned(name))


def _as_quiet(state: State, name: VoiceWish) -> State:
    return replace(state, quiet=name == "quiet") if name in ("quiet", "talk") else state


# -- what was read -----------------------------------------------------------------------


def _readings(state: State) -> tuple[Taken, ...]:
    """Those of the sweep under way, or else of the last one."""
    open_ones = tuple(taken for taken in state.readings if not taken.zeroed)
    if open_ones or not state.sweeps:
        return open_ones
    return tuple(taken for taken in state.sweeps[-1].readings if not taken.zeroed)


def _said(state: State, readings: tuple[Taken, ...]) -> str:
    way = way_of(state.profile)
    return " ".join(read_back(taken.station, taken.value, way) for taken in readings)


def _read_back(state: State, _: Heard) -> Turn:
    return ask(state, _said(state, _readings(state)) or NOTHING_READ)


def _what_was(state: State, station: Station) -> Turn:
    there = tuple(taken for taken in _readings(state) if taken.station == station)
    return ask(state, _said(state, there) or not_read(station))


def _how_far_off(state: State, _: Heard) -> Turn:
    answer = state.as_left
    if answer is None:
        return ask(state, NO_RESULT)
    axes, unsure = (part(answer, state.profile) for part in (axes_words, uncertainty_words))
    if answer.inside_noise:
        return ask(state, f"{axes} {unsure}")
    return ask(state, off(tilt_words(answer, state.profile), axes, unsure))


def _which_way(state: State, _: Heard) -> Turn:
    answer = state.as_left
    return ask(state, axes_words(answer, state.profile, briefly=True) if answer else NO_RESULT)


# -- what is taken back ------------------------------------------------------------------


def _take_back(state: State, count: int, heard: Heard) -> Turn:
    """So many readings of this sweep, the last first."""
    if state.phase is not Sweeping.SWEEP:
        return ask(state, not_now(heard.words))
    turn = ask(state)
    said: list[str] = []
    undone: list[Undone] = []
    for _ in range(count):
        if not any(not taken.zeroed for taken in turn.state.readings):
            break
        turn = take_back(turn.state, heard.at)
        said.append(turn.said)
        undone += turn.state.undone
    if not said:
        return ask(state, NOTHING_READ)
    return replace(turn, state=replace(turn.state, undone=tuple(undone)), said=" ".join(said))


def _start_over(state: State, heard: Heard) -> Turn:
    """The sweep that is under way, from its zero."""
    if state.phase is not Sweeping.SWEEP:
        return ask(state, not_now(heard.words))
    gone = tuple(Undone(one, heard.at, "start over") for one in state.readings if not one.zeroed)
    begun = replace(state.begun_with(), pending=None, undone=gone)
    if method_of(state.profile).closes:
        return done(begun, Outcome.MEASURE, FROM_ZERO)
    return go(begun, Sweeping.SWEEP, FROM_ZERO)


# -- sizes -------------------------------------------------------------------------------


def follows_result(state: State) -> bool:
    """Whether the last sweep's result stands, and nothing was done about it yet."""
    if state.reread.value is not None or state.shim_unswept:
        return False
    last = bool(state.sweeps) and state.sweeps[-1].usable and not state.readings
    undoes = row_of(state.phase).on.get("disregard") is back_to_sweep
    return last and not state.loosened and (undoes or state.phase is Close.DECIDE)


def reopened(state: State) -> State:
    """The last sweep with all its readings, as it was before it was judged."""
    last = state.sweeps[-1]
    before = last.before.restored(state).begun_with(*last.readings)
    open_again = replace(before, sweeps=state.sweeps[:-1], form=FormSweep())
    return replace(open_again, phase=Sweeping.SWEEP, pending=None)


def judged_again(state: State, said: str) -> Turn:
    """The last sweep once more, from its readings and what the job has been told since."""
    return done(reopened(state), Outcome.SWEPT, said)


def _tolerance(state: State, counts: Decimal) -> Turn:
    profile = with_tolerance(state.profile, counts)
    if isinstance(profile, str):
        return ask(state, profile)
    changed = replace(state, profile=profile)
    said = within_now(tolerance_words(profile))
    return judged_again(changed, said) if follows_result(state) else ask(changed, said)


def _across(state: State, size: Length) -> Turn:
    if state.sweeps or state.readings:
        return ask(state, SWEPT_ALREADY)
    profile = with_sweep(state.profile, size)
    if isinstance(profile, str):
        return ask(state, profile)
    said = across_now(size_words(size, profile.scale))
    return ask(replace(state, profile=profile), said)


# -- the tables of them ------------------------------------------------------------------

OF_THE_VOICE = ("louder", "softer", "slower", "faster", "quiet")
"""Wishes that the screen and the manual tell of: a help that lists them all is too long to hear."""

WISHES: Mapping[str, Callable[[State, Heard], Turn]] = {
    "short": _in_few_words,
    "long": _in_full,
    "read back": _read_back,
    "start over": _start_over,
    "how far off": _how_far_off,
    "which way": _which_way,
    "louder": _tuned("louder"),
    "softer": _tuned("softer"),
    "slower": _tuned("slower"),
    "faster": _tuned("faster"),
    "quiet": _tuned("quiet"),
    "talk": _tuned("talk"),
}


def wish(state: State, wanted: Wish, heard: Heard) -> Turn:
    """A wish that says of what."""
    value = wanted.value or Decimal(0)
    row = row_of(state.phase)
    if wanted.name == row.named and state.pending is None:
        return _answered(row, state, wanted, heard)
    if isinstance(state.phase, Introducing):
        # There is no job yet that it could belong to.
        return ask(state, not_now(heard.words))
    match wanted.name:
        case "what was":
            return _what_was(state, wanted.station or "back")
        case "take back":
            return _take_back(state, int(value), heard)
        case "tolerance":
            return _tolerance(state, value)
        case "sweep":
            return _across(state, Length.of(value, wanted.unit or "in"))
        case "note":
            return ask(replace(state, notes=(*state.notes, wanted.text)), NOTED)


def _answered(row: Row, state: State, wanted: Wish, heard: Heard) -> Turn:
    """The size that is asked for here, said with its name: no more than an answer."""
    value = wanted.value or Decimal(0)
    if row.on_size is not None and wanted.unit is not None:
        return row.on_size(state, Size(value, wanted.unit))
    if row.on_number is None:
        return ask(state, not_now(heard.words))
    return row.on_number(state, Reading(value, signed=False), heard)


def meant_by_key(state: State, names: tuple[str, ...]) -> str:
    """Of the wishes that share a key, the one that changes something."""
    unlike = "long" if state.short else "short"
    return unlike if unlike in names else names[0]
