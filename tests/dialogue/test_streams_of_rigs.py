"""Any stream of events at any rig: nothing raises, somebody listens, what is offered is handled."""

import random
from dataclasses import replace
from decimal import Decimal

from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.devices.text.lines import event_of
from assistant.dialogue.keys import KEYS
from assistant.dialogue.machine import Instrument, Profile
from assistant.dialogue.messages import Event, Heard, KeyPressed, Listen, Resumed, Started
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.questions import offer_now
from assistant.dialogue.state import AskCommand, State
from assistant.dialogue.step import fold, step
from assistant.dialogue.view import view
from assistant.metrology.lengths import Length
from assistant.records.journal.codec import decode, encode
from grammar.meaning import Reading, Unclear
from grammar.parse import parse
from grammar.sentences import sentences
from tests.dialogue.test_squares import SQUARE
from tests.dialogue.typed import AT, GAP, LEVER, READY, TOUCH
from tests.grammar.languages import sample

RIGS: tuple[Profile, ...] = (
    GAP,
    SQUARE,
    TOUCH,
    LEVER,
    replace(GAP, instrument=Instrument(gauges=(Decimal(5), Decimal(20)))),
    Profile(instrument=Instrument(face="continuous", per_turn=20, counter=True)),
    Profile(instrument=Instrument(face="continuous", higher="minus", lever_deg=Decimal(30))),
    replace(SQUARE, sweep_diameter=Length.of(3, "in"), stock=()),
)

WORDS = (
    "yes", "no", "done", "locked", "zeroed", "skip", "disregard", "next", "correction", "ten",
    "zero", "fifteen", "twelve", "front twelve", "right nine", "correction four", "minus four",
    "front", "back", "left", "right", "plus", "minus", "ninety seven", "settle", "finish",
    "shim three above", *READY,
)  # fmt: skip


def _event(kind: int, seed: int, state: State) -> Event:
    chance = random.Random(seed)
    match kind:
        case 0:
            return event_of(chance.choice(WORDS), AT, state.turn, state.profile.scale)
        case 1 | 2 | 3:
            words = sample(sentences(offer_now(state)), chance)
            event = event_of(words, AT, state.turn, state.profile.scale)
            if kind == 3 and isinstance(event, Heard):
                return replace(event, outcome="ask", confidence=chance.choice((0.4, 0.95)))
            return event
        case 4:
            return KeyPressed(AT, state.turn, chance.choice(KEYS))
        case _:
            return Resumed(AT)


streams = st.lists(
    st.tuples(st.sampled_from((0, 1, 1, 1, 2, 3, 4, 4, 5)), st.integers(0, 10**6)), max_size=60
)


@settings(max_examples=120, deadline=None)
@given(st.sampled_from(RIGS), st.booleans(), streams)
def test_any_stream_at_any_rig_keeps_going(
    profile: Profile, ready: bool, stream: list[tuple[int, int]]
) -> None:
    events: list[Event] = [Started(AT, "rig", profile)]
    state, _ = step(None, events[0])
    for line in READY if ready else ():
        events.append(event_of(line, AT, state.turn, profile.scale))
        state, _ = step(state, events[-1])
    for kind, seed in stream:
        event = _event(kind, seed, state)
        events.append(event)
        before = state
        state, effects = step(state, event)
        listens = [effect for effect in effects if isinstance(effect, Listen)]
        if state.turn > before.turn and state.phase is not Close.CLOSED and not state.stopped:
            assert listens
            assert listens[-1].offer == offer_now(state)
        assert view(state).headline
        if state.phase is Close.CLOSED or state.stopped:
            break
    assert fold(events) == state
    assert decode(encode(state, State), State) == state


@settings(max_examples=120, deadline=None)
@given(st.sampled_from(RIGS), streams, st.integers(0, 10**6))
def test_everything_that_a_rig_offers_is_understood_and_handled(
    profile: Profile, stream: list[tuple[int, int]], seed: int
) -> None:
    state, _ = step(None, Started(AT, "rig", profile))
    for line in READY:
        state, _ = step(state, event_of(line, AT, state.turn, profile.scale))
    for kind, each in stream:
        if kind in (1, 2):
            after, _ = step(state, _event(kind, each, state))
            # What is asked before it is done has tests of its own.
            if not isinstance(after.pending, AskCommand) and after.phase is not Close.CLOSED:
                state = after
    offer = offer_now(state)
    words = sample(sentences(offer), random.Random(seed))
    meaning = parse(words, offer.scale)
    assert not isinstance(meaning, Unclear), words
    assert offer.allows(meaning), words
    after, effects = step(state, event_of(words, AT, state.turn, offer.scale))
    assert effects
    if not isinstance(meaning, Reading) and words != "say again":
        assert "Not now" not in after.last_said, words
