"""What the person asked for on the command line, and what the bench stands in."""

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

from assistant.bench.loop import Machines
from assistant.devices.screen.palette import ThemeName
from assistant.devices.sound.library import PortAudio, SoundLibrary
from assistant.devices.sound.lifeline import Patience
from assistant.devices.sound.settings import SoundSettings
from assistant.devices.voice.speech_engine import VoiceSettings
from assistant.devices.voice.synthesis import Voice
from assistant.dialogue.machine import Profile

EarsKind = Literal["mic", "text", "off"]
VoiceKind = Literal["speaker", "text", "off"]


@dataclass(frozen=True, slots=True)
class Wishes:
    """How a job is played.

    ``remember`` keeps what is learned of a machine. ``keep_sound``
    keeps how it should sound. ``machines``: where they come from when
    none was named.
    """

    ears: EarsKind = "mic"
    voice: VoiceKind = "speaker"
    keypad: bool = True
    screen: bool = False
    theme: ThemeName = "dark"
    as_json: bool = False
    sound: SoundSettings = field(default_factory=SoundSettings)
    keep_audio: bool = False
    remember: Callable[[Profile], None] | None = None
    machines: Machines | None = None
    keep_sound: Callable[[SoundSettings], None] | None = None


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What the bench stands in; tests and long runs put something else in its place.

    ``clock``: seconds, for the sound. ``make_voice``: raises ``DeviceFault`` for a missing one.
    """

    library: Callable[[Literal["microphone", "speaker"]], SoundLibrary] = PortAudio
    make_voice: Callable[[VoiceSettings], Voice] = Voice
    clock: Callable[[], float] = time.monotonic
    patience: Patience | None = None
