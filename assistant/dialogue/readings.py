"""What a called number does, by the row of the phase: taken, asked about or refused."""

from dataclasses import replace
from decimal import Decimal

from assistant.dialogue.dial_setting import Impossible, NoSign, as_read, meant_by, needs_sign
from assistant.dialogue.job import row_of
from assistant.dialogue.messages import Heard
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.touch import NO_NUMBERS
from assistant.dialogue.state import (
    AskCommand,
    AskGoOn,
    AskReading,
    AskShim,
    AskSign,
    AskUntouched,
    State,
)
from assistant.dialogue.turn import Turn, aside, ask
from assistant.dialogue.wishes import follows_result, reopened
from assistant.dialogue.wording import (
    BEYOND_DIAL,
    FINISH_LATER,
    NOT_WHILE_LOOSE,
    THE_NUMBER,
    THE_SIGN,
    YES_OR_NO,
    finer_than_dial,
    not_now,
    say_instead,
    wanted,
)
from grammar.meaning import Command, Meaning, OffScale, Reading, Shim
from grammar.offer import Offer


def number(state: State, called: Reading, heard: Heard) -> Turn:
    """A called number; refused with the reason while it could not be true."""
    if called.correction and follows_result(state) and state.profile.method != "touch":
        return number(reopened(state), called, heard)
    row = row_of(state.phase)
    if state.profile.method == "touch" and row.as_dial:
        return ask(state, NO_NUMBERS)
    if row.on_reading is not None:
        return _meant(state, called, heard)
    if row.on_number is not None:
        return row.on_number(state, called, heard)
    return ask(state, NOT_WHILE_LOOSE if row.loose else not_now(heard.words))


def _meant(state: State, called: Reading, heard: Heard) -> Turn:
    """A number read at the rig: asked about while it may mean more than one thing.

    A voice is offered what the dial shows. Who types may type anything: what lies between its marks
    nobody reads twice alike, and it is taken from those only who insist; what lies beyond them is
    asked about.
    """
    off = _off_dial(state, called, heard)
    if off is not None and off.reason == "finer" and state.between_marks != abs(called.value):
        return ask(replace(state, between_marks=abs(called.value)), off_scale_words(off))
    match meant_by(state, called, _expected(state, called)):
        case NoSign():
            pending = AskSign(called, heard.words, heard.confidence, heard.alternatives)
            return ask(replace(state, pending=pending))
        case Impossible(words=words):
            return ask(state, words)
        case Reading() as meant if meant.doubtful_unit and row_of(state.phase).doubt != "none":
            return ask(replace(state, pending=AskReading((meant,))))
        case Reading() as meant if off is not None and off.reason == "beyond":
            return ask(replace(state, pending=AskReading((meant,))))
        case Reading() as meant:
            return take_called(state, meant, heard)
        case candidates:
            return ask(replace(state, pending=AskReading(candidates)))


def beyond_asked(state: State, called: Reading, heard: Heard) -> Turn | None:
    """The question about a number beyond the dial that was called twice; None where none is due."""
    if row_of(state.phase).on_reading is None:
        return None
    if needs_sign(state.profile) and not called.signed:
        pending = AskSign(called, heard.words, heard.confidence, heard.alternatives)
        return ask(replace(state, pending=pending))
    return ask(replace(state, pending=AskReading((called,))))


def _off_dial(state: State, called: Reading, heard: Heard) -> OffScale | None:
    """Why a typed number is not on the dial; None where it is, or there is none."""
    by_dial = state.profile.method == "indicator" and heard.source != "voice"
    if not by_dial or called.doubtful_unit:
        return None
    told = offered(state).taken(replace(called, station=None))
    return told if isinstance(told, OffScale) else None


def take_called(state: State, called: Reading, heard: Heard) -> Turn:
    """A reading whose meaning is settled: kept, or weighed against what is aimed at."""
    row, settled = row_of(state.phase), replace(state, pending=None, between_marks=None)
    if row.on_reading is None:
        return number(settled, called, heard)
    return row.on_reading(settled, called, heard)


def shim(state: State, called: Shim, heard: Heard) -> Turn:
    """A shim that was called: the hundredths of the dial, or the millimetres marked on a leaf."""
    row = row_of(state.phase)
    if row.on_shim is None or not offered(state).allows(called):
        return refused(state, heard.words)
    if called.doubtful_unit:
        sure = replace(called, doubtful_unit=False)
        in_mm = replace(sure, total=100 * sure.total)
        return ask(replace(state, pending=AskShim((sure, in_mm))))
    return row.on_shim(state, called)


def refused(state: State, words: str, meaning: Meaning | None = None) -> Turn:
    """Understood, but it does nothing here: say so, and put the question again.

    A number that the dial does not show is called again; a word of agreement where another one
    is wanted is told that one, and so is a no: not yet. Where a number is wanted that is said, and
    likewise where a question of its own is open that wants yes or no.
    """
    now = offered(replace(state, pending=None))
    told = now.taken(meaning) if isinstance(meaning, Reading) else None
    if isinstance(told, OffScale):
        return ask(state, off_scale_words(told))
    said = meaning.name if isinstance(meaning, Command) else ""
    if said in AGREEING and isinstance(state.pending, YES_AND_NO):
        return aside(state, YES_OR_NO)
    name = said if state.pending is None else ""
    if name == "finish" and state.introduction is None and state.phase is not Close.CLOSE:
        return ask(state, FINISH_LATER)
    if name in (*AGREEING, "no", "finish"):
        row = row_of(state.phase)
        meant = next((name for name in now.commands if name in AGREEING), "")
        if (row.on_number or row.on_reading) and _number_wanted(state, now):
            skip = "skip" in now.commands
            if row.on_sign is not None:
                return aside(state, wanted(THE_SIGN, skip, state.by))
            return ask(state, wanted(THE_NUMBER, skip, state.by))
        if meant == "yes" and "no" in now.commands:
            return aside(state, YES_OR_NO)
        if meant:
            return aside(state, say_instead(meant, state.by))
    return ask(state, not_now(words))


def _number_wanted(state: State, now: Offer) -> bool:
    """Whether a number carries on where one may be said: the dial's at a station, or the row's own.

    The first command of a row carries it on; where a number does, that one leaves it out.
    """
    at_the_dial = state.profile.method != "touch" and row_of(state.phase).station(state) is not None
    return now.commands[0] not in AGREEING or (at_the_dial and "yes" not in now.commands)


YES_AND_NO = (AskCommand, AskReading, AskShim, AskGoOn, AskUntouched)
"""Open questions that want a yes or a no."""

AGREEING = ("yes", "done", "locked", "zeroed")
"""Words that carry a job on: each belongs to another sort of step."""


def off_scale_words(called: OffScale) -> str:
    """Why a number cannot be taken as it was called."""
    if called.reason == "beyond":
        return BEYOND_DIAL
    return finer_than_dial(called.value, called.signed)


def offered(state: State) -> Offer:
    """What the phase listens for as the dial shows it, whatever question is open."""
    now = row_of(state.phase).offer_now(state)
    return as_read(state.profile, replace(now, any_tenths=False))


def _expected(state: State, called: Reading) -> Decimal | None:
    """What a reading should be near, by the phase."""
    return row_of(state.phase).expected(state, called.station or state.awaited)


def candidates_of(state: State, heard: Heard) -> tuple[Reading, ...]:
    """What a doubtful call may be taken as, likeliest first; none if it lacks a sign."""
    meanings = (heard.meaning, *(hypothesis.meaning for hypothesis in heard.alternatives))
    found: dict[Reading, None] = {}
    for called in meanings:
        if isinstance(called, Reading):
            meant = meant_by(state, called, _expected(state, called))
            if isinstance(meant, Reading):
                found[meant] = None
            elif isinstance(meant, tuple):
                found |= dict.fromkeys(meant)
            elif called is heard.meaning:
                return ()
    return tuple(found)[:3]
