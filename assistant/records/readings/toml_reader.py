"""Keys of a TOML file, one by one, with errors that name the line.

Belongs here: what every table is read and written with. Which keys there are is the profile's
business.
"""

import difflib
import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from assistant.metrology.lengths import Length, LengthError, Unit, parse_length
from assistant.records.faults import RecordError
from assistant.records.names import one_line

Keys = Mapping[str, tuple[str, ...]]
"""Every key by its table; the keys before the first table are under the empty name."""


class ProfileError(RecordError):
    """A profile that cannot be used; names the file, the line and what to write."""

    def __init__(self, source: str, line: int | None, problem: str) -> None:
        place = f"{source}, line {line}" if line else source
        super().__init__("bad_input", f"{place}: {problem}")


class TableReader:
    """One reading of one file: takes keys out of tables, and knows where they stand."""

    def __init__(self, text: str, source: str, data: Mapping[str, Any], keys: Keys) -> None:
        self._text = text
        self._source = source
        self._data = data
        self._keys = keys

    def fail(self, table: str, key: str, problem: str) -> ProfileError:
        """The error at a key: file, line, what is wrong."""
        named = f"{table}.{key}" if table and key else key or f"[{table}]"
        return ProfileError(self._source, line_of(self._text, table, key), f"{named}: {problem}")

    def check_keys(self) -> None:
        """Raise for a table or key that nothing is known of."""
        for key, value in self._data.items():
            if isinstance(value, dict):
                if key not in self._keys:
                    problem = f"there is no such table{_meant(key, tuple(self._keys))}"
                    raise self.fail(one_line(key), "", problem)
                for inner in value:
                    self._check_key(key, inner)
            else:
                self._check_key("", key)

    def _check_key(self, table: str, key: str) -> None:
        if key not in self._keys[table]:
            problem = f"there is no such key{_meant(key, self._keys[table])}"
            raise self.fail(table, one_line(key), problem)

    def get(self, table: str, key: str) -> Any:
        """The value of a key as it stands, None if it is not there."""
        home = self._data.get(table, {}) if table else self._data
        if not isinstance(home, dict):
            raise self.fail("", table, f"it is a table: write [{table}] on a line of its own")
        return home.get(key)

    def one_of(self, table: str, key: str, allowed: tuple[str, ...], usual: str) -> Any:
        """One of these names."""
        value = self.get(table, key)
        if value is None:
            return usual
        if value not in allowed:
            raise self.fail(table, key, f"use {' or '.join(f'{name!r}' for name in allowed)}")
        return value

    def whole(self, table: str, key: str, usual: int, least: int, most: int) -> int:
        """A whole number within limits."""
        value = self.get(table, key)
        if value is None:
            return usual
        if type(value) is not int or not least <= value <= most:
            raise self.fail(table, key, f"use a whole number from {least} to {most}")
        return value

    def number(self, table: str, key: str, value: Any) -> Decimal:
        """A plain number without sign, exact."""
        text = str(value) if type(value) in (int, str, Decimal) else ""
        if not re.fullmatch(r"[0-9]{1,9}(\.[0-9]{1,9})?", text, re.ASCII):
            raise self.fail(table, key, 'use a plain number such as "0.5"')
        return Decimal(text)

    def parsed(self, table: str, key: str, value: Any, unit: Unit) -> Length:
        """A length; a bare number counts in the unit."""
        if type(value) not in (int, str, Decimal):
            raise self.fail(table, key, f'write a length such as "3 {unit}"')
        try:
            return parse_length(str(value), unit)
        except LengthError as error:
            raise self.fail(table, key, one_line(str(error))) from None

    def within(self, table: str, key: str, length: Length, least: str, most: str) -> Length:
        """The length if it is within limits."""
        if not parse_length(least, "in") <= length <= parse_length(most, "in"):
            raise self.fail(table, key, f"use something from {least} to {most}")
        return length

    def counts(
        self, table: str, key: str, value: Any, unit: Unit, least: str, most: str
    ) -> Decimal:
        """A length as a short number of the unit."""
        length = self.within(table, key, self.parsed(table, key, value, unit), least, most)
        counts = length.to(unit)
        if len(plain_number(counts)) > 12:
            raise self.fail(table, key, f"{one_line(str(value))} has no short number of {unit}")
        return counts


def line_of(text: str, table: str, key: str) -> int | None:
    """The line of a key in simple TOML, of its table's head if it is not there, else None."""
    here, head = "", None
    for number, line in enumerate(text.splitlines(), 1):
        if found := re.match(r"\s*\[\s*\"?([^\]\"]*?)\"?\s*\]", line):
            here = found[1]
            head = number if here == table else head
        elif here == table and key and re.match(rf"\s*\"?{re.escape(key)}\"?\s*=", line):
            return number
    return head


def _meant(key: str, known: tuple[str, ...]) -> str:
    close = difflib.get_close_matches(key, [name for name in known if name], 1)
    every = ", ".join(name for name in known if name)
    return f": did you mean {close[0]}?" if close else f": there are {every}"


def sized(length: Length, unit: Unit) -> str:
    """The length in the unit, or in millimetres where it has no short number of that unit."""
    number = length.to(unit)
    if len(plain_number(number)) <= 12 and Length.of(number, unit) == length:
        return f"{plain_number(number)} {unit}"
    return f"{plain_number(length.mm)} mm"


def toml_list(counts: tuple[Decimal, ...]) -> str:
    """Counts as the items of a TOML list."""
    return ", ".join(quoted(plain_number(each)) for each in counts)


def plain_number(number: Decimal) -> str:
    """A number without an exponent."""
    return f"{number:f}"


_ESCAPES: dict[str, str] = {'"': '\\"', "\\": "\\\\"}


def quoted(text: str) -> str:
    """A TOML basic string (TOML 1.0, "String")."""
    return '"' + "".join(_escaped(char) for char in text) + '"'


def _escaped(char: str) -> str:
    if char in _ESCAPES:
        return _ESCAPES[char]
    return char if char.isprintable() else f"\\U{ord(char):08x}"
