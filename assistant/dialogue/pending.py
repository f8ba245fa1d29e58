"""Each open question of its own: its words, what is listened for, and what an answer does.

Such a question stands before that of the phase until it is answered or taken back.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any, Final, Generic, TypeVar

from assistant.dialogue.dial_setting import continuous, turns_asked
from assistant.dialogue.formatting import digits, signed_digits
from assistant.dialogue.job import row_of
from assistant.dialogue.messages import Heard, NewJob
from assistant.dialogue.methods import way_of
from assistant.dialogue.procedures import introduction
from assistant.dialogue.procedures.gap import no_go_called, which_not
from assistant.dialogue.procedures.lock import Lock
from assistant.dialogue.procedures.safety import UNPLUG_FIRST
from assistant.dialogue.procedures.square import which_end
from assistant.dialogue.procedures.sweep import FIRST, Sweeping, carry_on
from assistant.dialogue.readings import candidates_of, number, shim, take_called
from assistant.dialogue.rows import EVERYWHERE
from assistant.dialogue.spoken import spoken
from assistant.dialogue.state import (
    AskCommand,
    AskGoOn,
    AskNoGo,
    AskReading,
    AskShim,
    AskSign,
    AskUntouched,
    Pending,
    State,
    Undone,
)
from assistant.dialogue.turn import Turn, aside, ask, go, quietly
from assistant.dialogue.wording import digitwise
from grammar.meaning import Command, Meaning, Reading, Shim, Sign
from grammar.numerals import number_words
from grammar.offer import Offer
from grammar.say import Way, signed_words, value_words
from grammar.scale import Scale
from grammar.vocabulary import BY_NAME, Station


@dataclass(frozen=True, slots=True)
class Sure:
    """This command is meant: it is done without asking again."""

    name: str


Answered = Turn | Sure | None
"""What an answer does; None for one that does not answer this question."""

P = TypeVar("P")


@dataclass(frozen=True, slots=True)
class Open(Generic[P]):
    """One kind of open question. ``shows``: its digits for the screen and what they are."""

    words: Callable[[State, P], str]
    offer: Callable[[State, P], Offer]
    answer: Callable[[State, P, Meaning, Heard], Answered]
    shows: Callable[[State, P], tuple[str, str]] | None = None
    headline: str = ""


def _named(meaning: Meaning) -> str:
    return meaning.name if isinstance(meaning, Command) else ""


def _plain(state: State) -> State:
    return replace(state, pending=None)


# -- which sign --------------------------------------------------------------------------


@spoken
def ask_sign(value: Decimal, station: Station | None = None) -> str:
    """A number came without its sign; ``station``: whose it is, where it is of one."""
    asked = f"lus or minus {number_words(value)}?"
    return f"{station.capitalize()}: p{asked}" if station else f"P{asked}"


def _sign_words(state: State, asked: AskSign) -> str:
    if state.profile.method == "square":
        return which_end(asked.reading.value)
    return ask_sign(asked.reading.value, asked.reading.station or state.awaited)


def _sign_offer(state: State, _: AskSign) -> Offer:
    scale = state.profile.scale
    if state.profile.method == "square":
        return Offer(scale, ("yes", "no", "disregard", *EVERYWHERE), readings=True)
    return Offer(scale, ("no", "disregard", *EVERYWHERE), readings=True, signs=True)


def _sign_answer(state: State, asked: AskSign, meaning: Meaning, heard: Heard) -> Answered:
    if _named(meaning) in ("yes", "no") and state.profile.method == "square":
        meaning = Sign("plus" if _named(meaning) == "yes" else "minus")
    unsigned = asked.reading
    once_more = isinstance(meaning, Reading) and _same(state, meaning, unsigned)
    if _named(meaning) == "no" or once_more:
        return _not_that_number(state, asked, heard, once_more=once_more)
    if not isinstance(meaning, Sign):
        return None
    value = -unsigned.value if meaning.name == "minus" else unsigned.value
    told = replace(
        heard,
        words=asked.words,
        confidence=min(asked.confidence, heard.confidence),
        alternatives=asked.alternatives,
    )
    return number(_plain(state), replace(unsigned, value=value, signed=True), told)


def _not_that_number(state: State, asked: AskSign, heard: Heard, *, once_more: bool) -> Answered:
    """The number was misheard: what else it may have been is asked.

    To a question for its sign the same number once more is no answer: whoever says "zero" and is
    heard with "two" says it again, and would be asked for ever.
    """
    first = asked.alternatives or heard.alternatives
    others = [
        one
        for hypothesis in first
        for one in candidates_of(state, replace(heard, meaning=hypothesis.meaning, alternatives=()))
        if abs(one.value) != abs(asked.reading.value) or not once_more
    ]
    if others:
        return ask(replace(state, pending=AskReading(tuple(dict.fromkeys(others)))))
    return None if once_more else aside(_plain(state), NO_MATCH)


def _sign_shows(state: State, asked: AskSign) -> tuple[str, str]:
    size = signed_digits(abs(asked.reading.value)).lstrip("+")
    if state.profile.method == "square":
        return size, "open at the bottom?"
    elsewhere = state.elsewhere(asked.reading)
    return f"±{size}", f"{elsewhere}: plus or minus?" if elsewhere else "plus or minus?"


# -- is that the reading -----------------------------------------------------------------


@spoken
def ask_reading(station: Station, value: Decimal, way: Way = "signed") -> str:
    """A doubtful reading; from ten on it is said digit by digit, so that fifteen is not fifty."""
    return f"{station.capitalize()} {value_words(value, way, digitwise=digitwise(value))}?"


@spoken
def tenths_words(value: Decimal, scale: Scale) -> str:
    """A reading in tenths said in full, so that inch and metric ears agree."""
    tenths = value * 10 if scale.system == "thou" else value / 10
    whole = "thou" if scale.system == "thou" else "millimetre"
    return f"{signed_words(tenths)} tenths of a {whole}"


@spoken
def ask_tenths(station: Station, value: Decimal, scale: Scale) -> str:
    """Tenths mean different things to different ears: asked once, in full."""
    # A voice is offered what the dial shows only, but any tenths can be typed.
    finer = "Finer than the dial. " if value % scale.step else ""
    return f"{finer}{station.capitalize()} {tenths_words(value, scale)}?"


BEYOND: Final = "Beyond this dial."  # typed, and larger than what the dial shows

NO_MATCH: Final = "Once more, then."
"""After "no" to every way that a doubtful call may have been meant."""


@spoken
def counter(question: str) -> str:
    """More than half a turn may have passed: the small hand knows."""
    return f"Check the turns. {question}"


def _at(state: State, called: Reading) -> Station:
    return called.station or state.awaited or FIRST


def _reading_words(state: State, asked: AskReading) -> str:
    first = asked.candidates[0]
    station = _at(state, first)
    if turns_asked(state.profile, asked.candidates):
        return counter(ask_reading(station, first.value))
    if first.doubtful_unit:
        return ask_tenths(station, first.value, state.profile.scale)
    asked_words = ask_reading(station, first.value, way_of(state.profile))
    balanced = state.profile.method == "indicator" and not continuous(state.profile)
    beyond = balanced and abs(first.value) > state.profile.scale.reach
    return f"{BEYOND} {asked_words}" if beyond else asked_words


def _yes_no_offer(state: State, _: AskReading | AskShim) -> Offer:
    row = row_of(state.phase)
    commands = ("yes", "no", "disregard", *EVERYWHERE)
    takes_shim = row.on_shim is not None
    return Offer(state.profile.scale, commands, readings=row.readings, shim=takes_shim)


def _same(state: State, called: Reading, first: Reading) -> bool:
    """Whether the reading that is asked about was called once more, on the dial or not."""
    alike = (called.value, called.signed, called.unit) == (first.value, first.signed, first.unit)
    return alike and _at(state, called) == _at(state, first)


def _reading_answer(state: State, asked: AskReading, meaning: Meaning, heard: Heard) -> Answered:
    first = asked.candidates[0]
    if _named(meaning) == "yes" or (isinstance(meaning, Reading) and _same(state, meaning, first)):
        settled = replace(first, doubtful_unit=False)
        return take_called(_plain(state), settled, heard)
    if _named(meaning) == "no":
        rest = asked.candidates[1:]
        if rest:
            return ask(replace(state, pending=AskReading(rest)))
        elsewhere = state.elsewhere(asked.candidates[0])
        # Of a station that nobody asked for nothing is wanted: back to the order.
        return ask(_plain(state)) if elsewhere else aside(_plain(state), NO_MATCH)
    return None


def _reading_shows(state: State, asked: AskReading) -> tuple[str, str]:
    first = asked.candidates[0]
    return digits(first.value, state.profile), f"{_at(state, first)}: is that right?"


# -- which leaf does not go --------------------------------------------------------------


def _no_go_offer(state: State, _: AskNoGo) -> Offer:
    return Offer(state.profile.scale, ("done", "skip", "disregard", *EVERYWHERE), readings=True)


def _no_go_answer(state: State, asked: AskNoGo, meaning: Meaning, _: Heard) -> Answered:
    goes = state.called(asked.station)
    if _named(meaning) in ("done", "skip") or goes is None:
        return carry_on(_plain(state), "")
    here = isinstance(meaning, Reading) and meaning.station in (None, asked.station)
    if isinstance(meaning, Reading) and here and not meaning.correction:
        return no_go_called(state, goes, meaning)
    return None


# -- hundredths or millimetres of shim ---------------------------------------------------


@spoken
def ask_shim(total: Decimal, millimetres: bool) -> str:
    """A shim that was called with a point, at any machine: hundredths, and then millimetres."""
    if millimetres:
        return f"Shim {number_words(total / 100)} millimetres?"
    return f"Shim {number_words(total)} hundredths?"


def _shim_answer(state: State, asked: AskShim, meaning: Meaning, heard: Heard) -> Answered:
    name = _named(meaning)
    if isinstance(meaning, Shim) or name == "yes":
        called = meaning if isinstance(meaning, Shim) else asked.candidates[0]
        return shim(_plain(state), called, heard)
    if name == "no" and asked.candidates[1:]:
        return ask(replace(state, pending=AskShim(asked.candidates[1:])))
    return ask(_plain(state)) if name == "no" else None


def _shim_shows(_: State, asked: AskShim) -> tuple[str, str]:
    return signed_digits(asked.candidates[0].total).lstrip("+"), "hundredths of shim?"


def asked_about(state: State, command: Command) -> AskCommand:
    """The question whether a command is meant, over the one that is open now.

    What is open is never lost by it: the questions after a restart least of all.
    """
    open_now = state.pending
    beneath = open_now.beneath if isinstance(open_now, AskCommand) else open_now
    return AskCommand(command, beneath)


def withdrawn(state: State) -> State:
    """The state when the open question is taken back: with the one beneath it, if there is one."""
    beneath = state.pending.beneath if isinstance(state.pending, AskCommand) else None
    return replace(state, pending=beneath)


# -- is that the command -----------------------------------------------------------------


@spoken
def ask_command(command: Command) -> str:
    """A doubtful or weighty command."""
    return f"{BY_NAME[command.name].says[0].capitalize()}?"


ASIDE = ("say again", "status", "help", "stand by")
"""Commands that leave the job where it is: a doubt about one does not hold it up."""

ASK_STOP: Final = "Stop here? All is kept."  # stopping keeps everything


def _command_words(state: State, asked: AskCommand) -> str:
    if asked.command.name != "stop":
        return ask_command(asked.command)
    before = isinstance(state.phase, introduction.Introducing)
    return introduction.ASK_STOP if before else ASK_STOP


def _command_offer(state: State, asked: AskCommand) -> Offer:
    name = asked.command.name
    if name in ASIDE:
        # Who wanted none of it goes on with the job: that stays on offer.
        now = _beneath(state, asked)
        commands = dict.fromkeys((*now.commands, "yes", "no", *EVERYWHERE))
        instead = tuple(name for name in now.instead if name not in commands)
        return replace(now, commands=tuple(commands), instead=instead)
    again = () if name in EVERYWHERE else (name,)
    return Offer(state.profile.scale, ("yes", "no", *again, *EVERYWHERE))


def _beneath(state: State, asked: AskCommand) -> Offer:
    if asked.beneath is not None:
        return open_question(asked.beneath).offer(state, asked.beneath)
    return row_of(state.phase).offer_now(state)


def _command_answer(state: State, asked: AskCommand, meaning: Meaning, _: Heard) -> Answered:
    name, wanted = _named(meaning), asked.command.name
    if name == "yes":
        return Sure(wanted)
    if name == "no":
        return ask(withdrawn(state))
    if name == wanted:
        # "Done?" is answered by "done"; what ends something wants its yes.
        return ask(state) if is_weighty(state, name) else Sure(wanted)
    return None


def is_weighty(state: State, name: str) -> bool:
    """Whether a command is asked about before it is done here."""
    return name == "stop" or name in row_of(state.phase).weighty


# -- after a restart ---------------------------------------------------------------------
GO_ON: Final = "Go on with it?"  # after a restart, behind the job that it is


@spoken
def go_on(machine: str, day: str, sweeps: Decimal) -> str:
    """After a restart: which job it is that was not finished, and where it stood."""
    from_day = f" from {day}" if day else ""
    stood = "no sweep yet" if not sweeps else f"{number_words(sweeps)} sweep{'s' * (sweeps > 1)}"
    return f"{machine.capitalize()}{from_day}, {stood}. {GO_ON}"


UNTOUCHED: Final = "All locked and untouched since?"  # taken up again in the middle of a sweep
NEW_SWEEP: Final = "A new sweep, then."  # no to that
LOOSE: Final = "The table is loose. Hold it."  # on stopping and on going on

STILL_UNPLUGGED: Final = "Still unplugged, key out?"
"""After a restart the machine may have been used."""


def _go_on_words(state: State, asked: AskGoOn) -> str:
    if asked.unplugged:
        return STILL_UNPLUGGED
    return go_on(state.profile.name, asked.day, Decimal(len(state.sweeps)))


def _go_on_offer(state: State, _: AskGoOn | AskUntouched) -> Offer:
    return Offer(state.profile.scale, ("yes", "no", "stop", "say again", "help"))


def _go_on_answer(state: State, asked: AskGoOn, meaning: Meaning, _: Heard) -> Answered:
    name = _named(meaning)
    if name == "no" and asked.unplugged:
        return ask(state, UNPLUG_FIRST)
    if name == "no":
        return quietly(replace(_plain(state), stopped=True), NewJob())
    if name == "yes" and asked.unplugged:
        return _taken_up(_plain(state))
    return ask(replace(state, pending=replace(asked, unplugged=True)) if name == "yes" else state)


def _taken_up(state: State) -> Turn:
    if state.phase is Sweeping.SWEEP and state.readings:
        return ask(replace(state, pending=AskUntouched()))
    return go(state, state.phase, LOOSE if state.loosened else "")


def _untouched_answer(state: State, _: AskUntouched, meaning: Meaning, heard: Heard) -> Answered:
    name = _named(meaning)
    if name == "no":
        read = (one for one in state.readings if not one.zeroed)
        gone = tuple(Undone(one, heard.at, "moved since") for one in read)
        begun = replace(_plain(state).begun_with(), undone=gone)
        return go(begun, Lock.LOCK, NEW_SWEEP)
    return go(_plain(state), state.phase) if name == "yes" else ask(state)


# -- the table of them -------------------------------------------------------------------

OPEN: dict[type[Pending], Open[Any]] = {
    AskSign: Open(_sign_words, _sign_offer, _sign_answer, _sign_shows),
    AskReading: Open(_reading_words, _yes_no_offer, _reading_answer, _reading_shows),
    AskNoGo: Open(
        lambda _, asked: which_not(asked.station),
        _no_go_offer,
        _no_go_answer,
        lambda _, asked: ("", f"{asked.station}: which does not go?"),
    ),
    AskShim: Open(
        lambda _, asked: ask_shim(asked.candidates[0].total, not asked.candidates[1:]),
        _yes_no_offer,
        _shim_answer,
        _shim_shows,
    ),
    AskCommand: Open(_command_words, _command_offer, _command_answer, headline="SURE?"),
    AskGoOn: Open(
        _go_on_words,
        _go_on_offer,
        _go_on_answer,
        headline="GO ON?",
    ),
    AskUntouched: Open(lambda *_: UNTOUCHED, _go_on_offer, _untouched_answer, headline="GO ON?"),
}


def open_question(pending: Pending) -> Open[Any]:
    """What is known of an open question."""
    return OPEN[type(pending)]
