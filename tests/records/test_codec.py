"""Every event survives the record, and damage to a row is a named error."""

import json
import math
from dataclasses import MISSING, dataclass, fields
from decimal import Decimal
from typing import Any, get_args

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Event, Heard, KeyPressed, Resumed, RoomNoise, Started
from assistant.dialogue.state import State
from assistant.dialogue.step import step
from assistant.metrology.lengths import Length, parse_length
from assistant.records.journal.codec import (
    CodecError,
    DamagedEvent,
    decode,
    encode,
    kind_of,
    read_event,
    write_event,
)
from grammar.meaning import Command, Meaning, Reading
from tests.records.jobs import rehearsed
from tests.records.values import any_event, any_of

EVENT_CLASSES = get_args(Event)


@pytest.mark.parametrize("cls", EVENT_CLASSES, ids=lambda cls: cls.__name__)
@settings(max_examples=50, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_every_class_of_event_comes_back_as_it_was(cls: type, data: st.DataObject) -> None:
    event = data.draw(any_of(cls))
    text = write_event(event)
    assert read_event(text, 1) == event
    assert type(read_event(text, 1)) is cls


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(any_event)
def test_a_row_is_one_line_of_ascii_json(event: Event) -> None:
    text = write_event(event)
    assert text.isascii()
    assert "\n" not in text
    # RFC 8259 knows no NaN and no Infinity: json.loads calls this for them only.
    json.loads(text, parse_constant=pytest.fail)


@pytest.mark.parametrize("seed", [1, 2])
def test_every_state_of_a_job_comes_back_as_it_was(seed: int) -> None:
    state: State | None = None
    for event in rehearsed(seed).events:
        state, _ = step(state, event)
        text = json.dumps(encode(state, State), allow_nan=False)
        assert decode(json.loads(text), State) == state


def test_decimals_keep_their_trailing_zeros_and_their_sign() -> None:
    for text in ("6", "6.0", "-0", "0.50", "1E+2", "1E-7"):
        back = decode(encode(Decimal(text), Decimal), Decimal)
        assert str(back) == text


def test_the_kind_of_every_event_is_fixed() -> None:
    """A record on disk names these: a class may be renamed only with a migration."""
    assert sorted(kind_of(cls) for cls in EVENT_CLASSES) == [
        "clock_set",
        "device_back",
        "device_lost",
        "heard",
        "key_pressed",
        "long_silence",
        "resumed",
        "room_noise",
        "started",
    ]
    assert sorted(kind_of(cls) for cls in get_args(Meaning)) == [
        "command",
        "off_scale",
        "reading",
        "shim",
        "side",
        "sign",
        "size",
        "unclear",
        "wish",
    ]


def test_a_row_looks_as_it_always_did() -> None:
    event = Heard("2031-05-04T08:00:00Z", 3, "voice", "accept", "plus six",
                  Reading(Decimal("6.5"), True, "back"), 0.5)  # fmt: skip
    assert json.loads(write_event(event)) == {
        "kind": "heard",
        "at": "2031-05-04T08:00:00Z",
        "turn": 3,
        "source": "voice",
        "outcome": "accept",
        "words": "plus six",
        "meaning": {
            "kind": "reading",
            "value": "6.5",
            "signed": True,
            "station": "back",
            "unit": None,
            "correction": False,
            "doubtful_unit": False,
        },
        "confidence": 0.5,
        "alternatives": [],
        "after_quiet": False,
        "phase": "",
        "told": None,
    }


@pytest.mark.parametrize("cls", EVENT_CLASSES, ids=lambda cls: cls.__name__)
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_keys_that_an_older_version_did_not_write_take_their_default(
    cls: Any, data: st.DataObject
) -> None:
    row = json.loads(write_event(data.draw(any_of(cls))))
    for field in fields(cls):
        if field.default is not MISSING:
            short = {key: value for key, value in row.items() if key != field.name}
            assert getattr(read_event(json.dumps(short), 1), field.name) == field.default


def _row(**changes: Any) -> str:
    event = Heard("2031-05-04T08:00:00Z", 3, "voice", "accept", "yes", Command("yes"), 1.0)
    return json.dumps(json.loads(write_event(event)) | changes)


@pytest.mark.parametrize(
    ("text", "says", "newer"),
    [
        ("", "not JSON", False),
        ("{", "not JSON", False),
        ("[" * 100_000, "nested too deeply", False),
        ("1" * 10_000, "not JSON", False),
        (" " * 1_000_001, "longer than", False),
        ("[]", 'an object with a "kind" is wanted', False),
        ("null", 'an object with a "kind" is wanted', False),
        ('{"kind": 3}', 'an object with a "kind" is wanted', False),
        ('{"kind": "resumed"}', 'the key "at" is missing', False),
        ('{"kind": "whistled"}', "the kind 'whistled' is not known", True),
        (_row(mood="good"), "the key 'mood' is not known", True),
        (_row(turn="3"), "turn: a whole number is wanted, not '3'", False),
        (_row(turn=True), "turn: a whole number is wanted, not True", False),
        (_row(source="smoke"), "source: one of voice, text, keypad is wanted", False),
        (_row(confidence="high"), "confidence: a number is wanted", False),
        (_row(confidence=None), "confidence: a number is wanted", False),
        (_row().replace("1.0", "NaN"), "NaN is not allowed", False),
        (_row().replace("1.0", "1e999"), "confidence: a number is wanted", False),
        (_row(meaning={"kind": "reading", "value": 6, "signed": True}),
         "meaning.value: a number in quotes is wanted", False),
        (_row(meaning={"kind": "reading", "value": "six", "signed": True}),
         "meaning.value: a number in quotes is wanted", False),
        (_row(meaning={"kind": "reading", "value": "1E+999999", "signed": True}),
         "meaning.value: a number in quotes is wanted", False),
        (_row(meaning={"kind": "reading", "value": "٣", "signed": True}),
         "meaning.value: a number in quotes is wanted", False),
        (_row(alternatives=[{"words": "no", "meaning": {"kind": "sign", "name": "times"},
                             "confidence": 0.1}]),
         "alternatives[0].meaning.name: one of plus, minus is wanted", False),
        (_row(alternatives={}), "alternatives: a list is wanted", False),
        (_row(words="x", at=["\x1b[2J"]), "at: text is wanted, not ['\\x1b[2J']", False),
    ],
    ids=range(25),
)  # fmt: skip
def test_a_damaged_row_is_an_error_with_its_number(text: str, says: str, newer: bool) -> None:
    with pytest.raises(DamagedEvent) as caught:
        read_event(text, 17)
    assert caught.value.number == 17
    assert caught.value.newer is newer
    message = str(caught.value)
    assert message.startswith("event 17 cannot be read: ")
    assert says in message
    assert ("install" in message) is newer
    assert message.isprintable()


def test_a_value_that_the_class_refuses_is_named() -> None:
    row = json.loads(write_event(Started("2031-05-04T08:00:00Z", "j1", Profile())))
    row["profile"]["scale"]["reach"] = 5000
    with pytest.raises(DamagedEvent, match=r"profile\.scale: reach is 5000"):
        read_event(json.dumps(row), 1)


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(any_event, st.data())
def test_any_damage_to_a_row_gives_an_event_or_the_named_error(
    event: Event, data: st.DataObject
) -> None:
    text = list(write_event(event))
    where = data.draw(st.integers(0, len(text) - 1))
    text[where] = data.draw(st.characters(max_codepoint=0x2FF))
    number = 5
    try:
        read = read_event("".join(text), number)
    except DamagedEvent as error:
        number, read = error.number, event
    assert isinstance(read, EVENT_CLASSES)
    assert number == 5


def test_what_is_no_number_is_not_written() -> None:
    at = "2031-05-04T08:00:00Z"
    with pytest.raises(CodecError):
        write_event(Heard(at, 3, "voice", "accept", "yes", Command("yes"), math.nan))
    for text in ("NaN", "Infinity", "sNaN", "1E+1000"):
        with pytest.raises(CodecError):
            encode(Decimal(text), Decimal)


def test_infinite_degrees_of_freedom_are_kept() -> None:
    for number in (math.inf, -math.inf):
        assert decode(json.loads(json.dumps(encode(number, float))), float) == number


def test_types_that_cannot_be_kept_are_a_mistake_in_the_program() -> None:
    @dataclass(frozen=True)
    class Ticket:
        kind: str

    for wanted in (bytes, dict, int | str, Ticket | Resumed, KeyPressed | int):
        with pytest.raises(TypeError):
            encode(None, wanted)
    assert encode((1, "a"), tuple[int, str]) == [1, "a"]
    assert decode([1, "a"], tuple[int, str]) == (1, "a")
    bad: tuple[object, ...] = ([1], [1, "a", "b"], ["a", 1], {})
    for data in bad:
        with pytest.raises(CodecError):
            decode(data, tuple[int, str])
    assert encode(RoomNoise("2031-05-04T08:00:00Z", True), RoomNoise | None) == {
        "at": "2031-05-04T08:00:00Z",
        "too_loud": True,
    }


def test_a_length_is_kept_exactly() -> None:
    length = parse_length("9 1/2 in", "in")
    back = decode(json.loads(json.dumps(encode(length, Length))), Length)
    assert back.mm.as_tuple() == length.mm.as_tuple()
