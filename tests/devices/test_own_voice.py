"""What may be the program's own voice is not an answer, and it does not go on about the unclear."""

from dataclasses import replace

import pytest

from assistant.bench.own_voice import HELD_BACK_S, PATIENCE, Brake, OwnVoice
from assistant.devices.ears.hearing import Utterance
from assistant.devices.sound.delay import LATEST_S
from assistant.devices.sound.echo_watch import PATIENT, EchoWatch
from assistant.devices.sound.half_duplex import TAIL_S, HalfDuplex
from assistant.dialogue.messages import Decision, DeviceLost, Event, Heard, KeyPressed
from grammar.meaning import Unclear
from grammar.parse import parse
from grammar.scale import Scale

LENGTH_S = 0.5


def _duplex(delay_s: float | None, *, headset: bool = False, unheard: int = 0) -> HalfDuplex:
    """It has spoken from 10 to 12 s."""
    echo = EchoWatch()
    echo.delay_s = delay_s
    echo._unheard = unheard
    duplex = HalfDuplex(headset=headset, echo=echo)
    duplex.begins(10.0)
    duplex.ends(12.0)
    return duplex


def _utterance(words: str) -> Utterance:
    return Utterance(3.0, 3.0 + LENGTH_S, "accept", words, parse(words, Scale()), 1.0, 0.1, (), 30)


def _echoes(duplex: HalfDuplex, prompt: str, words: str, began: float) -> bool:
    voice = OwnVoice(duplex)
    voice.says(prompt)
    return voice.echoes(_utterance(words), began + LENGTH_S + HELD_BACK_S)


@pytest.mark.parametrize(
    ("prompt", "words", "echo"),
    [
        ("Stop here? All is kept.", "stop", True),
        ("Stop here? All is kept.", "yes", True),
        ("Stop here? All is kept.", "no", False),
        ("Unplugged?", "yes", False),
        ("Right, plus six. Front?", "plus six", True),
        ("Right, plus six. Front?", "right plus six", True),
        ("Right, plus six. Front?", "front plus six", False),
        ("Right, plus six. Front?", "plus front", False),
        ("Front?", "", False),
    ],
)
def test_words_of_the_prompt_within_the_echos_reach(prompt: str, words: str, echo: bool) -> None:
    unknown = _duplex(None)
    assert _echoes(unknown, prompt, words, 12.0 + TAIL_S + LATEST_S - 0.01) is echo
    assert not _echoes(unknown, prompt, words, 12.0 + TAIL_S + LATEST_S + 0.01)


def test_the_reach_is_as_long_as_is_known() -> None:
    late = _duplex(0.6)
    assert _echoes(late, "Stop here?", "yes", 12.75)
    assert not _echoes(late, "Stop here?", "yes", 12.85)
    near = _duplex(0.0)
    assert not _echoes(near, "Plus six?", "plus six", 12.25)
    # A microphone that does not hear the speaker hears nobody but the person.
    for apart in (_duplex(None, unheard=PATIENT), _duplex(None, headset=True)):
        assert not _echoes(apart, "Plus six?", "plus six", 12.25)


def _heard(outcome: Decision) -> Heard:
    return Heard("", 1, "voice", outcome, "", Unclear(""))


def test_it_stops_speaking_after_three_that_are_unclear() -> None:
    brake = Brake()
    said = []
    for number in range(PATIENCE + 3):
        brake.passes(_heard("ask" if number % 2 else "reject"))
        said.append(not brake.on())
    assert said == [True] * PATIENCE + [False] * 3
    # What happens meanwhile is told all the same.
    brake.passes(DeviceLost("", "speaker", "unplugged"))
    assert not brake.on()
    brake.passes(_heard("reject"))
    assert brake.on()


def test_talk_neither_brakes_nor_lets_go() -> None:
    brake = Brake()
    for _ in range(2 * PATIENCE):
        brake.passes(_heard("talk"))
    brake.passes(_heard("reject"))
    assert not brake.on()
    for _ in range(PATIENCE):
        brake.passes(_heard("talk"))
        brake.passes(_heard("reject"))
    assert brake.on()
    brake.passes(replace(_heard("reject"), after_quiet=True))
    assert not brake.on()


@pytest.mark.parametrize(
    "clear",
    [
        Heard("", 1, "voice", "accept", "yes", parse("yes", Scale())),
        KeyPressed("", 1, "enter"),
        Heard("", 1, "text", "reject", "", Unclear("")),
    ],
)
def test_what_is_clear_lets_it_speak_again(clear: Event) -> None:
    brake = Brake()
    for _ in range(PATIENCE + 1):
        brake.passes(_heard("reject"))
    brake.passes(clear)
    assert not brake.on()
    brake.passes(_heard("reject"))
    assert not brake.on()
