"""The picture of a state: what is shown in each part of a job."""

from decimal import Decimal

import pytest

from assistant.dialogue.formatting import signed_digits
from assistant.dialogue.job import JOB
from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import (
    DeviceLost,
    Effect,
    Event,
    Heard,
    KeyPressed,
    Resumed,
    RoomNoise,
    Say,
    Started,
)
from assistant.dialogue.state import State
from assistant.dialogue.step import step
from assistant.dialogue.view import View, view
from grammar.parse import parse
from grammar.vocabulary import STATIONS

AT = "2026-03-01T10:00:00.000Z"
SAFE = "yes,yes,yes,yes"
SWEPT = f"{SAFE},locked,zeroed,right plus three,front plus six,left plus three,zero"


def _after(words: str, *events: Event) -> State:
    state, _ = step(None, Started(AT, "job", Profile()))
    for said in filter(None, words.split(",")):
        meaning = parse(said, state.profile.scale)
        state, _ = step(state, Heard(AT, state.turn, "text", "accept", said, meaning))
    for event in events:
        state, _ = step(state, event)
    return state


def _marks(shown: View) -> list[str]:
    return [f"{each.value or '-'} {each.mark}" for each in shown.stations]


def test_every_phase_has_a_headline() -> None:
    begun = _after("")
    assert all(row.headline_of(begun).strip() for row in JOB.table.values())


def test_making_safe() -> None:
    shown = view(_after(""))
    assert (shown.headline, shown.number, shown.sweep) == ("SAFE?", "", 1)
    assert shown.step == "Is the machine unplugged?"
    assert shown.offers[:2] == ("yes", "no")
    assert _marks(shown) == ["- missing"] * 4
    assert shown.high == ()


def test_no_number_is_offered_while_something_is_loose() -> None:
    shown = view(_after(SAFE))
    assert shown.phase == "lock"
    assert shown.offers[0] == "locked"


def test_sweeping() -> None:
    shown = view(_after(f"{SAFE},locked,zeroed,right minus two"))
    assert shown.headline == "FRONT"
    assert (shown.number, shown.number_label) == ("-2", "right, the last reading")
    assert _marks(shown) == ["0 read", "-2 read", "- awaited", "- missing"]
    assert shown.offers[0].startswith("front")


def test_a_missing_sign_is_asked_and_shown() -> None:
    shown = view(_after(f"{SAFE},locked,zeroed,right six"))
    assert (shown.number, shown.number_label) == ("±6", "plus or minus?")
    assert {"plus", "minus"} <= set(shown.offers)


def test_keys_show_as_they_are_typed() -> None:
    state = _after(f"{SAFE},locked,zeroed")
    state, _ = step(state, KeyPressed(AT, state.turn, "-"))
    state, _ = step(state, KeyPressed(AT, state.turn, "4"))
    assert (view(state).entry, view(state).number) == ("-4", "-4")


def test_the_answer_of_a_sweep() -> None:
    shown = view(_after(SWEPT))
    assert shown.sweep == 1
    assert shown.high == ("front",)
    assert shown.result.startswith("Front high six.")
    assert not shown.result_is_old
    assert [each.value for each in shown.stations] == ["0", "+3", "+6", "+3"]


def test_the_shim_and_the_next_sweep() -> None:
    shown = view(_after(f"{SWEPT},done"))
    assert shown.headline == "SHIM"
    assert Decimal(shown.number) > 0
    assert shown.number_label == "shim above the bolt"
    later = view(_after(f"{SWEPT},done,done,locked"))
    assert later.headline == "ZERO"
    assert later.sweep == 2
    assert later.result_is_old
    assert later.high == (), "the old answer marks nothing any more"
    assert _marks(later) == ["- missing"] * 4


def test_both_sides_high() -> None:
    words = SWEPT.replace("right plus three", "right plus nine").replace(
        "left plus three", "left minus three"
    )
    assert view(_after(words)).high == ("front", "right")


@pytest.mark.parametrize(
    ("event", "listening"),
    [
        (RoomNoise(AT, True), "too loud"),
        (DeviceLost(AT, "microphone", "gone"), "no microphone"),
        (DeviceLost(AT, "recogniser", "gone"), "no microphone"),
        (DeviceLost(AT, "speaker", "gone"), "listening"),
    ],
)
def test_what_the_ears_are_doing(event: Event, listening: str) -> None:
    assert view(_after(SAFE, event)).listening == listening


def test_standing_by_and_stopped() -> None:
    resting = view(_after(f"{SAFE},stand by"))
    assert (resting.listening, resting.offers) == ("standing by", ("go ahead", "stop"))
    assert view(_after(f"{SAFE},stop")).headline == "SURE?"
    stopped = view(_after(f"{SAFE},stop,yes"))
    assert (stopped.headline, stopped.listening, stopped.offers) == ("STOP", "closed", ())
    assert stopped.step == "Stopped. All is kept."


def test_going_on_after_a_restart() -> None:
    shown = view(_after(f"{SAFE},locked,zeroed", Resumed(AT)))
    assert shown.headline == "GO ON?"
    assert shown.offers[:2] == ("yes", "no")


def test_stations_are_those_of_the_vocabulary() -> None:
    assert tuple(each.station for each in view(_after("")).stations) == STATIONS


@pytest.mark.parametrize(
    ("value", "digits"),
    [("0", "0"), ("-0.0", "0"), ("6", "+6"), ("-6.50", "-6.5"), ("0.25", "+0.25"), ("1E+1", "+10"),
     ("-100", "-100")],
)  # fmt: skip
def test_digits(value: str, digits: str) -> None:
    assert signed_digits(Decimal(value)) == digits


def test_the_legend_shows_only_keys_that_do_something_now() -> None:
    safe = dict(view(_after("")).legend)
    assert safe["Enter"] == "yes"
    assert safe["-"] == "no"
    assert "0-9 . + -" not in safe
    assert "0-9 . + -" not in dict(view(_after(SAFE)).legend), "nothing is read while it is loose"
    sweeping = dict(view(_after(f"{SAFE},locked,zeroed")).legend)
    assert sweeping["0-9 . + -"] == "number, Enter"
    assert sweeping["/ /"] == "disregard"
    assert dict(view(_after(f"{SAFE},stand by")).legend) == {"/ 0": "go ahead", "/ 8": "stop"}


def test_where_the_legend_is_cut_off_it_is_not_stop_that_is_missing() -> None:
    names = [means for _, means in view(_after("yes,yes,yes")).legend]
    assert names[-2:] == ["louder", "softer"]
    assert names.index("stop") < names.index("louder")


def test_no_number_is_told_of_where_the_dial_is_set_to_zero() -> None:
    state = _after(f"{SAFE},locked")
    assert "0-9 . + -" not in dict(view(state).legend)
    for key in "/2":
        state, _ = step(state, KeyPressed(AT, state.turn, key))
    assert "umber" not in state.last_said


@pytest.mark.parametrize("words", ["", SAFE, f"{SAFE},locked,zeroed", f"{SWEPT},done"])
def test_every_key_of_the_legend_is_answered_and_means_that(words: str) -> None:
    state = _after(words)
    for keys, means in view(state).legend:
        if means in ("number, Enter", "above", "below", "stop"):
            continue
        pressed = state
        effects: tuple[Effect, ...] = ()
        for key in keys.lower().split():
            pressed, effects = step(pressed, KeyPressed(AT, pressed.turn, key))
        said = [effect.text for effect in effects if isinstance(effect, Say)]
        assert said, f"{keys} {means}"
        assert not said[0].startswith("Not now"), f"{keys} {means}: {said}"


def test_help_by_keypad_tells_keys() -> None:
    state = _after(f"{SAFE},locked,zeroed")
    for key in "/2":
        state, _ = step(state, KeyPressed(AT, state.turn, key))
    assert "Number and enter, slash seven correction" in state.last_said


def test_while_tapping_the_last_reading_stands_at_its_station() -> None:
    right = f"{SAFE},locked,zeroed,right plus three,zero,minus three,zero,done"
    shown = {each.station: each for each in view(_after(right)).stations}
    assert shown["right"].mark == "awaited"
    tapped = {each.station: each for each in view(_after(f"{right},plus two")).stations}
    assert (tapped["right"].value, tapped["right"].mark) == ("+2", "asked again")
