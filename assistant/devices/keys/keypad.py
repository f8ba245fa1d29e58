"""What a terminal sends for the keys of a numeric keypad, and for typed words, told apart.

No device is opened here. A keypad key is told at once; a letter begins a line of words,
which is told when Enter ends it. The names of the keys are those of ``KeyPressed``.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from prompt_toolkit.key_binding import KeyPress
from prompt_toolkit.keys import Keys

PLAIN: dict[str, str] = {**{digit: digit for digit in "0123456789"}, ".": ".", ",": ".",
                         "+": "+", "-": "-", "*": "*", "/": "/"}  # fmt: skip
"""Num Lock on. Keypads of some countries have a comma where others have the point."""

NAVIGATION: dict[Keys, str] = {
    Keys.Insert: "0", Keys.End: "1", Keys.Down: "2", Keys.PageDown: "3", Keys.Left: "4",
    Keys.Right: "6", Keys.Home: "7", Keys.Up: "8", Keys.PageUp: "9", Keys.Delete: ".",
}  # fmt: skip
"""Num Lock off: the digits move the cursor instead."""

MIDDLE = frozenset({"\x1b[E", "\x1b[G", "\x1bOE", "\x1bOu"})
"""The 5 without Num Lock: xterm, Linux console, xterm with application cursor keys, VT220.

The library drops the first two but keeps what was sent.
"""

APPLICATION: dict[str, str] = {
    "p": "0", "q": "1", "r": "2", "s": "3", "t": "4", "u": "5", "v": "6", "w": "7", "x": "8",
    "y": "9", "n": ".", "l": ".", "k": "+", "m": "-", "j": "*", "o": "/", "M": "enter",
    "E": "5",
}  # fmt: skip
"""After ESC O, in application keypad mode (VT220 and xterm; the letters of DECKPAM)."""

SEQUENCE_S = 0.1
"""Longest time from an ESC to the rest of its sequence; a person is slower."""

LONGEST_LINE = 400


@dataclass(frozen=True, slots=True)
class Key:
    """A keypad key: "0" to "9", ".", "+", "-", "*", "/" or "enter"."""

    name: str


@dataclass(frozen=True, slots=True)
class Line:
    """A line of typed words, without the space around it."""

    text: str


@dataclass(frozen=True, slots=True)
class Talk:
    """The space bar: push to talk."""


@dataclass(frozen=True, slots=True)
class Interrupt:
    """Control-C."""


@dataclass(frozen=True, slots=True)
class EndOfInput:
    """Control-D on an empty line, or the terminal is gone."""


Stroke = Key | Line | Talk | Interrupt | EndOfInput


class KeyDecoder:
    """Key presses as the library parses them, to strokes. Times are in seconds.

    ``words`` is the line that is being typed, for showing.
    """

    def __init__(self) -> None:
        self.words = ""
        self._escape: list[str] = []
        self._escape_at = 0.0

    def feed(self, presses: Iterable[KeyPress], now: float) -> list[Stroke]:
        """The strokes that these presses complete."""
        strokes: list[Stroke] = []
        for press in presses:
            strokes += self._one(press, now)
        return strokes

    def _one(self, press: KeyPress, now: float) -> list[Stroke]:
        key = press.key
        if self._escape:
            if now - self._escape_at > SEQUENCE_S:
                self._escape = []
            elif len(self._escape) == 1 and key == "O":
                self._escape.append(key)
                return []
            elif len(self._escape) == 2:
                self._escape = []
                # An unknown function key of this form is not a letter that was typed.
                name = APPLICATION.get(str(key), "")
                return self._keypad(name) if name else []
            else:
                self._escape = []
        if key is Keys.Escape:
            self._escape, self._escape_at = [press.data], now
            return []
        return self._plain(press)

    def _plain(self, press: KeyPress) -> list[Stroke]:
        match press.key:
            case Keys.ControlM | Keys.ControlJ:
                return self._keypad("enter")
            case Keys.ControlC:
                return [Interrupt()]
            case Keys.ControlD:
                return [] if self.words else [EndOfInput()]
            case Keys.ControlU:
                self.words = ""
            case Keys.ControlH:
                self.words = self.words[:-1]
            case Keys.BracketedPaste:
                return self._pasted(press.data)
            case Keys() if press.data in MIDDLE:
                return self._keypad("5")
            case Keys():
                name = NAVIGATION.get(press.key, "")
                return self._keypad(name) if name else []
            case " " if not self.words:
                return [Talk()]
            case text if not self.words and text in PLAIN:
                return [Key(PLAIN[text])]
            case text:
                self.words = (self.words + text)[:LONGEST_LINE]
        return []

    def _keypad(self, name: str) -> list[Stroke]:
        """A keypad key, or a part of the words when a line of them is open."""
        if not self.words:
            return [Key(name)]
        if name != "enter":
            self.words = (self.words + name)[:LONGEST_LINE]
            return []
        line, self.words = self.words.strip(), ""
        return [Line(line)]

    def _pasted(self, text: str) -> list[Stroke]:
        *whole, last = (self.words + text.replace("\r\n", "\n").replace("\r", "\n")).split("\n")
        self.words = last[:LONGEST_LINE]
        return [Line(line.strip()[:LONGEST_LINE]) for line in whole if line.strip()]
