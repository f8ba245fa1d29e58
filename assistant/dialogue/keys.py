"""The numeric keypad: keys to an entry, and an entry to the same meanings as the voice."""

from dataclasses import replace

from assistant.dialogue.job import row_of
from assistant.dialogue.messages import Heard, KeyPressed, Say, Tone
from assistant.dialogue.questions import offer_now, wants_number
from assistant.dialogue.state import AskSign, State
from assistant.dialogue.turn import Turn, aside, quietly
from assistant.dialogue.wishes import OF_THE_VOICE, WISHES, meant_by_key
from assistant.dialogue.wording import THE_NUMBER, THE_SIGN, bad_entry, wanted
from grammar.meaning import Command, Meaning, Place, Shim, Side, Sign, SignName, Unclear
from grammar.offer import Offer
from grammar.parse import parse
from grammar.vocabulary import BY_NAME, TERM_OF_KEY, Station

KEYS: tuple[str, ...] = (*"0123456789", ".", "+", "-", "*", "/", "enter")
"""The keys that are used; Num Lock, the seventeenth, changes nothing."""

SIDE_OF_KEY: dict[str, Station] = {"8": "back", "6": "right", "2": "front", "4": "left"}
"""As the arrows stand on the keys, seen from above."""

TALK = "6"
"""After "/" the talk key, before and after a call in the worst noise: the ears' business."""

LONGEST_ENTRY = 8


def pressed(state: State, event: KeyPressed) -> Turn | Heard:
    """One key: either it only adds to the entry, or it completes something to be answered.

    A number is entered, too, where none is taken: Enter after it does not answer what is asked.
    """
    key, entry, takes = event.key, state.entry, _takes_numbers(state)
    if key not in KEYS:
        return quietly(state, Tone("missed"))
    if entry == "/":
        return _chord(replace(state, entry=""), event)
    if key == "/":
        return quietly(replace(state, entry="" if entry and takes else "/"), Tone("key"))
    if key == "*":
        return _heard(event, "say again", Command("say again"))
    if key == "enter":
        return _enter(state, event)
    if key in SIDE_OF_KEY and offer_now(state).sides:
        side = SIDE_OF_KEY[key]
        return _heard(event, side, Side(side))
    if key in "+-" and _wants_sign(state):
        # A number may follow, for whoever types all of it again.
        return quietly(replace(state, entry=key), Tone("key"))
    if key in "+-" and not (entry and takes):
        quick = _sign_answer(state, key)
        if quick is not None:
            return _heard(event, key, quick)
    if not takes and not (entry or key.isdigit()):
        return quietly(state, Tone("missed"))
    tone = Tone("key" if takes else "missed")
    if key in "+-":
        # A second sign replaces the first: the finger slipped.
        return quietly(replace(state, entry=key + entry.lstrip("+-")), tone)
    if len(entry) >= LONGEST_ENTRY or (key == "." and "." in entry):
        return quietly(state, Tone("missed"))
    return quietly(replace(state, entry=entry + key), tone)


def is_talk(state: State, event: KeyPressed) -> bool:
    """Whether this key completes the talk key."""
    return event.key == TALK and state.entry == "/"


def _chord(state: State, event: KeyPressed) -> Turn | Heard:
    if event.key == TALK:
        # No tone: while it sounds nothing is listened to, and the call begins now.
        return quietly(state)
    names = TERM_OF_KEY.get("/" + event.key, ())
    offered = offer_now(state).commands
    for name in names:
        if name in offered:
            return _heard(event, name, Command(name))
    if names and names[0] in WISHES:
        wish = meant_by_key(state, names)
        return _heard(event, wish, Command(wish))
    return _heard(event, names[0], Command(names[0])) if names else quietly(state, Tone("missed"))


def _enter(state: State, event: KeyPressed) -> Turn | Heard:
    if not state.entry:
        offered = offer_now(state).commands
        forward = [name for name in offered if name in TERM_OF_KEY["enter"]]
        if not forward and wants_number(state):
            what = THE_SIGN if _signs_answer(state) else THE_NUMBER
            told = wanted(what, "skip" in offered, "keypad")
            # The turn stays: what is being said at this moment still answers the question.
            return quietly(state, Tone("missed"), Say(told))
        if not forward:
            return quietly(state, Tone("missed"))
        return _heard(event, forward[0], Command(forward[0]))
    meaning = _entered(state)
    if state.entry in ("+", "-") and _wants_sign(state):
        meaning = Sign("plus" if state.entry == "+" else "minus")
    if isinstance(meaning, Unclear):
        return aside(replace(state, entry=""), bad_entry(), Tone("missed"))
    return _heard(event, state.entry, meaning)


_PLACES: dict[str, Place] = {"+": "above", "-": "below"}


def _entered(state: State) -> Meaning:
    if row_of(state.phase).on_shim is None:
        return parse(state.entry, state.profile.scale)
    # By feel: plus is above the bolt, minus below, no sign as planned. Feet have no such sides.
    place = _PLACES.get(state.entry[0])
    if place is not None and not offer_now(state).shim_places:
        return Unclear(state.entry)
    shim = parse(f"shim {state.entry.lstrip('+-')}", state.profile.scale)
    return replace(shim, place=place) if isinstance(shim, Shim) and shim.total else shim


def _wants_sign(state: State) -> bool:
    """Whether it is asked with which sign a number was meant."""
    return isinstance(state.pending, AskSign) and "yes" not in offer_now(state).commands


def _signs_answer(state: State) -> bool:
    """Whether a sign by itself answers what the phase asks."""
    return row_of(state.phase).on_sign is not None and not state.pending


def _sign_answer(state: State, key: str) -> Meaning | None:
    """A sign key by itself: the sign that is asked for, or yes and no."""
    name: SignName = "plus" if key == "+" else "minus"
    if _signs_answer(state):
        return Sign(name)
    offer = offer_now(state)
    # Where numbers have no sign, minus alone can only be meant as no.
    signs = offer.readings and offer.stations and offer.signed
    refuses = state.pending is not None or ("no" in offer.commands and not signs)
    return Command("no") if key == "-" and refuses else None


def is_sign_here(state: State, key: str) -> bool:
    """Whether a key begins a signed number here, so that it answers nothing by itself."""
    offer = offer_now(state)
    signs = offer.readings and offer.stations and offer.signed
    return key == "-" and signs and state.pending is None


def signs_are_places(offer: Offer) -> bool:
    """Whether a sign before a shim tells its side of the bolt; where minus is no, it does not."""
    return offer.shim and offer.shim_places and "no" not in offer.commands


def legend(state: State) -> tuple[tuple[str, str], ...]:
    """The keys that do something now and what they do, the one that carries on first."""
    offer = offer_now(state)
    rows: dict[str, str] = {}
    if wants_number(state):
        signs = offer.readings and offer.stations and offer.signed
        rows["0-9 . + -" if signs else "0-9 ."] = "number, Enter"
    if signs_are_places(offer):
        rows |= {"+ 0-9": "above", "- 0-9": "below"}
    if offer.sides:
        rows |= SIDE_OF_KEY
    if offer.signs:
        rows |= {"+": "plus", "-": "minus"}
    # Where the screen is too low for all, it is not stop that is cut off.
    for name in sorted(offer.commands, key=OF_THE_VOICE.__contains__):
        key = BY_NAME[name].key
        if not key or is_sign_here(state, key):
            continue
        label = "Enter" if key == "enter" else " ".join(key)
        # One key may stand for several commands: the first that is offered is meant.
        rows.setdefault(label, BY_NAME[name].says[0])
    return tuple(rows.items())


def _takes_numbers(state: State) -> bool:
    offer = offer_now(state)
    return offer.readings or offer.shim or offer.sizes > 0


def _heard(event: KeyPressed, words: str, meaning: Meaning) -> Heard:
    return Heard(event.at, event.turn, "keypad", "accept", words, meaning)
