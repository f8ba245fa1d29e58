"""Values of a readings file: exact lengths, tables and lists, with errors that name the place.

Belongs here: what every part of the file is made of. Which keys there are is the parts' business.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from difflib import get_close_matches

from assistant.metrology.lengths import Length, LengthError, Unit, parse_length

MOST_POWER = 30
"""Powers of ten that a number may have, either way."""

LONGEST_LINE = 2_000
"""Characters of a line of TOML: the time to read dotted keys grows with their square."""


def lines_are_short(text: str) -> bool:
    """Whether the TOML reader can be given this text."""
    return all(len(line) <= LONGEST_LINE for line in text.splitlines())


class ReadingsFileError(ValueError):
    """A readings file that cannot be used; the message is one line and says what to do."""


def needed(table: Mapping[str, object], key: str, unit: Unit, where: str) -> Length:
    """A length that must be there."""
    found = length(table, key, unit, where)
    if found is None:
        raise ReadingsFileError(f"{where}{key} is missing; give a number")
    return found


def length(table: Mapping[str, object], key: str, unit: Unit, where: str = "") -> Length | None:
    """A length of the table, None when it is not there."""
    if table.get(key) is None:
        return None
    return parsed(table[key], unit, f"{where}{key}")


def lengths(table: Mapping[str, object], key: str, unit: Unit, where: str) -> tuple[Length, ...]:
    """A list of lengths."""
    items = list_of(table.get(key, []), f"{where}{key}")
    return tuple(parsed(item, unit, f"{where}{key}[{n}]") for n, item in enumerate(items, start=1))


def parsed(value: object, unit: Unit, where: str) -> Length:
    """One length; a bare number counts in the unit."""
    try:
        return parse_length(plain_text(value, where), unit)
    except LengthError as error:
        raise ReadingsFileError(f"{where}: {error}") from error


def plain_text(value: object, where: str) -> str:
    """Numbers as they were written: TOML and JSON give Decimals here, never floats."""
    match value:
        case bool():
            raise ReadingsFileError(f"{where} is true or false; give a number")
        case str():
            return value
        case int():
            return str(value)
        case Decimal() if not value.is_finite() or abs(value.adjusted()) > MOST_POWER:
            # Written out, 1e999999999 would fill the memory.
            raise ReadingsFileError(f"{where} is not a length; write a number such as 6")
        case Decimal():
            return f"{value:f}"
        case _:
            raise ReadingsFileError(f"{where} is not a number; write one such as 6")


def table_of(value: object, where: str) -> Mapping[str, object]:
    """The value as a table with names."""
    if not isinstance(value, Mapping):
        raise ReadingsFileError(f"{where} is not a table; write names and values")
    return {str(key): item for key, item in value.items()}


def list_of(value: object, where: str) -> Sequence[object]:
    """The value as a list."""
    if not isinstance(value, list):
        raise ReadingsFileError(f"{where} is not a list; write values in brackets")
    return value


def known_keys(table: Mapping[str, object], known: Sequence[str], where: str) -> None:
    """Raise for a key that nothing is known of, with the one that may be meant."""
    for key in table:
        if key not in known:
            near = get_close_matches(key, known, n=1)
            hint = f"did you mean {near[0]}?" if near else f"use {', '.join(known)}"
            raise ReadingsFileError(f"{where}{key} is not known; {hint}")
