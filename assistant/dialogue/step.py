"""The one door: a state and an event in, the next state and the effects out."""

from collections.abc import Iterable
from dataclasses import replace
from typing import assert_never

from assistant.dialogue import prompts
from assistant.dialogue.answering import answer
from assistant.dialogue.asking import Out, ask, go, listen, tell
from assistant.dialogue.dial_setting import candidates_of, needs_sign
from assistant.dialogue.keys import pressed
from assistant.dialogue.messages import (
    SURE_TOGETHER,
    ClockSet,
    DeviceBack,
    DeviceLost,
    Effect,
    Event,
    Heard,
    KeyPressed,
    Resumed,
    RoomNoise,
    Say,
    Started,
    Tone,
)
from assistant.dialogue.phases import CALLED, Phase
from assistant.dialogue.state import AskCommand, AskGoOn, AskNoGo, AskReading, State
from grammar.meaning import Command, Meaning, OffScale, Reading, Unclear

MISSES_BEFORE_KEYPAD = 2
"""After so many misses running the keypad is offered."""


class NotStarted(ValueError):
    """The first event of a job is ``Started``, and only the first."""


def step(state: State | None, event: Event) -> tuple[State, tuple[Effect, ...]]:
    """The next state and what to do about it; the state is None before ``Started`` only.

    Total for every event after that: a stale, refused or unclear one changes nothing that
    was measured. Raises ``NotStarted`` when the job has not begun or begins twice.
    """
    if isinstance(event, Started):
        if state is not None:
            raise NotStarted("the job has begun already: one job has one Started event")
        fresh = State(event.job, event.profile, turn=0)
        return go(fresh, Phase.UNPLUGGED)
    if state is None:
        raise NotStarted("the job has not begun: its first event must be Started")
    match event:
        case Resumed():
            return _resumed(state)
        case Heard():
            return _heard(state, event)
        case KeyPressed():
            return _key(state, event)
        case DeviceLost(device=device):
            if device in state.lost:
                return state, ()
            return replace(state, lost=(*state.lost, device)), (Say(prompts.device_lost(device)),)
        case DeviceBack(device=device):
            if device not in state.lost:
                return state, ()
            left = tuple(name for name in state.lost if name != device)
            return replace(state, lost=left), (Say(prompts.device_back(device)),)
        case RoomNoise(too_loud=too_loud):
            if too_loud == state.too_loud:
                return state, ()
            said = prompts.TOO_LOUD if too_loud else prompts.QUIET_AGAIN
            return replace(state, too_loud=too_loud), (Say(said), listen(state))
        case ClockSet():
            return state, (Say(prompts.CLOCK_SET),)
        case _:
            assert_never(event)


def fold(events: Iterable[Event], state: State | None = None) -> State | None:
    """The state after these events; effects are not performed again."""
    for event in events:
        state, _ = step(state, event)
    return state


def _resumed(state: State) -> Out:
    if state.phase is Phase.CLOSED:
        return state, ()
    woken = replace(_clear(state), standing_by=False, stopped=False, entry="", lost=())
    if state.phase is Phase.UNPLUGGED and not state.sweeps:
        return ask(replace(woken, pending=None))
    return ask(replace(woken, pending=AskGoOn()))


def _heard(state: State, heard: Heard) -> Out:
    if heard.turn != state.turn or state.phase is Phase.CLOSED or state.stopped:
        return state, ()
    if state.standing_by:
        return _standing_by(state, heard)
    meaning = heard.meaning
    if heard.outcome == "reject" or isinstance(meaning, Unclear | OffScale):
        # Where others talk, to hear a thing twice is no proof.
        return _missed(replace(state, half_heard=None, half_doubt=1.0))
    if heard.outcome == "ask":
        return _doubtful(state, heard)
    after, effects = answer(_clear(state), meaning, heard)
    return after, (Tone("heard"), *effects)


def _standing_by(state: State, heard: Heard) -> Out:
    if heard.outcome == "accept" and isinstance(heard.meaning, Command):
        if heard.meaning.name == "go ahead":
            return ask(replace(state, standing_by=False), prompts.GOING_AHEAD, Tone("heard"))
        if heard.meaning.name == "stop":
            woken = replace(_clear(state), standing_by=False)
            return ask(replace(woken, pending=AskCommand(heard.meaning)), "", Tone("heard"))
    return state, ()


def _missed(state: State) -> Out:
    """Not understood: a tone, then words; after two running the keypad is offered."""
    missed = replace(state, misses=state.misses + 1)
    if missed.misses == MISSES_BEFORE_KEYPAD:
        return tell(missed, prompts.MISSED_TWICE, Tone("missed"))
    return tell(missed, prompts.MISSED, Tone("missed"))


def _doubtful(state: State, heard: Heard) -> Out:
    """Heard, but not surely: a reading or a command is asked; an answer is asked for again.

    The same heard twice running is taken when both together are as sure as one clear call:
    whoever is asked "done?" may well say "done" once more, and a voice that is a little
    strange would otherwise never get past a yes.
    """
    if isinstance(heard.meaning, Unclear | OffScale):
        return _missed(state)
    meaning = _placed(state, heard.meaning)
    again = meaning == state.half_heard
    doubt = (1.0 - heard.confidence) * (state.half_doubt if again else 1.0)
    # To ask "say again?" would be answered by saying it again.
    harmless = heard.meaning == Command("say again")
    if harmless or (again and doubt <= SURE_TOGETHER):
        after, effects = answer(_clear(state), heard.meaning, heard)
        return after, (Tone("heard"), *effects)
    state = replace(state, half_heard=meaning, half_doubt=doubt)
    plain, meaning = replace(state, misses=0), heard.meaning
    reading = isinstance(meaning, Reading) and state.phase in CALLED
    if reading and not needs_sign(state.profile) and doubt <= SURE_TOGETHER:
        # Without a sign there is nothing to ask, where the rig has none.
        after, effects = answer(_clear(state), meaning, heard)
        return after, (Tone("heard"), *effects)
    open_leaf = isinstance(state.pending, AskNoGo)
    candidates = candidates_of(state, heard) if reading and not open_leaf else ()
    if candidates:
        return ask(replace(plain, pending=AskReading(candidates)), "", Tone("asked"))
    if isinstance(meaning, Command) and state.pending is None and meaning.name not in ("yes", "no"):
        return ask(replace(plain, pending=AskCommand(meaning)), "", Tone("asked"))
    if isinstance(meaning, Reading) and not meaning.signed:
        after, effects = answer(plain, meaning, heard)
        return after, (Tone("asked"), *effects)
    return _missed(state)


def _clear(state: State) -> State:
    """After something clear: no misses, nothing half heard."""
    return replace(state, misses=0, half_heard=None, half_doubt=1.0)


def _placed(state: State, meaning: Meaning) -> Meaning:
    """A reading with the station that it is for, so that it compares with one that names it."""
    if isinstance(meaning, Reading) and meaning.station is None and not meaning.correction:
        return replace(meaning, station=state.awaited())
    return meaning


def _key(state: State, event: KeyPressed) -> Out:
    if state.phase is Phase.CLOSED or state.stopped:
        return state, ()
    done = pressed(state, event)
    if not isinstance(done, Heard):
        return done
    return _heard(replace(state, entry=""), replace(done, turn=state.turn))
