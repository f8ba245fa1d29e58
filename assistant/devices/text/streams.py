"""The standard streams as the program needs them: there, and able to write every sign.

Belongs here: what is written for a sign that an output's encoding lacks, and what stands in
for a stream that was closed.
"""

import codecs
import io
import os
import sys
import unicodedata

OTHER_SIGNS = "sweepsay.signs"
"""The name of the error handler (PEP 293) that writes other signs for those that are lacking."""

SIGNS: dict[str, str] = {
    "±": "+/-", "−": "-", "–": "-", "—": "-", "°": " deg", "′": "'", "″": '"', "µ": "u", "μ": "u",
    "‘": "'", "’": "'", "“": '"', "”": '"', "…": "...", "×": "x", "→": "->", "✓": "v", "✗": "x",
    "Ł": "L", "ł": "l", "▲": "^", "▼": "v", "◀": "<", "▶": ">", "▮": "#", "▯": ".",
    "█": "#", "▀": '"', "▄": "_", "◢": "/", "◣": "\\", "◤": "/", "◥": "\\",
    "─": "-", "│": "|", "═": "=", "║": "|",
} | dict.fromkeys("┌┐└┘╒╓╔╕╖╗╘╙╚╛╜╝", "+")  # fmt: skip
"""What is written where an encoding lacks a sign; a letter loses its accent, others become "?"."""


def other_signs(text: str) -> str:
    """The text in ASCII.

    >>> other_signs("Łódź ±1.5°")
    'Lodz +/-1.5 deg'
    """
    return "".join(_in_ascii(sign) for sign in text)


def _in_ascii(sign: str) -> str:
    if sign.isascii():
        return sign
    if sign in SIGNS:
        return SIGNS[sign]
    base = "".join(part for part in unicodedata.normalize("NFKD", sign) if part.isascii())
    return base or ("" if unicodedata.combining(sign) else "?")


def _handler(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return other_signs(error.object[error.start : error.end]), error.end


codecs.register_error(OTHER_SIGNS, _handler)


def open_streams() -> bool:
    """Make the standard streams usable; whether something that is printed comes anywhere.

    A closed one is replaced by the null device, at its own number: the next file that is opened
    would get it otherwise, and what a library prints would go into the record (SQLite, "How To
    Corrupt An SQLite Database File", 1.1, from memory).
    """
    printed = sys.stdout is not None
    for number, name in enumerate(("stdin", "stdout", "stderr")):
        if getattr(sys, name) is None:
            setattr(sys, name, _nothing(number))
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors=OTHER_SIGNS)
    return printed


def _nothing(number: int) -> io.TextIOWrapper:
    handle = os.open(os.devnull, os.O_RDWR)
    if handle != number:
        os.dup2(handle, number)
        os.close(handle)
    return open(number, "r" if number == 0 else "w", encoding="utf-8", closefd=False)


def stop_printing() -> None:
    """Send what is still to be printed nowhere: Python would complain again at its end."""
    with open(os.devnull, "w") as nowhere:
        for stream in (sys.stdout, sys.stderr):
            try:
                stream.flush()
            except (OSError, ValueError):
                os.dup2(nowhere.fileno(), stream.fileno())
