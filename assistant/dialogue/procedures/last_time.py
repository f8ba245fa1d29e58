"""How the last job of this machine left it, and whether its shims are still in.

The job begins with what the record tells: the day, how it was left, what shims did. Only the shims
are asked about, since somebody may have changed them.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Final

from assistant.dialogue.facts import LastJob, Packing, Shims
from assistant.dialogue.formatting import amount, signed_digits, spoken_step, tolerance_words
from assistant.dialogue.machine import LEAVES, SHIMMED
from assistant.dialogue.messages import Heard
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.packing import is_under
from assistant.dialogue.procedures.safety import Safety
from assistant.dialogue.procedures.shim import shim_is
from assistant.dialogue.rows import Procedure, Row
from assistant.dialogue.spoken import spoken
from assistant.dialogue.state import PACK_LENGTHWISE, PACK_SIDES, State, shim_in_place
from assistant.dialogue.turn import Outcome, Turn, ask, done, go
from grammar.meaning import Shim
from grammar.numerals import number_words


class LastTime(Phase):
    """The one question."""

    STILL_IN = "shim still in"


# -- words -------------------------------------------------------------------------------


@spoken
def last_time(machine: str, day: str, left: str, square_day: str = "") -> str:
    """Before the first question: this machine, its last job, and when it was last square."""
    before = f" Last square {square_day}." if square_day else ""
    when = f", {day}" if day else ""
    return f"{machine[:1].upper()}{machine[1:]}{when}: {left}.{before}"


@spoken
def left_within(tolerance: str) -> str:
    """It was left square."""
    return f"square within {tolerance}"


@spoken
def left_out(tilt: str) -> str:
    """It was left out of square."""
    return f"left {tilt} out"


NOT_FINISHED: Final = "not finished"  # that job was not gone through to its end
NOT_PROVEN: Final = "too close to call"  # neither in nor out
NONE_WAS_IN: Final = "No shim in."  # nothing at the tilt bolt, nothing under the feet


@spoken
def still_in(total: Decimal, where: str) -> str:
    """Each shim that is in by the record; it may have been changed, or taken out."""
    return f"Shim {number_words(total)} {where} still in? Or say which."


NONE_THEN: Final = "None there, then."  # no: it was taken out
AS_NEW: Final = "As if new, then."  # skip: nothing of the last job is to be built on

# -- what is told ------------------------------------------------------------------------


def told(state: State) -> str:
    """How the last job left this machine; nothing where there was none."""
    last = state.last
    if last is None:
        return ""
    said = last_time(state.profile.name, last.day, _left(state, last), last.square_day)
    none_in = state.profile.kind in LEAVES and not any(_remembered(last, at) for at in _PLACES)
    return f"{said} {NONE_WAS_IN}" if none_in else said


def _left(state: State, last: LastJob) -> str:
    if not last.finished:
        return NOT_FINISHED
    if last.within is not None:
        at_that = replace(state.profile, tolerance=last.within, tolerance_over=None)
        return left_within(tolerance_words(at_that))
    if last.tilt is not None:
        return left_out(amount(last.tilt, spoken_step(state.profile)))
    return NOT_PROVEN


# -- which shims are in ------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _At:
    """A place for shims: its kind of plan, and the sides where they count up and down."""

    kind: str
    plus: str
    minus: str
    said: Callable[[State, Decimal], str]


def _at_bolt(_: State, signed: Decimal) -> str:
    there = shim_in_place(signed)
    return shim_is(there.total, there.place)


_PLACES = (
    _At("shim", "above the bolt", "below the bolt", _at_bolt),
    _At(
        PACK_LENGTHWISE,
        "under the back",
        "under the front",
        lambda _, signed: is_under(abs(signed), "back" if signed > 0 else "front"),
    ),
    _At(
        PACK_SIDES,
        "under the left",
        "under the right",
        lambda _, signed: is_under(abs(signed), "left" if signed > 0 else "right"),
    ),
)


def _remembered(last: LastJob, at: _At) -> Decimal:
    by_kind = {
        "shim": last.shim, PACK_LENGTHWISE: last.under_back, PACK_SIDES: last.under_left
    }  # fmt: skip
    return by_kind[at.kind]


def _open(state: State) -> tuple[_At, Decimal] | None:
    """The next place whose shim is asked about, and what was in there; None when all are."""
    if state.last is None:
        return None
    here = ("shim",) if state.profile.kind in SHIMMED else (PACK_LENGTHWISE, PACK_SIDES)
    for at in _PLACES if state.profile.kind in LEAVES else ():
        was = _remembered(state.last, at)
        if at.kind in here and at.kind not in state.shims_told and was:
            return at, was
    return None


def due(state: State) -> bool:
    """Whether there is a shim to ask about."""
    return _open(state) is not None


def _asked(state: State) -> str:
    found = _open(state)
    if found is None:
        return NONE_WAS_IN
    at, was = found
    return still_in(abs(was), at.plus if was > 0 else at.minus)


def _with(state: State, at: _At, signed: Decimal) -> State:
    told_of = replace(state, shims_told=(*state.shims_told, at.kind))
    if at.kind == "shim":
        return replace(told_of, shims=replace(state.shims, total=signed))
    if at.kind == PACK_LENGTHWISE:
        return replace(told_of, packing=replace(state.packing, under_back=signed))
    return replace(told_of, packing=replace(state.packing, under_left=signed))


def _go_on(state: State, said: str) -> Turn:
    return ask(state, said) if due(state) else done(state, Outcome.DONE, said)


def _still(state: State, _: Heard) -> Turn:
    found = _open(state)
    return _go_on(_with(state, *found), "") if found else _go_on(state, "")


def _none(state: State, _: Heard) -> Turn:
    found = _open(state)
    return _go_on(_with(state, found[0], Decimal(0)), NONE_THEN) if found else _go_on(state, "")


def _called(state: State, called: Shim) -> Turn:
    """Another one is in; without its side it is where the last was."""
    found = _open(state)
    if found is None:
        return _go_on(state, "")
    at, was = found
    below = was < 0 if called.place is None else called.place == "below"
    signed = -called.total if below else called.total
    return _go_on(_with(state, at, signed), at.said(state, signed))


def _as_new(state: State, _: Heard) -> Turn:
    """Nothing of the last job counts: another table, another bolt, or another machine."""
    return done(
        replace(state, last=None, shims=Shims(), packing=Packing(), shims_told=()),
        Outcome.DONE,
        AS_NEW,
    )


def _back(state: State, _: Heard) -> Turn:
    return ask(_asked_anew(state)) if state.shims_told else _safety(state)


def _safety(state: State) -> Turn:
    return go(state, Safety.ALL if state.short else Safety.TABLE_HELD)


def _asked_anew(state: State) -> State:
    """The state before the question: no shim is known to be in."""
    return replace(state, shims=Shims(), packing=Packing(), shims_told=())


def back_into(state: State) -> Turn:
    """Back from what comes next: which shims are in is asked once more, until a sweep is made."""
    before = _asked_anew(state)
    return go(before, LastTime.STILL_IN) if due(before) and not state.sweeps else _safety(state)


def _shows(state: State) -> tuple[str, str]:
    found = _open(state)
    if found is None:
        return "", ""
    at, was = found
    return signed_digits(was).lstrip("+-"), f"shim {at.plus if was > 0 else at.minus}"


PROCEDURE = Procedure(
    (
        Row(
            LastTime.STILL_IN,
            "SHIM?",
            _asked,
            {"yes": _still, "no": _none, "skip": _as_new, "disregard": _back},
            weighty=("skip",),
            on_shim=_called,
            shows=_shows,
            how="Yes if nobody touched it. No if it is out. Skip for a new start.",
        ),
    ),
    due=due,
)
