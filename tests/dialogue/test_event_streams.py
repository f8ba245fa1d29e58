"""Properties of any stream of events: nothing raises, nothing is lost, nothing is taken loosely."""

import random
from collections.abc import Callable
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.devices.text.lines import event_of
from assistant.dialogue.job import row_of
from assistant.dialogue.keys import KEYS
from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import (
    ClockSet,
    DeviceBack,
    DeviceLost,
    Event,
    Heard,
    KeyPressed,
    Listen,
    Resumed,
    RoomNoise,
    Started,
)
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.questions import offer_now
from assistant.dialogue.state import State, Taken
from assistant.dialogue.step import fold, step
from grammar.meaning import Reading, Unclear
from grammar.parse import parse
from grammar.sentences import sentences
from tests.dialogue.typed import AT, FRONT_HIGH_SIX, LEVEL, READY, RIGHT_HIGH_SIX
from tests.grammar.languages import sample

Maker = Callable[[State], Event]
"""An event for the state that it meets, so that its turn can be right."""

ROADS = (
    "yes", "yes", "locked", "zeroed", "done", "plus three", "minus two and a half", "zero",
    "correction plus six", "disregard", "front plus nine", "left minus four", "skip", "no",
    "settle", "shim three above", "plus", "next", "correction", "finish", "go ahead", "stop",
    *READY, *FRONT_HIGH_SIX, *RIGHT_HIGH_SIX, *LEVEL,
)  # fmt: skip
"""Lines that lead somewhere."""


def _line(words: str) -> Maker:
    return lambda state: event_of(words, AT, state.turn, state.profile.scale)


def _offered(seed: int) -> Maker:
    """Something that is listened for now, whatever it is."""

    def make(state: State) -> Event:
        words = sample(sentences(offer_now(state)), random.Random(seed))
        return event_of(words, AT, state.turn, state.profile.scale)

    return make


def _doubtful(seed: int, outcome: str) -> Maker:
    def make(state: State) -> Event:
        heard = _offered(seed)(state)
        assert isinstance(heard, Heard)
        judged = "ask" if outcome == "ask" else "reject"
        return replace(heard, source="voice", outcome=judged, confidence=0.4)  # type: ignore[arg-type]

    return make


def _stale(words: str, age: int) -> Maker:
    return lambda state: event_of(words, AT, state.turn - age, state.profile.scale)


makers: st.SearchStrategy[Maker] = st.one_of(
    st.sampled_from(ROADS).map(_line),
    st.sampled_from(ROADS).map(_line),
    st.integers(0, 10**6).map(_offered),
    st.builds(_doubtful, st.integers(0, 10**6), st.sampled_from(["ask", "reject"])),
    st.builds(_stale, st.sampled_from(ROADS), st.integers(1, 5)),
    st.text(max_size=30).filter(lambda text: bool(text.strip())).map(_line),
    st.sampled_from([*KEYS, "f1", ""]).map(
        lambda key: lambda state: KeyPressed(AT, state.turn, key)
    ),
    st.sampled_from(["microphone", "speaker", "voice"]).map(
        lambda device: lambda _: DeviceLost(AT, device, "unplugged")  # type: ignore[arg-type]
    ),
    st.just(lambda _: DeviceBack(AT, "microphone")),
    st.booleans().map(lambda loud: lambda _: RoomNoise(AT, loud)),
    st.just(lambda _: Resumed(AT)),
    st.just(lambda _: ClockSet(AT, -3600.0)),
)

streams = st.lists(makers, max_size=60)


def _begin() -> State:
    return step(None, Started(AT, "stream", Profile()))[0]


def _under_way(count: int) -> State:
    """Some way into a job, so that short streams reach deep phases too."""
    state = _begin()
    road = (*READY, "zeroed", *FRONT_HIGH_SIX, "done", "done", "locked", "zeroed", *RIGHT_HIGH_SIX)
    for line in road[:count]:
        state, _ = step(state, event_of(line, AT, state.turn, state.profile.scale))
    return state


starts = st.integers(0, 19).map(_under_way)


def _standing(state: State) -> list[Taken]:
    """Without the leaf that did not go: it narrows a reading, which stays the same one."""
    kept = [taken for sweep in state.sweeps for taken in sweep.readings]
    every = (*kept, *state.readings)
    return [replace(taken, no_go=None) for taken in every if not taken.zeroed]


@settings(max_examples=150, deadline=None)
@given(starts, streams)
def test_any_stream_of_events_keeps_the_rules(state: State, stream: list[Maker]) -> None:
    for make in stream:
        before = state
        event = make(before)
        state, effects = step(before, event)
        _nothing_is_lost(before, state)
        _nothing_is_taken_loosely(before, state)
        _somebody_listens(
            before, state, [effect for effect in effects if isinstance(effect, Listen)]
        )
        if isinstance(event, Heard | KeyPressed) and event.turn != before.turn:
            assert not isinstance(event, Heard) or (state == before and effects == ())


def _nothing_is_lost(before: State, after: State) -> None:
    kept = (*_standing(after), *(replace(undone.taken, no_go=None) for undone in after.undone))
    for taken in _standing(before):
        assert taken in kept


def _nothing_is_taken_loosely(before: State, after: State) -> None:
    standing = _standing(before)
    new = [taken for taken in _standing(after) if taken not in standing]
    if new:
        assert len(new) == 1
        if before.phase is Sweeping.SWEEP:
            assert _no_zero(before) or before.readings[0].zeroed
        else:
            # After a result only a correction is taken: it replaces one of that sweep.
            last = before.sweeps[-1].readings
            replaced = [undone.taken for undone in after.undone if undone.reason == "correction"]
            assert [taken.station for taken in replaced] == [new[0].station]
            assert replaced[0] in last
    if row_of(after.phase).loose or after.phase is Sweeping.ZERO:
        assert after.readings == ()
    if after.phase is Sweeping.SWEEP:
        assert _no_zero(after) or after.readings[0].zeroed
        zeros = [taken.zeroed for taken in after.readings].count(True)
        assert zeros == (0 if _no_zero(after) else 1)


def _no_zero(state: State) -> bool:
    """A square has no zero to set: its first leaf is a reading like the others."""
    return state.profile.method == "square"


def _somebody_listens(before: State, after: State, listens: list[Listen]) -> None:
    assert after.turn >= before.turn
    if after.turn > before.turn and after.phase is not Close.CLOSED and not after.stopped:
        assert listens
        assert listens[-1].turn == after.turn
        assert listens[-1].offer == offer_now(after)


@settings(max_examples=60, deadline=None)
@given(streams, st.integers(0, 60))
def test_folding_any_part_and_then_the_rest_gives_the_same(stream: list[Maker], cut: int) -> None:
    started = Started(AT, "stream", Profile())
    state, _ = step(None, started)
    events: list[Event] = [started]
    for make in stream:
        event = make(state)
        events.append(event)
        state, _ = step(state, event)
    first = fold(events[:cut])
    assert fold(events[cut:], first) == state
    assert fold(events) == state


@settings(max_examples=200, deadline=None)
@given(starts, st.integers(0, 10**9))
def test_everything_that_is_offered_is_understood_and_handled(state: State, seed: int) -> None:
    offer = offer_now(state)
    words = sample(sentences(offer), random.Random(seed))
    meaning = parse(words, offer.scale)
    assert not isinstance(meaning, Unclear), words
    assert offer.allows(meaning), words
    after, effects = step(state, event_of(words, AT, state.turn, offer.scale))
    assert effects
    said = after.last_said
    if not isinstance(meaning, Reading):
        assert "Not now" not in said, words
