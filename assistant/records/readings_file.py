"""A readings file, TOML or JSON, to a `Problem`.

Belongs here: reading, and errors that name the place and the remedy. What the numbers mean is
`assistant.metrology`'s business.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping, Sequence
from decimal import Decimal, InvalidOperation
from difflib import get_close_matches
from pathlib import Path
from typing import Final, Literal, TextIO

from assistant.metrology.lengths import ZERO, Length, LengthError, Unit, parse_length
from assistant.metrology.problem import (
    FrontMayBe,
    Method,
    Noise,
    Place,
    Problem,
    ProblemError,
    Reading,
    Shimming,
    Sweep,
    TapTrial,
    Trial,
)
from assistant.metrology.stations import BEARING_OF, is_station
from assistant.metrology.stock_sets import STOCKS

JobUnit = Literal["thou", "mm", "um"]

_STATIONS: Final = tuple(BEARING_OF)
_TOP: Final = (
    "unit", "method", "sweep_diameter", "pivot_offset", "tolerance", "tolerance_over",
    "front_may_be", "readings", "closing", "repeats", "relocked", "taps", "shim",
    "noise",
)  # fmt: skip
_SWEEP: Final = ("readings", "closing", "refitted")
_TAP: Final = ("change", "before", "after")
_SHIM: Final = ("span", "stock", "max_leaves", "trials", "fitted")
_TRIAL: Final = ("total", "before", "after", "place", "base")
_NOISE: Final = (
    "surface", "relock", "resolution", "lock_pull", "indicator_limit", "reading_sd", "relock_sd",
)  # fmt: skip

# A sweep or a span below this was written without its unit.
_LEAST_MM: Final = Decimal(5)


class ReadingsFileError(ValueError):
    """A readings file that cannot be used; the message is one line and says what to do."""


def read_problem(path: str, stdin: TextIO | None = None) -> Problem:
    """The problem in the file at `path`, or on `stdin` when `path` is "-".

    Raises `ReadingsFileError` for a file that cannot be read or used.
    """
    if path == "-":
        if stdin is None:
            raise ReadingsFileError("there is no standard input; name a file")
        try:
            return problem_from_text(stdin.read(), "standard input")
        except UnicodeDecodeError as error:
            raise ReadingsFileError(
                "standard input is not UTF-8 text; send TOML or JSON"
            ) from error
    try:
        # utf-8-sig: editors on some systems put a byte order mark in front.
        text = Path(path).read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise ReadingsFileError(f"{path}: not UTF-8 text; write TOML or JSON") from error
    except OSError as error:
        reason = error.strerror or "it cannot be read"
        raise ReadingsFileError(f"{path}: {reason}; check the name") from error
    return problem_from_text(text, path)


def problem_from_text(text: str, name: str = "readings") -> Problem:
    """The problem in `text`, JSON if it opens with a brace and TOML otherwise.

    `name` stands in front of error messages. Raises `ReadingsFileError`.
    """
    if not text.strip():
        raise ReadingsFileError(f"{name}: empty; give unit and readings")
    try:
        return _problem(_parse(text))
    except (LengthError, ProblemError, ReadingsFileError) as error:
        raise ReadingsFileError(f"{name}: {error}") from error


def _parse(text: str) -> Mapping[str, object]:
    if text.lstrip().startswith("{"):
        try:
            return _table(
                json.loads(text, parse_float=Decimal, object_pairs_hook=_no_key_twice), "file"
            )
        except ReadingsFileError:
            raise
        except json.JSONDecodeError as error:
            raise ReadingsFileError(f"line {error.lineno}: no JSON: {error.msg}") from error
        except (RecursionError, ValueError) as error:
            raise ReadingsFileError("no JSON: a number or its nesting is too big") from error
    try:
        return tomllib.loads(text, parse_float=Decimal)
    except tomllib.TOMLDecodeError as error:
        # A station that is there twice ends here too: TOML refuses a key twice.
        reason = str(error)
        twice = "overwrite" in reason or "uplicate" in reason
        advice = "it is there twice, keep one" if twice else "write TOML or JSON"
        raise ReadingsFileError(f"{reason}; {advice}") from error
    except (RecursionError, ValueError) as error:
        raise ReadingsFileError("no TOML: a number or its nesting is too big") from error


def _no_key_twice(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found: dict[str, object] = {}
    for key, value in pairs:
        if key in found:
            raise ReadingsFileError(f"{key} is there twice; keep one")
        found[key] = value
    return found


def _problem(data: Mapping[str, object]) -> Problem:
    _known_keys(data, _TOP, "")
    unit = _unit(data.get("unit", "thou"))
    shim = _table(data.get("shim", {}), "shim")
    noise = _table(data.get("noise", {}), "noise")
    if "readings" not in data:
        raise ReadingsFileError("readings are missing; give back, right, front and left")
    return Problem(
        unit=unit,
        method=_method(data.get("method", "indicator")),
        readings=_readings(data["readings"], unit),
        closing=_length(data, "closing", unit),
        sweep_diameter=_with_unit("sweep_diameter", _length(data, "sweep_diameter", unit)),
        pivot_offset=_length(data, "pivot_offset", unit) or ZERO,
        tolerance=_length(data, "tolerance", unit),
        tolerance_over=_with_unit("tolerance_over", _length(data, "tolerance_over", unit)),
        front_may_be=_front_may_be(data.get("front_may_be", "either")),
        shim=_shimming(shim, unit),
        noise=_noise(noise, unit),
        repeats=tuple(
            _sweep(_table(item, f"repeats[{n}]"), f"repeats[{n}].", unit)
            for n, item in enumerate(_list(data.get("repeats", []), "repeats"), start=1)
        ),
        relocked=_flag(data.get("relocked", False), "relocked"),
        taps=tuple(
            _tap(_table(item, f"taps[{n}]"), f"taps[{n}].", unit)
            for n, item in enumerate(_list(data.get("taps", []), "taps"), start=1)
        ),
    )


def _sweep(table: Mapping[str, object], where: str, unit: Unit) -> Sweep:
    _known_keys(table, _SWEEP, where)
    if "readings" not in table:
        raise ReadingsFileError(f"{where}readings are missing; give back, right, front and left")
    return Sweep(
        readings=_readings(table["readings"], unit, f"{where}readings"),
        closing=_length(table, "closing", unit, where),
        refitted=_flag(table.get("refitted", False), f"{where}refitted"),
    )


def _tap(table: Mapping[str, object], where: str, unit: Unit) -> TapTrial:
    _known_keys(table, _TAP, where)
    change, before, after = (_needed(table, key, unit, where) for key in _TAP)
    return TapTrial(change, before, after)


def _flag(value: object, where: str) -> bool:
    if not isinstance(value, bool):
        raise ReadingsFileError(f"{where} is neither true nor false; write one of them")
    return value


def _shimming(table: Mapping[str, object], unit: Unit) -> Shimming:
    _known_keys(table, _SHIM, "shim.")
    trials = _list(table.get("trials", []), "shim.trials")
    most = table.get("max_leaves", 3)
    if not isinstance(most, int) or isinstance(most, bool):
        raise ReadingsFileError("shim.max_leaves is no whole number; write one such as 3")
    return Shimming(
        span=_with_unit("shim.span", _length(table, "span", unit, "shim.")),
        stock=_stock(table, unit),
        max_leaves=most,
        trials=tuple(
            _trial(_table(trial, f"shim.trials[{n}]"), f"shim.trials[{n}].", unit)
            for n, trial in enumerate(trials, start=1)
        ),
        fitted=_length(table, "fitted", unit, "shim."),
    )


def _stock(table: Mapping[str, object], unit: Unit) -> tuple[Length, ...]:
    """Leaves one by one, or a usual set by its name."""
    name = table.get("stock", [])
    if not isinstance(name, str):
        return _lengths(table, "stock", unit, "shim.")
    for known, leaves in STOCKS.items():
        if name == known:
            return leaves
    raise ReadingsFileError(f'shim.stock is "{name}"; list leaves, or name {", ".join(STOCKS)}')


def _trial(table: Mapping[str, object], where: str, unit: Unit) -> Trial:
    _known_keys(table, _TRIAL, where)
    total, before, after = (
        _needed(table, key, unit, where) for key in ("total", "before", "after")
    )
    return Trial(
        total=total,
        before=before,
        after=after,
        place=_place(table.get("place"), f"{where}place"),
        base=_length(table, "base", unit, where),
    )


def _noise(table: Mapping[str, object], unit: Unit) -> Noise:
    _known_keys(table, _NOISE, "noise.")
    return Noise(
        surface=_lengths(table, "surface", unit, "noise."),
        relock=_lengths(table, "relock", unit, "noise."),
        resolution=_length(table, "resolution", unit, "noise."),
        lock_pull=_length(table, "lock_pull", unit, "noise."),
        indicator_limit=_length(table, "indicator_limit", unit, "noise."),
        reading_sd=_length(table, "reading_sd", unit, "noise."),
        relock_sd=_length(table, "relock_sd", unit, "noise."),
    )


def _readings(value: object, unit: Unit, name: str = "readings") -> tuple[Reading, ...]:
    if isinstance(value, Mapping):
        return _named(_table(value, name), unit, name)
    found = []
    for n, item in enumerate(_list(value, name), start=1):
        where = f"{name}[{n}]"
        table = _table(item, where)
        _known_keys(table, ("bearing", "value"), f"{where}.")
        if "bearing" not in table:
            raise ReadingsFileError(f"{where}.bearing is missing; give degrees from the back")
        bearing = _bearing(table["bearing"], f"{where}.bearing")
        found.append(Reading(bearing, _needed(table, "value", unit, f"{where}.")))
    return tuple(found)


def _named(table: Mapping[str, object], unit: Unit, name: str) -> tuple[Reading, ...]:
    _known_keys(table, _STATIONS, f"{name}.")
    missing = [station for station in _STATIONS if station not in table]
    if missing:
        verb = "is" if len(missing) == 1 else "are"
        raise ReadingsFileError(
            f"{name}: {' and '.join(missing)} {verb} missing; give all four, "
            "or bearings with three or more"
        )
    return tuple(
        Reading.at(station, _needed(table, station, unit, f"{name}."))
        for station in table
        if is_station(station)
    )


def _bearing(value: object, where: str) -> Decimal:
    try:
        number = Decimal(_text(value, where))
    except InvalidOperation as error:
        raise ReadingsFileError(f"{where} is no number; give degrees from the back") from error
    if not number.is_finite() or abs(number) > 3600:
        raise ReadingsFileError(f"{where} is no bearing; give degrees from 0 to 360")
    return number


def _unit(value: object) -> JobUnit:
    match value:
        case "thou" | "mm" | "um":
            return value
        case _:
            raise ReadingsFileError(f'unit is "{value}"; use thou, mm or um')


def _method(value: object) -> Method:
    match value:
        case "indicator" | "gap":
            return value
        case _:
            raise ReadingsFileError(f'method is "{value}"; use indicator or gap')


def _front_may_be(value: object) -> FrontMayBe:
    match value:
        case "either" | "high" | "low":
            return value
        case _:
            raise ReadingsFileError(f'front_may_be is "{value}"; use either, high or low')


def _place(value: object, where: str) -> Place | None:
    match value:
        case None | "above" | "below":
            return value
        case _:
            raise ReadingsFileError(f'{where} is "{value}"; use above or below')


def _with_unit(name: str, length: Length | None) -> Length | None:
    if length is not None and ZERO < length < Length(_LEAST_MM):
        raise ReadingsFileError(f'{name} is {length.mm} mm only; name its unit, such as "10 in"')
    return length


def _needed(table: Mapping[str, object], key: str, unit: Unit, where: str) -> Length:
    length = _length(table, key, unit, where)
    if length is None:
        raise ReadingsFileError(f"{where}{key} is missing; give a number")
    return length


def _length(table: Mapping[str, object], key: str, unit: Unit, where: str = "") -> Length | None:
    if table.get(key) is None:
        return None
    return _parsed(table[key], unit, f"{where}{key}")


def _lengths(table: Mapping[str, object], key: str, unit: Unit, where: str) -> tuple[Length, ...]:
    items = _list(table.get(key, []), f"{where}{key}")
    return tuple(_parsed(item, unit, f"{where}{key}[{n}]") for n, item in enumerate(items, start=1))


def _parsed(value: object, unit: Unit, where: str) -> Length:
    try:
        return parse_length(_text(value, where), unit)
    except LengthError as error:
        raise ReadingsFileError(f"{where}: {error}") from error


def _text(value: object, where: str) -> str:
    """Numbers as they were written: TOML and JSON give Decimals here, never floats."""
    match value:
        case bool():
            raise ReadingsFileError(f"{where} is true or false; give a number")
        case str():
            return value
        case int():
            return str(value)
        case Decimal():
            return f"{value:f}"
        case _:
            raise ReadingsFileError(f"{where} is no number; write one such as 6")


def _table(value: object, where: str) -> Mapping[str, object]:
    if not isinstance(value, Mapping):
        raise ReadingsFileError(f"{where} is no table; write names and values")
    return {str(key): item for key, item in value.items()}


def _list(value: object, where: str) -> Sequence[object]:
    if not isinstance(value, list):
        raise ReadingsFileError(f"{where} is no list; write values in brackets")
    return value


def _known_keys(table: Mapping[str, object], known: Sequence[str], where: str) -> None:
    for key in table:
        if key not in known:
            near = get_close_matches(key, known, n=1)
            hint = f"did you mean {near[0]}?" if near else f"use {', '.join(known)}"
            raise ReadingsFileError(f"{where}{key} is not known; {hint}")
