"""Words to meaning: total, it never raises and never returns None.

The recogniser is a hint; this decides. Typed words may also hold numerals ("front +6.5").
"""

import re
from decimal import Decimal, InvalidOperation
from typing import Literal

from grammar.meaning import Command, Meaning, Place, Reading, Shim, Side, Sign, Size, Unclear, Wish
from grammar.numerals import POINTS, number_value
from grammar.scale import Scale
from grammar.vocabulary import BY_NAME, BY_PHRASE, STATIONS, Station, Term, phrases_of

_COMMANDS = phrases_of("command")
_STATIONS: dict[str, Station] = {
    phrase: station for station in STATIONS for phrase in BY_NAME[station].says
}
_SIGNS = phrases_of("sign")
_UNITS = phrases_of("unit")
_PLACES: dict[str, Place] = {"above": "above", "below": "below"}

MAX_WORDS = 12
"""No utterance of the language is longer; more words are not for us."""

MOST_TAKEN_BACK = 9
LONGEST_NOTE = 120
"""Letters that are kept of a note."""

_NUMERAL = re.compile(r"\d{1,4}(?:\.\d{1,4})?|\.\d{1,4}")
_SIGNED_NUMERAL = re.compile(r"([+\-\N{MINUS SIGN}])\s*(?=[\d.])")


def parse(words: str, scale: Scale) -> Meaning:
    """What these words mean at this indicator.

    >>> parse("front plus six and a half", Scale())
    Reading(value=Decimal('6.5'), signed=True, station='front', unit=None, correction=False, \
doubtful_unit=False)
    >>> parse("nice weather", Scale())
    Unclear(words='nice weather')
    """
    spoken = _SIGNED_NUMERAL.sub(_spell_sign, words).lower().replace("-", " ")
    spoken = " ".join(spoken.split())
    tokens = spoken.split()
    if tokens[:1] == ["note"] and tokens[1:]:
        # Kept as it was typed: a name, or a number with its sign.
        return Wish("note", text=words.split(maxsplit=1)[1].strip()[:LONGEST_NOTE])
    if not tokens or len(tokens) > MAX_WORDS:
        return Unclear(words)
    if spoken in _COMMANDS:
        return Command(_COMMANDS[spoken])
    if spoken in _SIGNS:
        return Sign("plus" if _SIGNS[spoken] == "plus" else "minus")
    if spoken in _STATIONS:
        return Side(_STATIONS[spoken])
    wish = _wish(tokens, scale)
    if wish is not None:
        return wish
    if tokens[0] == "shim":
        return _shim(tokens[1:], scale) or Unclear(words)
    return _reading(tokens, scale) or _size(tokens) or Unclear(words)


def _spell_sign(match: re.Match[str]) -> str:
    return " plus " if match.group(1) == "+" else " minus "


def _value(tokens: list[str]) -> Decimal | None:
    if len(tokens) == 1 and _NUMERAL.fullmatch(tokens[0]):
        try:
            return Decimal(tokens[0])
        except InvalidOperation:
            return None
    return number_value(" ".join(tokens))


def _unit_off(tokens: list[str], units: tuple[str, ...]) -> tuple[list[str], str | None]:
    """Take a trailing unit off the tokens ("half a thou" and "half of a thou" too)."""
    if len(tokens) > 1 and _UNITS.get(tokens[-1]) in units:
        unit = _UNITS[tokens[-1]]
        rest = tokens[:-1]
        if len(rest) > 1 and rest[-1] == "a":
            rest = rest[:-1]
        if len(rest) > 1 and rest[-1] == "of":
            rest = rest[:-1]
        return rest, unit
    # "a thou and a half": the unit stands between the whole number and its part.
    for index, token in enumerate(tokens[1:-1], start=1):
        if _UNITS.get(token) in units and tokens[index + 1] == "and":
            before = ["one"] if tokens[:index] == ["a"] else tokens[:index]
            return before + tokens[index + 1 :], _UNITS[token]
    return tokens, None


def _counts(value: Decimal, unit: str | None, pointed: bool, scale: Scale) -> Decimal:
    """A spoken value in counts of the scale, exactly."""
    if scale.system == "mm":
        if unit == "um":
            return value / 10
        if unit == "tenth":
            return value * 10
        if unit is None and pointed:
            return value * 100
        return value
    return value / 10 if unit == "tenth" else value


def reading_units(scale: Scale) -> tuple[str, ...]:
    """The units that a reading may carry at this indicator, by name."""
    return ("thou", "tenth") if scale.system == "thou" else ("hundredth", "um", "tenth")


def _reading(tokens: list[str], scale: Scale) -> Reading | None:
    rest = tokens
    correction = rest[0] == "correction"
    rest = rest[1:] if correction else rest
    station = _STATIONS.get(rest[0]) if rest else None
    rest = rest[1:] if station else rest
    sign = _SIGNS.get(rest[0]) if rest else None
    rest = rest[1:] if sign else rest
    rest, unit = _unit_off(rest, reading_units(scale))
    value = _value(rest)
    if value is None:
        return None
    value = _counts(value, unit, _pointed(rest), scale)
    return Reading(
        value=-value if sign == "minus" and value else value,
        signed=sign is not None or value == 0,
        station=station,
        unit=unit,
        correction=correction,
        doubtful_unit=unit == "tenth",
    )


def _wish(tokens: list[str], scale: Scale) -> Wish | None:
    """One of the wishes that say of what; None for anything else."""
    match tokens:
        case ["what", "was", *the, station] if the in ([], ["the"]) and station in _STATIONS:
            return Wish("what was", station=_STATIONS[station])
        case ["take", "back", *number]:
            value = _value(number) if number else None
            whole = value is not None and 1 <= value <= MOST_TAKEN_BACK and value == int(value)
            return Wish("take back", value) if whole else None
        case ["tolerance", _, *_]:
            rest, unit = _unit_off(tokens[1:], reading_units(scale))
            value = _value(rest)
            if value is None:
                return None
            return Wish("tolerance", _counts(value, unit, _pointed(rest), scale))
        case ["sweep", _, *_]:
            size = _size(tokens[1:])
            usual: Literal["in", "mm"] = "in" if scale.system == "thou" else "mm"
            value = size.value if size else _value(tokens[1:])
            if value is None:
                return None
            return Wish("sweep", value, size.unit if size else usual)
        case _:
            return None


def _shim(tokens: list[str], scale: Scale) -> Shim | None:
    place = _PLACES.get(tokens[-1]) if tokens else None
    rest, unit = _unit_off(tokens[:-1] if place else tokens, reading_units(scale))
    value = _value(rest) if rest else None
    if value is None:
        return None
    pointed = _pointed(rest)
    # Shims are sold and marked in millimetres, called in the dial's counts: "one point five"
    # may be either.
    decimal = any(point in token for token in rest for point in (*POINTS, "."))
    doubtful = scale.system == "mm" and unit is None and decimal and not pointed
    return Shim(_counts(value, unit, pointed, scale), place, doubtful)


def _pointed(tokens: list[str]) -> bool:
    """Whether a number begins with the point, or with a zero before it.

    Metric ones ("point zero four") are millimetres then, as on a drawing.
    """
    if tokens[0].startswith((".", "0.")) or tokens[0] in POINTS:
        return True
    return tokens[0] == "zero" and tokens[1:2] != [] and tokens[1] in POINTS


def _size(tokens: list[str]) -> Size | None:
    # "in" and "mm" are only typed: a voice says the words.
    term: Term | None = BY_PHRASE.get(("unit", tokens[-1])) or BY_NAME.get(tokens[-1])
    if term is None or term.name not in ("in", "mm") or len(tokens) < 2:
        return None
    value = _value(tokens[:-1])
    if value is None:
        return None
    return Size(value, "in" if term.name == "in" else "mm")
