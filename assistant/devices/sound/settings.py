"""How a bench sounds and listens: devices by name, headset, voice, tones. As TOML, and back.

What is remembered from one job to the next is decided by the caller; no file is touched here.
"""

import json
import tomllib
from dataclasses import dataclass, fields, replace
from typing import Any, Literal, get_args

from assistant.devices.voice.speech_engine import FASTEST_WPM, SLOWEST_WPM, VoiceSettings
from assistant.devices.voice.tones import ToneSet

MAX_CHARACTERS = 20_000


Prompts = Literal["usual", "short", "long"]


class SettingsError(ValueError):
    """A setting that cannot be used; the text says which and what to write."""


@dataclass(frozen=True, slots=True)
class SoundSettings:
    """``microphone``, ``speaker``: a name or a part of it, None the system's own choice.

    ``headset``: the microphone does not hear the speaker, so it listens while speaking.
    ``quiet``: tones only, prompts are read. ``prompts``: in few words or in full, whatever is on
    record. ``rate``: words per minute, 80 to 200. ``volume``: percent, 1 to 100, of voice and
    tones. Raises ``SettingsError``.
    """

    microphone: str | None = None
    speaker: str | None = None
    headset: bool = False
    rate: int = VoiceSettings().rate_wpm
    volume: int = 100
    tones: ToneSet = "soft"
    quiet: bool = False
    prompts: Prompts = "usual"

    def __post_init__(self) -> None:
        for key in ("microphone", "speaker"):
            name = getattr(self, key)
            named = isinstance(name, str) and name.strip() and name.isprintable()
            if name is not None and not named:
                raise SettingsError(f"{key} is {name!r}: write its name or a part of it, in quotes")
        for key in ("headset", "quiet"):
            if not isinstance(getattr(self, key), bool):
                raise SettingsError(f"{key} is {getattr(self, key)!r}: write true or false")
        for key, least, most in (("rate", SLOWEST_WPM, FASTEST_WPM), ("volume", 1, 100)):
            number = getattr(self, key)
            if type(number) is not int or not least <= number <= most:
                raise SettingsError(f"{key} is {number!r}: write a whole number, {least} to {most}")
        if self.prompts not in get_args(Prompts):
            raise SettingsError(
                f"prompts is {self.prompts!r}: write {', '.join(get_args(Prompts))}"
            )
        if self.tones not in get_args(ToneSet):
            raise SettingsError(f"tones is {self.tones!r}: write {', '.join(get_args(ToneSet))}")

    @property
    def voice(self) -> VoiceSettings:
        """How the voice speaks."""
        return VoiceSettings(rate_wpm=self.rate, volume=self.volume / 100)

    def chosen(self) -> dict[str, str | int | bool]:
        """What differs from the default, by its key."""
        usual = SoundSettings()
        return {
            field.name: getattr(self, field.name)
            for field in fields(self)
            if getattr(self, field.name) != getattr(usual, field.name)
        }


def with_given(settings: SoundSettings, **given: Any) -> SoundSettings:
    """The settings with what was given this time; None means not given."""
    return replace(settings, **{key: value for key, value in given.items() if value is not None})


def write_settings(settings: SoundSettings) -> str:
    """As TOML; ``read_settings`` gives it back."""
    lines = [
        "# How the bench sounds and listens; sweepsay run keeps here what it was given.",
        "# A line that is taken out goes back to the default.",
    ]
    # A JSON string of printable characters is a TOML string as well.
    lines += [
        f"{key} = {json.dumps(value, ensure_ascii=False)}"
        for key, value in settings.chosen().items()
    ]
    return "\n".join(lines) + "\n"


def read_settings(text: str) -> SoundSettings:
    """From TOML. Raises ``SettingsError``."""
    if len(text) > MAX_CHARACTERS:
        raise SettingsError("it is far too long")
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SettingsError(f"it is not TOML ({error})") from None
    known = [field.name for field in fields(SoundSettings)]
    for key in table:
        if key not in known:
            raise SettingsError(f"{key!r} is not a setting: there are {', '.join(known)}")
    return SoundSettings(**table)
