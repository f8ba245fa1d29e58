"""espeak-ng, from the library and data that the ``espeakng-loader`` package carries.

pyttsx3's binding of the library is used, but not its engine. That one starts espeak in the
mode that speaks from a thread of its own, waits 10 ms and goes on: on a busy machine about
every second one of 600 texts was lost, cut, or spoken at another text's speed. It also
prints, and needs a folder to write to. In the synchronous mode that is used here a text is
finished when the call returns, about 2 ms later, and nothing is written anywhere.
"""

import atexit
import ctypes
import importlib
import os
import tempfile
import time
from pathlib import Path
from typing import Any, ClassVar

import numpy as np

from assistant.devices.faults import DeviceFault
from assistant.devices.voice.speech_engine import Speech, VoiceSettings, trimmed

LONGEST_DATA_PATH = 150
"""espeak-ng cuts a longer path to its data off, and then finds nothing.

Measured with espeak-ng 1.52: 159 bytes work, 160 do not.
"""

USUAL = "en-us+f2"
"""The voice that is best understood of those that espeak-ng has."""

LONGEST_S = 10.0
"""When to give a text up, in seconds of waiting."""

NO_VOICE = "install espeakng-loader with pip, or espeak-ng in the system"

_DO_NOT_EXIT = 0x8000
"""espeakINITIALIZE_DONT_EXIT of speak_lib.h: without it missing data end the process."""

_PUNCTUATION_NONE = 0


class Espeak:
    """The library, started. Raises ``DeviceFault`` when it or its data are missing.

    The library has one voice and gives its sound to one taker, whoever else uses it.
    """

    _holder: ClassVar["Espeak | None"] = None
    """Whose voice and whose taker the library has."""

    def __init__(self) -> None:
        data = _preload()
        try:
            self._library: Any = importlib.import_module("pyttsx3.drivers._espeak")
        except (ImportError, OSError, RuntimeError) as error:
            raise DeviceFault("voice", f"no speech library ({error})", NO_VOICE) from error
        library = self._library
        self._rate = int(
            library.Initialize(
                library.AUDIO_OUTPUT_SYNCHRONOUS,
                1000,
                None if data is None else os.fsencode(data),
                _DO_NOT_EXIT,
            )
        )
        Espeak._holder = None  # Begun once more, it has forgotten whose voice it had.
        if self._rate <= 0:
            raise DeviceFault("voice", "espeak-ng does not start with its data", NO_VOICE)
        self._pieces: list[bytes] = []
        self._until = 0.0
        self._settings: VoiceSettings | None = None
        self._plain = False

    def synthesise(self, text: str, settings: VoiceSettings) -> Speech:
        """Speak a text. Raises ``DeviceFault`` when there is no such voice or no end."""
        self._hold()
        if settings != self._settings:
            self._apply(settings)
        self._pieces.clear()
        self._until = time.monotonic() + LONGEST_S
        library = self._library
        done = library.Synth(text.encode("utf-8"), flags=library.CHARS_UTF8)
        if done != library.EE_OK or time.monotonic() > self._until:
            raise DeviceFault(
                "voice", f"espeak-ng did not finish {text[:40]!r}", "use a shorter text"
            )
        return trimmed(np.frombuffer(b"".join(self._pieces), np.int16), self._rate)

    def phonemes(self, text: str) -> str:
        """A clause without punctuation in the International Phonetic Alphabet, as it is spoken.

        By ``espeak_TextToPhonemes`` of speak_lib.h: text in UTF-8 (1), phonemes as IPA (2).
        """
        self._hold()
        library = self._library
        if self._settings is not None or not self._plain:
            # Phonemes are those of the voice that is set.
            self._settings, self._plain = None, True
            library.SetVoiceByName(b"en-us")
        translate = library.dll.espeak_TextToPhonemes
        translate.restype = ctypes.c_char_p
        translate.argtypes = [ctypes.POINTER(ctypes.c_char_p), ctypes.c_int, ctypes.c_int]
        rest = ctypes.c_char_p(text.encode("utf-8"))
        spoken: list[str] = []
        while rest.value:
            spoken.append((translate(ctypes.byref(rest), 1, 2) or b"").decode("utf-8").strip())
        return " ".join(part for part in spoken if part)

    def _hold(self) -> None:
        """Take the library from another that used it: its voice is not this one's."""
        if Espeak._holder is not self:
            # The library keeps what it is given, so it must outlive this object.
            self._library.SetSynthCallback(self._take)
            self._settings, self._plain = None, False
            Espeak._holder = self

    def _take(self, samples: Any, count: int, _events: object) -> int:
        """Keep what is spoken; a one tells the library to stop."""
        if count > 0:
            self._pieces.append(ctypes.string_at(samples, count * 2))
        return 1 if time.monotonic() > self._until else 0

    def _apply(self, settings: VoiceSettings) -> None:
        library = self._library
        self._settings, self._plain = None, False
        name = settings.name or USUAL
        found = library.SetVoiceByName(name.encode("utf-8"))
        # An unknown variant ("en+x") is not an error to the library: it is left out.
        _, plus, variant = name.partition("+")
        current = library.GetCurrentVoice().contents.identifier.decode("utf-8")
        if found != library.EE_OK or (plus and not current.endswith(plus + variant)):
            raise DeviceFault(
                "voice",
                f"there is no voice {name!r}",
                f"choose another, such as {USUAL!r}",
            )
        library.SetParameter(library.RATE, settings.rate_wpm, 0)
        library.SetParameter(library.VOLUME, round(settings.volume * 100), 0)
        library.SetParameter(library.PUNCTUATION, _PUNCTUATION_NONE, 0)
        self._settings = settings


_kept_alive: list[object] = []
"""The loaded library and the short path to its data, for as long as the process lives."""


def _preload() -> Path | None:
    """Load the bundled library where the binding will find it; the path to its data.

    None when the package is not there: the system's library knows where its own data are.
    """
    try:
        import espeakng_loader
    except ImportError:
        return None
    library = Path(espeakng_loader.get_library_path())
    data = library.parent / "espeak-ng-data"
    if not (data / "phontab").is_file():
        raise DeviceFault("voice", f"{data} holds no espeak-ng data (phontab)", NO_VOICE)
    try:
        # The binding loads "libespeak-ng.so.1"; the loader then takes the one that is there.
        _kept_alive.append(ctypes.CDLL(str(library)))
    except OSError as error:
        raise DeviceFault("voice", f"{library} cannot be loaded ({error})", NO_VOICE) from error
    return short_path(data)


def short_path(data: Path) -> Path:
    """The same folder by a path that espeak-ng can hold: a link, when its own is too long."""
    if len(os.fsencode(data)) <= LONGEST_DATA_PATH:
        return data
    folder = tempfile.TemporaryDirectory(prefix="sweepsay-voice-")
    atexit.register(folder.cleanup)
    link = Path(folder.name) / "espeak-ng-data"
    if len(os.fsencode(link)) > LONGEST_DATA_PATH:
        raise DeviceFault(
            "voice",
            f"the path of its data is longer than {LONGEST_DATA_PATH} characters",
            "install sweepsay in a folder with a shorter path",
        )
    link.symlink_to(data, target_is_directory=True)
    return link
