"""What a state is waiting for: its question in words, and what is listened for."""

from dataclasses import replace

from assistant.dialogue.dial_setting import as_read
from assistant.dialogue.job import row_of
from assistant.dialogue.messages import Listen
from assistant.dialogue.pending import LOOSE, open_question
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures import introduction
from assistant.dialogue.state import State
from assistant.dialogue.wording import STOPPED
from grammar.offer import Offer
from grammar.scale import Scale


def question(state: State) -> str:
    """The words of what the state is waiting for."""
    if state.pending is not None:
        return open_question(state.pending).words(state, state.pending)
    return row_of(state.phase).question(state)


def coaching(state: State) -> str:
    """What is still to be moved after the last reading; it replaces the order that was given."""
    coach = row_of(state.phase).coaching
    return coach(state) if coach is not None and state.pending is None else ""


def asked_now(state: State) -> str:
    """What is to be done or answered next."""
    return coaching(state) or question(state)


def in_full(state: State) -> str:
    """What was asked last, for somebody who did not get it: its question in the long form."""
    briefly = question(state)
    if not state.short or not state.to_repeat.endswith(briefly):
        return state.to_repeat
    full = row_of(state.phase).in_full if state.pending is None else None
    asked = question(replace(state, short=False)) if full is None else full(state)
    return f"{state.to_repeat.removesuffix(briefly)}{asked}"


def listen(state: State) -> Listen:
    """What to listen for in this state."""
    return Listen(state.turn, str(state.phase), state.awaited, offer_now(state))


def offer(phase: Phase, scale: Scale) -> Offer:
    """What is listened for in a phase at this indicator, whatever the job."""
    return row_of(phase).offer(scale)


def offer_now(state: State) -> Offer:
    """The offer of the phase, narrowed or widened by a question that is open."""
    # Here the dial is known: of tenths those that it shows.
    now = replace(_offer(state), any_tenths=False)
    as_dial = row_of(state.phase).as_dial
    if state.profile.method == "touch" and as_dial:
        # No number is ever read, and the noise of none is measured.
        commands = tuple(name for name in now.commands if name != "settle")
        return replace(now, commands=commands, readings=False)
    # A tolerance is a plain size, whatever the dial is like, and a sign test wants the sign.
    return as_read(state.profile, now) if as_dial else now


def _offer(state: State) -> Offer:
    if state.standing_by:
        return Offer(state.profile.scale, ("go ahead", "stop"))
    if state.pending is not None:
        return open_question(state.pending).offer(state, state.pending)
    return row_of(state.phase).offer_now(state)


def wants_number(state: State) -> bool:
    """Whether a number does something now, and is not only listened for to be refused."""
    now = offer_now(state)
    # Where the dial is set to zero a number is only heard to be told so.
    refused = now.zeroing or (row_of(state.phase).loose and state.awaited is None)
    return bool(now.sizes or now.shim or (now.readings and not refused))


def stopped_words(state: State) -> str:
    """The last words of a job that was stopped."""
    if before_job(state):
        return introduction.STOPPED
    return f"{STOPPED} {LOOSE}" if state.loosened else STOPPED


def before_job(state: State) -> bool:
    """Whether it is still being asked which machine it is; none of that is in the record."""
    return isinstance(state.phase, introduction.Introducing)
