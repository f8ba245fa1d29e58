"""What a clear utterance does: it answers the open question first, and then the phase."""

from dataclasses import replace
from typing import assert_never

from assistant.dialogue.commands import command
from assistant.dialogue.job import row_of
from assistant.dialogue.messages import Heard
from assistant.dialogue.pending import ASIDE, Sure, open_question, withdrawn
from assistant.dialogue.questions import offer_now
from assistant.dialogue.readings import number, refused, shim
from assistant.dialogue.rows import EVERYWHERE
from assistant.dialogue.state import AskCommand, State
from assistant.dialogue.turn import Turn, ask
from assistant.dialogue.wishes import WISHES, wish
from grammar.meaning import Command, Reading, Shim, Side, Sign, Size, Wish

Answerable = Command | Reading | Sign | Side | Shim | Size | Wish


def answer(state: State, meaning: Answerable, heard: Heard) -> Turn:
    """What a clear utterance does."""
    if isinstance(meaning, Wish):
        return wish(state, meaning, heard)
    if state.pending is not None:
        return _to_open_question(state, meaning, heard)
    row, turn = row_of(state.phase), None
    match meaning:
        case Command(name=name):
            return command(state, name, heard)
        case Reading():
            return number(state, meaning, heard)
        case Shim():
            return shim(state, meaning, heard)
        case Size():
            turn = row.on_size(state, meaning) if row.on_size else None
        case Sign():
            turn = row.on_sign(state, meaning) if row.on_sign else None
        case Side():
            turn = row.on_side(state, meaning) if row.on_side else None
        case _:
            assert_never(meaning)
    return turn or refused(state, heard.words, meaning)


def _to_open_question(state: State, meaning: Answerable, heard: Heard) -> Turn:
    pending, plain = state.pending, withdrawn(state)
    name = meaning.name if isinstance(meaning, Command) else ""
    if name in WISHES and heard.source != "voice":
        return command(state, name, heard)
    if name in EVERYWHERE and not (name == "stop" and _asks_stop(state)):
        return command(state, name, heard)
    if pending is not None:
        match open_question(pending).answer(state, pending, meaning, heard):
            case Turn() as turn:
                return turn
            case Sure(name=meant):
                return command(replace(state, pending=None), meant, heard, sure=True)
            case None:
                pass
    if name == "disregard":
        return ask(plain)
    aside = isinstance(pending, AskCommand) and pending.command.name in ASIDE
    if aside and offer_now(plain).allows(meaning):
        return answer(plain, meaning, heard)
    # Tenths that the dial does not show are not listened for, but whoever types them means them.
    takes = replace(offer_now(plain), any_tenths=True)
    if isinstance(meaning, Reading) and takes.allows(meaning):
        return number(plain, _instead_of_asked(state, meaning), heard)
    return refused(state, heard.words, meaning)


def _instead_of_asked(state: State, called: Reading) -> Reading:
    """What is asked about was not taken yet: a correction of it replaces no reading."""
    read = [taken.station for taken in state.readings if not taken.zeroed]
    return called if called.station in read else replace(called, correction=False)


def _asks_stop(state: State) -> bool:
    return isinstance(state.pending, AskCommand) and state.pending.command.name == "stop"
