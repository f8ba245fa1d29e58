"""What a wish for another voice comes to: the sound settings with it."""

from dataclasses import replace

from assistant.devices.sound.settings import SoundSettings
from assistant.devices.voice.speech_engine import FASTEST_WPM, SLOWEST_WPM
from assistant.dialogue.messages import VoiceWish

VOLUME_STEP, RATE_STEP = 15, 15
"""Percent and words per minute: a step that is heard, and not too much at once."""

SOFTEST = 10


def tuned(sound: SoundSettings, wish: VoiceWish) -> SoundSettings:
    """The settings with this wish, as far as they go.

    >>> tuned(SoundSettings(volume=90), "louder").volume
    100
    """
    match wish:
        case "louder":
            return replace(sound, volume=min(100, sound.volume + VOLUME_STEP))
        case "softer":
            softer = max(SOFTEST, sound.volume - VOLUME_STEP)
            return replace(sound, volume=min(sound.volume, softer))
        case "slower":
            return replace(sound, rate=max(SLOWEST_WPM, sound.rate - RATE_STEP))
        case "faster":
            return replace(sound, rate=min(FASTEST_WPM, sound.rate + RATE_STEP))
        case "quiet" | "talk":
            return replace(sound, quiet=wish == "quiet")
        case "short" | "long":
            return replace(sound, prompts=wish)
