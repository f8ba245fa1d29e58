"""What a command does: those that can be said anywhere, and else by the row of the phase."""

from dataclasses import replace

from assistant.dialogue.helping import help_words, key_words, status_words
from assistant.dialogue.job import row_of
from assistant.dialogue.messages import Closed, Heard, Say
from assistant.dialogue.pending import asked_about, is_weighty
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.questions import in_full, offer_now, stopped_words
from assistant.dialogue.readings import refused
from assistant.dialogue.rows import EVERYWHERE, follow
from assistant.dialogue.state import State
from assistant.dialogue.turn import Turn, aside, ask, quietly
from assistant.dialogue.wishes import WISHES
from assistant.dialogue.wording import STANDING_BY
from grammar.meaning import Command


def command(state: State, name: str, heard: Heard, *, sure: bool = False) -> Turn:
    """A command in the current phase; ``sure``: it was asked about already."""
    wish = WISHES.get(name)
    if wish is not None and (sure or heard.source != "voice" or name in offer_now(state).commands):
        if name == "start over" and state.phase is Sweeping.SWEEP and not sure:
            return ask(replace(state, pending=asked_about(state, Command(name))))
        return wish(state, heard)
    if name not in offer_now(replace(state, pending=None)).commands and not sure:
        return refused(state, heard.words, Command(name))
    if is_weighty(state, name) and not sure:
        return ask(replace(state, pending=asked_about(state, Command(name))))
    if name in EVERYWHERE:
        return _anywhere(state, name, heard)
    row = row_of(state.phase)
    leads = row.leads(name)
    if leads is None:
        return refused(state, heard.words, Command(name))
    by_hand = {"done": row.loose or state.loosened, "locked": False}
    return follow(leads, replace(state, loosened=by_hand.get(name, state.loosened)), heard)


def _anywhere(state: State, name: str, heard: Heard) -> Turn:
    match name:
        case "say again":
            return aside(state, in_full(state))
        case "status":
            return ask(state, status_words(state))
        case "help":
            by_keys = heard.source == "keypad" or (heard.source == "voice" and state.too_loud)
            return aside(state, key_words(state) if by_keys else help_words(state))
        case "stand by":
            return aside(replace(state, standing_by=True), STANDING_BY)
        case _:
            stopped = replace(state, stopped=True)
            return quietly(stopped, Say(stopped_words(stopped)), Closed(finished=False))
