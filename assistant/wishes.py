"""What the person asked for on the command line of a job."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

from assistant.devices.palette import ThemeName
from assistant.devices.sound_settings import SoundSettings
from assistant.dialogue.machine import Profile
from assistant.run import Machines

EarsKind = Literal["mic", "text", "off"]
VoiceKind = Literal["speaker", "text", "off"]


@dataclass(frozen=True, slots=True)
class Wishes:
    """How a job is played.

    ``remember`` keeps what is learned of a machine. ``machines``: where they come from when
    none was named.
    """

    ears: EarsKind = "mic"
    voice: VoiceKind = "speaker"
    keypad: bool = True
    screen: bool = False
    theme: ThemeName = "dark"
    as_json: bool = False
    sound: SoundSettings = field(default_factory=SoundSettings)
    verbose: bool = False
    remember: Callable[[Profile], None] | None = None
    machines: Machines | None = None
