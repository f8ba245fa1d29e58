"""The one door: a state and an event in, the next state and the effects out.

It alone puts the question, once for each event that wants one.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import assert_never

from assistant.dialogue.answers import Answerable, answer
from assistant.dialogue.dial_setting import needs_sign
from assistant.dialogue.facts import Hearing
from assistant.dialogue.following import followed
from assistant.dialogue.job import begins, decided, row_of
from assistant.dialogue.keys import pressed
from assistant.dialogue.messages import (
    SURE_TOGETHER,
    TURNED_DOWN,
    ClockSet,
    DeviceBack,
    DeviceLost,
    Event,
    Heard,
    KeyPressed,
    LongSilence,
    Resumed,
    RoomNoise,
    Say,
    Started,
    Tone,
)
from assistant.dialogue.pending import asked_about
from assistant.dialogue.procedures import introduction
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.introduction import StartingPoint
from assistant.dialogue.procedures.retighten import held_back
from assistant.dialogue.procedures.safety import Safety
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.proof import Out, half_heard, not_ours, taken
from assistant.dialogue.questions import asked_now, listen, offer_now, question
from assistant.dialogue.readings import beyond_asked, candidates_of
from assistant.dialogue.rows import BY_HAND
from assistant.dialogue.state import (
    AskCommand,
    AskGoOn,
    AskNoGo,
    AskReading,
    AskUntouched,
    State,
)
from assistant.dialogue.turn import Turn, aside, ask
from assistant.dialogue.wording import (
    BEYOND_DIAL,
    CLOCK_SET,
    GOING_AHEAD,
    MISSED,
    MISSED_TWICE,
    MISSED_TYPED,
    MISSED_TYPED_TWICE,
    QUIET_AGAIN,
    TOO_LOUD,
    device_back,
    device_lost,
    finer_than_dial,
)
from grammar.meaning import Command, Meaning, OffScale, Reading, Unclear

MISSES_BEFORE_KEYPAD = 2
"""After so many misses running the keypad is offered."""

TALK_TONES = 2
"""So many utterances of talk running draw a tone: one may have been a call, the next the same call
once more. Whoever is told "Say again?" and then is taken for talk would else meet silence."""


class NotStarted(ValueError):
    """The first event of a job is ``Started``, and only the first."""


def step(state: State | None, event: Event) -> Out:
    """The next state and what to do about it; the state is None before ``Started`` only.

    Total for every event after that: a stale, refused or unclear one changes nothing that
    was measured. Raises ``NotStarted`` when the job has not begun or begins twice.
    """
    if isinstance(event, Started):
        if state is not None:
            raise NotStarted("the job has begun already: one job has one Started event")
        begun = State(
            event.job, event.profile, Safety.UNPLUGGED, turn=0,
            short=event.short, quiet=event.quiet, last=event.last,
        )  # fmt: skip
        return put(begins(begun))
    if state is None:
        raise NotStarted("the job has not begun: its first event must be Started")
    match event:
        case Resumed():
            quiet = state.quiet if event.quiet is None else event.quiet
            return _resumed(replace(state, quiet=quiet), event.day)
        case Heard():
            return _heard(followed(state, event), event)
        case KeyPressed():
            return _key(followed(state, event), event)
        case DeviceLost() | DeviceBack():
            return _device(state, event)
        case RoomNoise(too_loud=too_loud):
            if too_loud == state.too_loud:
                return state, ()
            said = TOO_LOUD if too_loud else QUIET_AGAIN
            return replace(state, too_loud=too_loud), (Say(said), listen(state))
        case ClockSet():
            return state, (Say(CLOCK_SET),)
        case LongSilence():
            return _long_silence(state)
        case _:
            assert_never(event)


def fold(events: Iterable[Event], state: State | None = None) -> State | None:
    """The state after these events; effects are not performed again."""
    for event in events:
        state, _ = step(state, event)
    return state


def introduce(known: Sequence[str], kinds: Sequence[StartingPoint]) -> Out:
    """Before any job: the first question to somebody who named no machine."""
    return put(introduction.begin(known, kinds))


def put(turn: Turn, tone: Tone | None = None, *, before: State | None = None) -> Out:
    """The state after a turn, its question put and listened for; the tone sounds first.

    ``before``: the state that was answered, so that nothing that is loose is left behind.

    The turn is counted up here and only here: what was heard before this question was
    put carries an older turn and is dropped.
    """
    turn = decided(turn)
    if before is not None:
        turn = held_back(before, turn, row_of(turn.enter or turn.state.phase))
    state, effects = turn.state, turn.effects
    if tone is not None:
        effects = (tone, *effects)
    if turn.enter is not None:
        state = replace(_heard_well(state), phase=turn.enter, pending=None)
        effects = (*effects, *row_of(state.phase).steps_of(state))
    state = replace(state, awaited=row_of(state.phase).station(state))
    if turn.put == "nothing":
        return state, effects
    asks = question(state) if turn.enter is not None else asked_now(state)
    text = turn.said if turn.put in ("words", "aside") else f"{turn.said} {asks}".strip()
    repeat = text
    if turn.put == "aside":
        # What goes before the question is repeated with it as long as it is this question.
        repeat = state.to_repeat if state.to_repeat.endswith(asks) else asks
    asked = replace(state, turn=state.turn + 1, last_said=text, to_repeat=repeat, entry="")
    return asked, (*effects, Say(text), listen(asked))


def _resumed(state: State, day: str) -> Out:
    if state.phase is Close.CLOSED:
        return state, ()
    woken = replace(_clear(state), standing_by=False, stopped=False, entry="", lost=())
    fresh = state.phase in (Safety.UNPLUGGED, Safety.ALL) and not state.sweeps
    return put(ask(replace(woken, pending=None if fresh else AskGoOn(day=day))))


def _long_silence(state: State) -> Out:
    """Readings of one sweep with a night between them: has nobody touched the machine?"""
    open_now = state.pending.beneath if isinstance(state.pending, AskCommand) else state.pending
    asked = isinstance(open_now, AskGoOn | AskUntouched)
    if state.phase is not Sweeping.SWEEP or not state.readings or asked or state.stopped:
        return state, ()
    doubted = replace(_clear(state), pending=AskUntouched(), entry="")
    # Whoever has it stand by is asked when they go ahead.
    return (doubted, ()) if state.standing_by else put(ask(doubted))


def _device(state: State, event: DeviceLost | DeviceBack) -> Out:
    device, lost = event.device, isinstance(event, DeviceLost)
    if lost == (device in state.lost):
        return state, ()
    if lost:
        return replace(state, lost=(*state.lost, device)), (Say(device_lost(device)),)
    found = replace(state, lost=tuple(name for name in state.lost if name != device))
    back = Say(device_back(device))
    silent = state.phase is Close.CLOSED or state.stopped or state.standing_by
    if device not in ("speaker", "voice") or silent:
        return found, (back,)
    # Whoever stands at the machine has not heard what is asked; its turn stays as it is.
    return found, (back, Say(asked_now(found)))


# -- what is heard -----------------------------------------------------------------------


def _heard(state: State, heard: Heard) -> Out:
    if heard.turn != state.turn or state.phase is Close.CLOSED or state.stopped:
        return state, ()
    if heard.source != "voice" or heard.outcome not in TURNED_DOWN:
        # Noise alone takes the keys from nobody's hand.
        state = replace(state, by=heard.source)
    if state.standing_by:
        return _standing_by(state, heard)
    if heard.after_quiet:
        state = _heard_well(state)
    if heard.outcome == "talk":
        return _talk(not_ours(_not_twice(state)))
    meaning = heard.meaning
    if isinstance(meaning, OffScale):
        return _off_scale(state, meaning, heard)
    if heard.outcome == "reject" or isinstance(meaning, Unclear):
        return _missed(not_ours(_not_twice(state)), heard)
    if isinstance(meaning, Command) and meaning.name in offer_now(state).instead:
        return _another_word(state, heard, meaning)
    if heard.outcome == "ask":
        return _doubtful(state, heard, meaning)
    return _taken(state, heard, meaning, again=_placed(state, meaning) == state.hearing.half_heard)


def _taken(state: State, heard: Heard, meaning: Answerable, *, again: bool) -> Out:
    clear = _clear(state)
    out = put(answer(clear, meaning, heard), Tone("heard"), before=clear)
    return taken(state, heard, out, again=again)


def _standing_by(state: State, heard: Heard) -> Out:
    if heard.outcome == "accept" and isinstance(heard.meaning, Command):
        if heard.meaning.name == "go ahead":
            return put(ask(replace(state, standing_by=False), GOING_AHEAD), Tone("heard"))
        if heard.meaning.name == "stop":
            woken = replace(_clear(state), standing_by=False)
            return put(
                ask(replace(woken, pending=asked_about(woken, heard.meaning))), Tone("heard")
            )
    return state, ()


def _off_scale(state: State, called: OffScale, heard: Heard) -> Out:
    """A number that the dial cannot show: which, and it is called again.

    Whoever calls the same one twice running may know the dial better than its profile does: it is
    asked about, as it is of those who type it.
    """
    if called.reason == "finer":
        finer = finer_than_dial(called.value, called.signed)
        return put(aside(_clear(state), finer), Tone("asked"))
    insisted = Reading(called.value, called.signed, called.station)
    pending = state.pending
    if isinstance(pending, AskReading):
        # The one that is asked about, once more, is a yes; of another nothing is proven.
        if _placed(state, insisted) == _placed(state, pending.candidates[0]):
            return _taken(state, heard, insisted, again=True)
    elif pending is None and state.hearing.half_heard == called:
        asked = beyond_asked(_clear(state), insisted, heard)
        if asked is not None:
            return put(asked, Tone("asked"))
    told = replace(state, hearing=Hearing(half_heard=called))
    return put(aside(told, BEYOND_DIAL), Tone("asked"))


def _not_twice(state: State) -> State:
    """Where others talk, hearing a thing twice proves nothing."""
    return replace(state, hearing=replace(state.hearing, half_heard=None, half_doubt=1.0))


def _talk(state: State) -> Out:
    """Likely nobody's call: a tone, in case it was one, and soon no more until it is over."""
    known = state.hearing.talk >= TALK_TONES or state.hearing.misses > MISSES_BEFORE_KEYPAD
    talk = replace(state, hearing=replace(state.hearing, talk=state.hearing.talk + 1))
    return talk, () if known else (Tone("missed"),)


def _missed(state: State, heard: Heard) -> Out:
    """Not understood: a tone, then words; the second time running the keypad is offered.

    After that it is a tone alone for what may be talk, since that goes on and on. Where one word
    carries on and a voice cannot get it across, it is asked as a question: "yes" may be
    understood where "zeroed" is not.
    """
    misses = state.hearing.misses + 1
    missed = replace(state, hearing=replace(state.hearing, misses=misses))
    typed = heard.source == "text"
    once, twice = (MISSED_TYPED, MISSED_TYPED_TWICE) if typed else (MISSED, MISSED_TWICE)
    may_be_talk = heard.outcome == "reject" and heard.source == "voice"
    if misses > MISSES_BEFORE_KEYPAD and may_be_talk:
        # The turn counts on, as it did when there were words: records of then go as they went.
        told = replace(missed, turn=missed.turn + 1)
        return told, (Tone("missed"), listen(told))
    if misses != MISSES_BEFORE_KEYPAD:
        return put(aside(missed, once), Tone("missed"))
    wanted = _word_wanted(state)
    if wanted is not None:
        return put(ask(replace(missed, pending=wanted), twice), Tone("missed"))
    return put(aside(missed, twice), Tone("missed"))


def _word_wanted(state: State) -> AskCommand | None:
    """The question for the word that alone carries on here, of something that hands have done."""
    commands = offer_now(state).commands
    alone = state.pending is None and row_of(state.phase).on_reading is None
    name = commands[0] if commands else ""
    return AskCommand(Command(name)) if alone and name in BY_HAND else None


def _another_word(state: State, heard: Heard, said: Command) -> Out:
    """Agreed to in another word than the one that is wanted: it is told; nothing else is done.

    Whoever was not understood before, or says it again, is asked for that word: a yes answers it.
    """
    told = replace(state, hearing=Hearing(misses=1))
    wanted = _word_wanted(state) if state.hearing.misses else None
    turn = answer(told, said, heard) if wanted is None else ask(replace(told, pending=wanted))
    if heard.outcome == "ask":
        return half_heard(state, heard, put(turn, Tone("asked")), again=False, asks=False)
    return taken(state, heard, put(turn, Tone("heard")), again=False)


def _doubtful(state: State, heard: Heard, understood: Answerable) -> Out:
    """Heard, but not surely: a reading or a command is asked; an answer is asked for again.

    The same heard twice running is taken when both together are as sure as one clear call:
    whoever is asked "done?" may well say "done" once more, and a voice that is a little
    strange would otherwise never get past a yes.
    """
    meaning = _placed(state, understood)
    again = meaning == state.hearing.half_heard
    doubt = (1.0 - heard.confidence) * (state.hearing.half_doubt if again else 1.0)
    row, needs = row_of(state.phase), needs_sign(state.profile)
    reading = isinstance(understood, Reading) and row.on_reading is not None and row.doubt == "call"
    sure = doubt <= SURE_TOGETHER
    # To ask "say again?" would be answered by saying it again.
    if understood == Command("say again") or (again and sure):
        return _taken(state, heard, understood, again=again)
    half = replace(state, hearing=replace(state.hearing, half_heard=meaning, half_doubt=doubt))
    if reading and not needs and sure:
        # Without a sign there is nothing to ask, where the rig has none.
        return _taken(state, heard, understood, again=again)
    asked = _asked_about(half, heard, understood, reading=reading)
    out = _missed(half, heard) if asked is None else put(asked, Tone("asked"))
    return half_heard(state, heard, out, again=again, asks=asked is not None)


def _asked_about(
    state: State, heard: Heard, understood: Answerable, *, reading: bool
) -> Turn | None:
    """The question whether it is what was heard; None where it is asked for again."""
    plain = _heard_well(state)
    if reading and not isinstance(state.pending, AskNoGo | AskGoOn | AskUntouched):
        candidates = candidates_of(state, heard)
        if candidates:
            return ask(replace(plain, pending=AskReading(candidates)))
    answers = isinstance(understood, Command) and understood.name in ("yes", "no")
    if isinstance(understood, Command) and state.pending is None and not answers:
        return ask(replace(plain, pending=AskCommand(understood)))
    if isinstance(understood, Reading) and not understood.signed:
        return answer(plain, understood, heard)
    return None


def _clear(state: State) -> State:
    """After something clear: no misses, nothing half heard."""
    return replace(state, hearing=Hearing())


def _heard_well(state: State) -> State:
    """No misses any more; what was half heard stays so."""
    return replace(state, hearing=replace(state.hearing, misses=0, talk=0))


def _placed(state: State, meaning: Meaning) -> Meaning:
    """A reading with the station that it is for, so that it compares with one that names it."""
    if isinstance(meaning, Reading) and meaning.station is None and not meaning.correction:
        return replace(meaning, station=state.awaited)
    return meaning


# -- keys --------------------------------------------------------------------------------


def _key(state: State, event: KeyPressed) -> Out:
    if state.phase is Close.CLOSED or state.stopped:
        return state, ()
    state = replace(state, by="keypad")
    match pressed(state, event):
        case Heard() as heard:
            return _heard(replace(state, entry=""), replace(heard, turn=state.turn))
        case Turn() as turn:
            return put(turn)
