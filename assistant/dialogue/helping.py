"""Words about the job itself: where it is, what can be said now, what can be pressed."""

from decimal import Decimal

from assistant.dialogue import wording
from assistant.dialogue.answer_words import axes_words, tilt_words, uncertainty_words
from assistant.dialogue.job import row_of
from assistant.dialogue.keys import is_sign_here, signs_are_places
from assistant.dialogue.procedures import introduction
from assistant.dialogue.questions import before_job, offer_now, wants_number
from assistant.dialogue.rows import EVERYWHERE
from assistant.dialogue.state import State
from assistant.dialogue.wishes import OF_THE_VOICE, WISHES
from assistant.dialogue.work_words import lean_words
from grammar.vocabulary import BY_NAME


def status_words(state: State) -> str:
    """Where the job is, in one breath."""
    if before_job(state):
        return introduction.STATUS
    last = state.as_left
    words = wording.status(
        Decimal(state.sweep_number if state.readings or not state.sweeps else len(state.sweeps)),
        Decimal(sum(not taken.zeroed for taken in state.readings)),
        tilt_words(state.as_found, state.profile),
        tilt_words(last, state.profile),
    )
    if last is None:
        return words
    lean = lean_words(last, state.profile)
    axes, unsure = (
        part(last, state.profile, briefly=state.short) for part in (axes_words, uncertainty_words)
    )
    return f"{words} {axes} {unsure} {lean}"


def help_words(state: State) -> str:
    """How to do what is asked, and what can be said now."""
    offer = offer_now(state)
    hint = wording.number_hint(state.awaited, "signed" if offer.signed else "plain")
    number = hint if wants_number(state) and not offer.signs else ""
    if offer.shim:
        number = wording.shim_hint(offer.shim_places)
    # Whoever hears this has found "help"; how the voice is, they hear, too, and the screen tells.
    left_out = {"help", *OF_THE_VOICE}
    phrases = [phrase for phrase in offer.phrases() if phrase not in left_out]
    return f"{_how(state)} {wording.can_say(phrases, number, state.by)}".strip()


def _how(state: State) -> str:
    """How to do what is asked; a question of its own is its own help."""
    return "" if state.pending is not None else row_of(state.phase).how_to(state)


def key_words(state: State) -> str:
    """How to do what is asked, and what can be pressed now.

    What can be pressed always is left to the screen, but stop.
    """
    offer = offer_now(state)
    always = {*EVERYWHERE, *WISHES} - {"stop"}
    names = [name for name in offer.commands if name not in always]
    keys = [
        (BY_NAME[name].key, BY_NAME[name].says[0])
        for name in names
        if not is_sign_here(state, BY_NAME[name].key)
    ]
    if offer.signs:
        keys = [("+", "plus"), ("-", "minus"), *keys]
    if signs_are_places(offer):
        keys = [("+", "before it is above"), ("-", "below"), *keys]
    return f"{_how(state)} {wording.can_press(keys, wants_number(state))}".strip()
