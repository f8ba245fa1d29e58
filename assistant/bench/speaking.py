"""The mouth of a bench, opened; and the last words where a job cannot begin.

Whoever stands at the machine does not look at the screen, so what ends the program is spoken.
"""

from collections.abc import Callable
from contextlib import ExitStack
from typing import TextIO

from assistant.bench.loop import last_words
from assistant.bench.wishes import Surroundings, Wishes
from assistant.devices.faults import DeviceFault
from assistant.devices.sound.half_duplex import HalfDuplex
from assistant.devices.sound.lifeline import Lifeline, Report
from assistant.devices.sound.settings import SoundSettings
from assistant.devices.sound.speaker import Speaker
from assistant.devices.text.lines import effect_json, json_line, print_line, say_line
from assistant.devices.voice.mouth import Mouth
from assistant.devices.voice.synthesis import Voice
from assistant.dialogue.messages import Device, Say
from assistant.records.faults import RecordError
from grammar.scale import Scale

FIRST_ATTEMPT_S = 5.0
"""How long a device may take to open before the job begins, or ends, without it."""

SPOKEN_S = 8.0
"""How long the last words may take: the longest are through in half of that."""


def open_mouth(
    voice: Voice,
    sound: SoundSettings,
    around: Surroundings,
    duplex: HalfDuplex,
    report: Callable[[Device], Report],
    stack: ExitStack,
    noise_db: Callable[[], float] | None = None,
) -> tuple[Mouth, Lifeline]:
    """Voice and speaker together, and what watches the speaker; raises DeviceFault.

    ``report`` gives what a device's watch is told; ``noise_db`` is the room's level, if it is
    known. The speaker closes with the stack.
    """
    speaker = Speaker(
        around.library("speaker"), sound.speaker, report("speaker"), duplex,
        patience=around.patience, clock=around.clock,
    )  # fmt: skip
    stack.enter_context(speaker)
    mouth = Mouth(voice, speaker, report("voice"), sound.tones, sound.volume / 100, noise_db)
    return mouth, speaker.lifeline


def say_last_words(error: RecordError, wishes: Wishes, around: Surroundings, out: TextIO) -> None:
    """Say in the way that was wished for that the program ends, and wait until it is said.

    The reason in full is printed by whoever catches the error, so a voice that fails loses nothing.
    """
    text = last_words(error)
    if wishes.as_json:
        print_line(out, json_line(effect_json(Say(text), Scale())))
    elif wishes.voice != "off":
        print_line(out, say_line(text))
    if wishes.voice != "speaker":
        return
    try:
        _speak(text, wishes.sound, around)
    except DeviceFault:
        return


def _speak(text: str, sound: SoundSettings, around: Surroundings) -> None:
    voice = around.make_voice(sound.voice)
    with ExitStack() as stack:
        mouth, lifeline = open_mouth(
            voice, sound, around, HalfDuplex(headset=sound.headset), lambda _: _nobody, stack
        )
        if lifeline.wait_for_first_attempt(FIRST_ATTEMPT_S) is None:
            mouth.say(text)
            mouth.wait(SPOKEN_S)


def _nobody(_reason: str | None) -> None:
    """The program ends here: nobody waits to hear of a lost device."""
