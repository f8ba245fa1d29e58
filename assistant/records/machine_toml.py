"""A machine's profile as TOML text, and back with errors that name the line.

Belongs here: keys, their units, their ranges. Numbers stay exact: TOML's floats are read as
decimals. A bare number counts thousandths of an inch, or hundredths of a millimetre at a
metric dial; sizes of the machine are in inches or millimetres.
"""

import difflib
import re
import tomllib
from collections.abc import Mapping
from decimal import Decimal
from typing import Any, get_args

from assistant.dialogue.machine import Kind, Method, Profile
from assistant.metrology.lengths import Length, LengthError, Unit, parse_length
from assistant.metrology.problem import FrontMayBe
from assistant.records.faults import RecordError
from assistant.records.names import MAX_NAME, one_line
from grammar.scale import STEPS, Scale, System

MAX_CHARACTERS = 64_000
MAX_LEAVES = 40
MAX_STACK = 4

KEYS: dict[str, tuple[str, ...]] = {
    "": (
        "name",
        "method",
        "sweep_diameter",
        "tolerance",
        "tolerance_over",
        "front_may_be",
        "pivot_offset",
    ),
    "indicator": ("system", "reach", "step"),
    "shim": ("span", "stock", "max_leaves"),
    "axes": ("kind", "nod_offset"),
    "noise": ("reading_sd", "relock_sd", "surface", "relock", "lock_pull"),
}
"""Every key by its table; the keys before the first table are under the empty name."""


class ProfileError(RecordError):
    """A profile that cannot be used; names the file, the line and what to write."""

    def __init__(self, source: str, line: int | None, problem: str) -> None:
        place = f"{source}, line {line}" if line else source
        super().__init__("bad_input", f"{place}: {problem}")


def write_profile(profile: Profile) -> str:
    """The profile as TOML with a comment for every key; `read_profile` gives it back."""
    inch = profile.scale.system == "thou"
    large: Unit = "in" if inch else "mm"
    fine: Unit = "thou" if inch else "mm"
    count = "thou (0.001 inch)" if inch else "hundredths of a millimetre"
    span = [f"span = {quoted(_length(profile.span, large))}"] if profile.span else [
        "# span = \"3 in\"" if inch else "# span = \"75 mm\""
    ]  # fmt: skip
    over = [
        '# tolerance_over = "12 in"' if inch else '# tolerance_over = "300 mm"'
    ] if profile.tolerance_over is None else [
        f"tolerance_over = {quoted(_length(profile.tolerance_over, large))}"
    ]  # fmt: skip
    stock = _listed(profile.stock)
    pull = (
        ['# lock_pull = "2"  # how far the reading goes from snug to hard']
        if profile.lock_pull is None
        else [f"lock_pull = {quoted(_plain(profile.lock_pull))}  # from snug to hard"]
    )
    return "\n".join(
        [
            f"name = {quoted(profile.name)}",
            f"method = {quoted(profile.method)}  # {' | '.join(get_args(Method))}",
            f"sweep_diameter = {quoted(_length(profile.sweep_diameter, large))}",
            f"tolerance = {quoted(_length(profile.tolerance, fine))}  # over the sweep diameter",
            "# or over another length, in proportion",
            *over,
            f"front_may_be = {quoted(profile.front_may_be)}"
            f"  # {' | '.join(get_args(FrontMayBe))}: drilling pushes the front down",
            "# where the table pivots side to side, to the right of the spindle axis",
            f"pivot_offset = {quoted(_length(profile.pivot_offset, large))}",
            "",
            "[indicator]",
            f"system = {quoted(profile.scale.system)}  # a called number counts {count}",
            f"reach = {profile.scale.reach}  # the largest number that is called",
            f"step = {quoted(_plain(profile.scale.step))}  # the finest part that is read",
            "",
            "[shim]",
            "# from the edge on which the table hinges to the shim, if it is known",
            *span,
            f"stock = [{stock}]  # leaves, in {count}",
            f"max_leaves = {profile.max_leaves}  # in one stack",
            "",
            f"[noise]  # standard deviations, in {count}",
            f"reading_sd = {quoted(_plain(profile.reading_sd))}  # of one reading",
            f"relock_sd = {quoted(_plain(profile.relock_sd))}  # of relocking",
            "# measured at the machine by saying settle; these count instead where they are",
            f"surface = [{_listed(profile.surface)}]  # readings about one spot",
            f"relock = [{_listed(profile.relock)}]  # at the right, after each relocking",
            *pull,
            "",
            "[axes]",
            "# bolted: shim at a tilt bolt, taps | pinned: the same with a locating pin",
            "# free: the table is tapped both ways | head: the spindle's head nods and tilts",
            f"kind = {quoted(profile.kind)}",
            "# how far behind the spindle axis a head nods, or a free table turns front to back",
            f"nod_offset = {quoted(_length(profile.nod_offset, large))}",
            "",
        ]
    )


def read_profile(text: str, source: str) -> Profile:
    """The profile in TOML text; ``source`` names it in errors. Raises ProfileError."""
    if len(text) > MAX_CHARACTERS:
        raise ProfileError(source, None, "it is far too long to be a machine profile")
    try:
        data = tomllib.loads(text, parse_float=Decimal)
    except tomllib.TOMLDecodeError as error:
        found = re.fullmatch(r"(.*) \(at (?:line (\d+),.*|end of document)\)", str(error))
        problem = found[1] if found else str(error)
        line = int(found[2]) if found and found[2] else len(text.splitlines())
        raise ProfileError(source, line, f"{one_line(problem)}; mend this line") from None
    except (RecursionError, ValueError):
        raise ProfileError(source, None, "it is no TOML that can be read") from None
    return _Reader(text, source, data).profile()


class _Reader:
    """One reading of one file: takes keys out of tables, and knows where they stand."""

    def __init__(self, text: str, source: str, data: Mapping[str, Any]) -> None:
        self._text = text
        self._source = source
        self._data = data

    def profile(self) -> Profile:
        self._check_keys()
        usual = Profile()
        system: System = self._one_of("indicator", "system", get_args(System), "thou")
        count: Unit = "thou" if system == "thou" else "hundredth"
        large: Unit = "in" if system == "thou" else "mm"
        fine: Unit = "thou" if system == "thou" else "mm"
        scale = Scale(
            system,
            self._whole("indicator", "reach", usual.scale.reach, 1, 999),
            self._step(),
        )
        return Profile(
            name=self._name(),
            scale=scale,
            sweep_diameter=self._size("", "sweep_diameter", large, "0.5 in", "80 in"),
            tolerance=self._size("", "tolerance", fine, "0.01 thou", "100 thou"),
            tolerance_over=self._over(large),
            front_may_be=self._one_of("", "front_may_be", get_args(FrontMayBe), "either"),
            pivot_offset=self._offset("", "pivot_offset", large),
            kind=self._one_of("axes", "kind", get_args(Kind), usual.kind),
            nod_offset=self._offset("axes", "nod_offset", large),
            span=self._span(large),
            stock=self._stock(count),
            max_leaves=self._whole("shim", "max_leaves", usual.max_leaves, 1, MAX_STACK),
            method=self._one_of("", "method", get_args(Method), "indicator"),
            reading_sd=self._noise("reading_sd", usual.reading_sd, count),
            relock_sd=self._noise("relock_sd", usual.relock_sd, count),
            surface=self._scatter("surface", count),
            relock=self._scatter("relock", count),
            lock_pull=self._pull(count),
        )

    def _fail(self, table: str, key: str, problem: str) -> ProfileError:
        named = f"{table}.{key}" if table and key else key or f"[{table}]"
        return ProfileError(self._source, line_of(self._text, table, key), f"{named}: {problem}")

    def _check_keys(self) -> None:
        for key, value in self._data.items():
            if isinstance(value, dict):
                if key not in KEYS:
                    problem = f"there is no such table{_meant(key, tuple(KEYS))}"
                    raise self._fail(one_line(key), "", problem)
                for inner in value:
                    self._check_key(key, inner)
            else:
                self._check_key("", key)

    def _check_key(self, table: str, key: str) -> None:
        if key not in KEYS[table]:
            problem = f"there is no such key{_meant(key, KEYS[table])}"
            raise self._fail(table, one_line(key), problem)

    def _get(self, table: str, key: str) -> Any:
        home = self._data.get(table, {}) if table else self._data
        if not isinstance(home, dict):
            raise self._fail("", table, f"it is a table: write [{table}] on a line of its own")
        return home.get(key)

    def _name(self) -> str:
        value = self._get("", "name")
        if not isinstance(value, str) or not value.strip() or len(value) > MAX_NAME:
            raise self._fail("", "name", f'write 1 to {MAX_NAME} letters, such as "bench drill"')
        if one_line(value) != value:
            raise self._fail("", "name", "it holds characters that cannot be shown: leave them out")
        return value.strip()

    def _one_of(self, table: str, key: str, allowed: tuple[str, ...], usual: str) -> Any:
        value = self._get(table, key)
        if value is None:
            return usual
        if value not in allowed:
            raise self._fail(table, key, f"use {' or '.join(f'{name!r}' for name in allowed)}")
        return value

    def _whole(self, table: str, key: str, usual: int, least: int, most: int) -> int:
        value = self._get(table, key)
        if value is None:
            return usual
        if type(value) is not int or not least <= value <= most:
            raise self._fail(table, key, f"use a whole number from {least} to {most}")
        return value

    def _step(self) -> Decimal:
        value = self._get("indicator", "step")
        if value is None:
            return Profile().scale.step
        number = self._number("indicator", "step", value)
        if number not in STEPS:
            allowed = ", ".join(str(step) for step in STEPS)
            raise self._fail("indicator", "step", f"use one of {allowed}")
        return next(step for step in STEPS if step == number)

    def _number(self, table: str, key: str, value: Any) -> Decimal:
        text = str(value) if type(value) in (int, str, Decimal) else ""
        if not re.fullmatch(r"[0-9]{1,9}(\.[0-9]{1,9})?", text, re.ASCII):
            raise self._fail(table, key, 'use a plain number such as "0.5"')
        return Decimal(text)

    def _parsed(self, table: str, key: str, value: Any, unit: Unit) -> Length:
        if type(value) not in (int, str, Decimal):
            raise self._fail(table, key, f'write a length such as "3 {unit}"')
        try:
            return parse_length(str(value), unit)
        except LengthError as error:
            raise self._fail(table, key, one_line(str(error))) from None

    def _size(self, table: str, key: str, unit: Unit, least: str, most: str) -> Length:
        value = self._get(table, key)
        if value is None:
            raise self._fail(table, key, f'it is missing: write {key} = "10 {unit}" or the like')
        return self._within(table, key, self._parsed(table, key, value, unit), least, most)

    def _within(self, table: str, key: str, length: Length, least: str, most: str) -> Length:
        if not parse_length(least, "in") <= length <= parse_length(most, "in"):
            raise self._fail(table, key, f"use something from {least} to {most}")
        return length

    def _over(self, unit: Unit) -> Length | None:
        value = self._get("", "tolerance_over")
        if value is None:
            return None
        length = self._parsed("", "tolerance_over", value, unit)
        return self._within("", "tolerance_over", length, "0.5 in", "200 in")

    def _offset(self, table: str, key: str, unit: Unit) -> Length:
        value = self._get(table, key)
        length = self._parsed(table, key, 0 if value is None else value, unit)
        return self._within(table, key, length, "-200 in", "200 in")

    def _span(self, unit: Unit) -> Length | None:
        value = self._get("shim", "span")
        if value is None:
            return None
        length = self._parsed("shim", "span", value, unit)
        return self._within("shim", "span", length, "0.1 in", "200 in")

    def _stock(self, unit: Unit) -> tuple[Decimal, ...]:
        value = self._get("shim", "stock")
        if value is None:
            raise self._fail("shim", "stock", 'it is missing: write stock = ["1.5", "2", "3"]')
        if type(value) is not list or len(value) > MAX_LEAVES:
            raise self._fail("shim", "stock", f"write up to {MAX_LEAVES} leaves in [ ]")
        return tuple(
            self._counts("shim", "stock", each, unit, "0.1 thou", "1 in") for each in value
        )

    def _noise(self, key: str, usual: Decimal, unit: Unit) -> Decimal:
        value = self._get("noise", key)
        return usual if value is None else self._counts("noise", key, value, unit, "0 in", "1 in")

    def _scatter(self, key: str, unit: Unit) -> tuple[Decimal, ...]:
        value = self._get("noise", key)
        if value is None:
            return ()
        if type(value) is not list or len(value) == 1 or len(value) > MAX_LEAVES:
            raise self._fail("noise", key, f"write none or 2 to {MAX_LEAVES} readings in [ ]")
        return tuple(self._counts("noise", key, each, unit, "-1 in", "1 in") for each in value)

    def _pull(self, unit: Unit) -> Decimal | None:
        value = self._get("noise", "lock_pull")
        if value is None:
            return None
        return self._counts("noise", "lock_pull", value, unit, "0 in", "1 in")

    def _counts(
        self, table: str, key: str, value: Any, unit: Unit, least: str, most: str
    ) -> Decimal:
        length = self._within(table, key, self._parsed(table, key, value, unit), least, most)
        counts = length.to(unit)
        if len(_plain(counts)) > 12:
            raise self._fail(table, key, f"{one_line(str(value))} has no short number of {unit}")
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


def _length(length: Length, unit: Unit) -> str:
    """The length in the unit, or in millimetres where it has no short number of that unit."""
    number = length.to(unit)
    if len(_plain(number)) <= 12 and Length.of(number, unit) == length:
        return f"{_plain(number)} {unit}"
    return f"{_plain(length.mm)} mm"


def _listed(counts: tuple[Decimal, ...]) -> str:
    return ", ".join(quoted(_plain(each)) for each in counts)


def _plain(number: Decimal) -> str:
    return f"{number:f}"


_ESCAPES: dict[str, str] = {'"': '\\"', "\\": "\\\\"}


def quoted(text: str) -> str:
    """A TOML basic string (TOML 1.0, "String")."""
    return '"' + "".join(_escaped(char) for char in text) + '"'


def _escaped(char: str) -> str:
    if char in _ESCAPES:
        return _ESCAPES[char]
    return char if char.isprintable() else f"\\U{ord(char):08x}"
