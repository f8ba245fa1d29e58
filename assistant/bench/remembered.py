"""The bench's sound settings from one job to the next: read, checked, kept in a file."""

import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TextIO

from assistant.devices.library_noise import library_noise_to
from assistant.devices.sound.library import PortAudio, SoundDevice, find, without_card
from assistant.devices.sound.settings import (
    MAX_CHARACTERS,
    SettingsError,
    SoundSettings,
    read_settings,
    with_given,
    write_settings,
)
from assistant.records.faults import RecordError
from assistant.records.whole_files import read_file, replace_file

FORGET = "--forget starts over"


def load_settings(path: Path) -> SoundSettings:
    """What is remembered; the defaults when nothing is. Raises ``RecordError``."""
    if not path.exists():
        return SoundSettings()
    try:
        return read_settings(read_file(path, 4 * MAX_CHARACTERS).decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise RecordError("bad_input", f"{path}: it is not UTF-8 text; {FORGET}") from None
    except SettingsError as error:
        raise RecordError("bad_input", f"{path}: {error}; mend it, or {FORGET}") from None


def keep_settings(path: Path, settings: SoundSettings) -> None:
    """Remember these. Raises ``RecordError`` and ``OSError``."""
    replace_file(path, write_settings(settings).encode("utf-8"))


def full_names(settings: SoundSettings, devices: Sequence[SoundDevice]) -> SoundSettings:
    """The settings with devices by the whole name that was meant.

    Raises ``DeviceFault``, which lists the names, when none or several are meant.
    """
    microphone = settings.microphone and find(devices, "microphone", settings.microphone).name
    speaker = settings.speaker and find(devices, "speaker", settings.speaker).name
    return with_given(
        settings,
        microphone=microphone and without_card(microphone),
        speaker=speaker and without_card(speaker),
    )


def settings_for_run(
    path: Path, given: Mapping[str, object], *, forget: bool, err: TextIO
) -> SoundSettings:
    """What is remembered with what was given this time, which is remembered from now on.

    A device that is given must be there now, so that a slip of the pen is not remembered; one
    that was remembered need not be: it may be plugged in later. What cannot be kept is said
    on ``err`` and holds for this time; so is what is used without being asked for again.
    Raises ``RecordError``, ``SettingsError`` and ``DeviceFault``.
    """
    before = SoundSettings() if forget else load_settings(path)
    now = with_given(SoundSettings(), **given)
    if now.microphone or now.speaker:
        with library_noise_to(Path(os.devnull)):
            now = full_names(now, PortAudio().devices())
    named = {key: getattr(now, key) for key, value in given.items() if value is not None}
    settings = with_given(before, **named)
    try:
        if settings != before:
            keep_settings(path, settings)
            err.write(f"sweepsay: remembered for the next job: {in_words(settings)}\n")
        elif settings.chosen():
            err.write(f"sweepsay: as in the last job: {in_words(settings)}\n")
        elif forget:
            path.unlink(missing_ok=True)
    except (RecordError, OSError) as error:
        err.write(f"sweepsay: not remembered: {error}\n")
    return settings


def in_words(settings: SoundSettings) -> str:
    """What differs from the defaults, in one line."""
    chosen = settings.chosen()
    words = [key if value is True else f"{key} {value}" for key, value in chosen.items()]
    return ", ".join(words) or "nothing"
