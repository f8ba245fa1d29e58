"""A readings file, TOML or JSON, to a `Problem`.

Belongs here: reading, and errors that name the place and the remedy. What the numbers mean is
`assistant.metrology`'s business.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from math import isfinite
from pathlib import Path
from typing import Final, Literal, TextIO

from assistant.metrology.lengths import ZERO, Length, LengthError, Unit
from assistant.metrology.problem import (
    FrontMayBe,
    Method,
    Noise,
    Place,
    Problem,
    ProblemError,
    Shimming,
    Sweep,
    TapTrial,
    Trial,
)
from assistant.metrology.stock_sets import STOCKS
from assistant.records.readings.file_values import (
    LONGEST_LINE,
    ReadingsFileError,
    known_keys,
    length,
    lengths,
    lines_are_short,
    list_of,
    needed,
    table_of,
)
from assistant.records.readings.readings_table import DialFace, face_of, readings_of, rig_of

JobUnit = Literal["thou", "mm", "um"]

_TOP: Final = (
    "unit", "method", "sweep_diameter", "pivot_offset", "tolerance", "tolerance_over",
    "front_may_be", "readings", "closing", "repeats", "relocked", "taps", "shim",
    "noise", "indicator", "square_height", "history",
)  # fmt: skip
_SWEEP: Final = ("readings", "closing", "refitted")
_TAP: Final = ("change", "before", "after", "front_before", "front_after")
_SHIM: Final = ("span", "stock", "max_leaves", "trials", "fitted", "leaf_tolerance")
_TRIAL: Final = ("total", "before", "after", "place", "base", "side_before", "side_after")
_NOISE: Final = (
    "surface", "relock", "resolution", "lock_pull", "indicator_limit", "reading_sd", "relock_sd",
    "end_play", "surface_span", "surface_apart", "reading_dof", "relock_dof", "days_old",
)  # fmt: skip

# A sweep or a span below this was written without its unit.
_LEAST_MM: Final = Decimal(5)


MAX_CHARACTERS: Final = 100_000
"""A longer readings file is refused; a sweep has a few hundred."""


_OPEN_ALREADY: Final = ("/dev/fd/", "/proc/self/fd/", "/dev/stdin")
"""Where shells put the pipes that they have opened for us."""


def read_problem(path: str, stdin: TextIO | None = None) -> Problem:
    """The problem in the file at `path`, or on `stdin` when `path` is "-".

    Raises `ReadingsFileError` for a file that cannot be read or used.
    """
    if path == "-":
        if stdin is None:
            raise ReadingsFileError("there is no standard input; name a file")
        try:
            return problem_from_text(_short(stdin, "standard input"), "standard input")
        except UnicodeDecodeError as error:
            raise ReadingsFileError(
                "standard input is not UTF-8 text; send TOML or JSON"
            ) from error
    if Path(path).is_fifo() and not path.startswith(_OPEN_ALREADY):
        # To open one may wait for ever.
        raise ReadingsFileError(f"{path}: a pipe; name a file, or send it to standard input and -")
    try:
        # utf-8-sig: editors on some systems put a byte order mark in front.
        with Path(path).open(encoding="utf-8-sig") as file:
            text = _short(file, path)
    except UnicodeDecodeError as error:
        raise ReadingsFileError(f"{path}: not UTF-8 text; write TOML or JSON") from error
    except OSError as error:
        reason = error.strerror or "it cannot be read"
        raise ReadingsFileError(f"{path}: {reason}; check the name") from error
    return problem_from_text(text, path)


def _short(file: TextIO, name: str) -> str:
    text = file.read(MAX_CHARACTERS + 1)
    if len(text) > MAX_CHARACTERS:
        raise ReadingsFileError(
            f"{name}: longer than {MAX_CHARACTERS} characters; it is not a readings file"
        )
    return text


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
            return table_of(
                json.loads(text, parse_float=Decimal, object_pairs_hook=_no_key_twice), "file"
            )
        except ReadingsFileError:
            raise
        except json.JSONDecodeError as error:
            raise ReadingsFileError(f"line {error.lineno}: not JSON: {error.msg}") from error
        except (RecursionError, ValueError) as error:
            raise ReadingsFileError("not JSON: a number or its nesting is too big") from error
    if not lines_are_short(text):
        raise ReadingsFileError(f"not TOML: a line is longer than {LONGEST_LINE} characters")
    try:
        return tomllib.loads(text, parse_float=Decimal)
    except tomllib.TOMLDecodeError as error:
        # A station that is there twice ends here too: TOML refuses a key twice.
        reason = str(error)
        twice = "overwrite" in reason or "uplicate" in reason
        advice = "it is there twice, keep one" if twice else "write TOML or JSON"
        raise ReadingsFileError(f"{reason}; {advice}") from error
    except (RecursionError, ValueError) as error:
        raise ReadingsFileError("not TOML: a number or its nesting is too big") from error


def _no_key_twice(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found: dict[str, object] = {}
    for key, value in pairs:
        if key in found:
            raise ReadingsFileError(f"{key} is there twice; keep one")
        found[key] = value
    return found


def _problem(data: Mapping[str, object]) -> Problem:
    known_keys(data, _TOP, "")
    unit = _unit(data.get("unit", "thou"))
    shim = table_of(data.get("shim", {}), "shim")
    noise = table_of(data.get("noise", {}), "noise")
    indicator = table_of(data.get("indicator", {}), "indicator")
    face = face_of(indicator, unit)
    main = _sweep(data, "", unit, face)
    return Problem(
        unit=unit,
        method=_method(data.get("method", "indicator")),
        rig=rig_of(indicator, length(data, "square_height", unit)),
        readings=main.readings,
        closing=main.closing,
        sweep_diameter=_with_unit("sweep_diameter", length(data, "sweep_diameter", unit)),
        pivot_offset=length(data, "pivot_offset", unit) or ZERO,
        tolerance=length(data, "tolerance", unit),
        tolerance_over=_with_unit("tolerance_over", length(data, "tolerance_over", unit)),
        front_may_be=_front_may_be(data.get("front_may_be", "either")),
        shim=_shimming(shim, unit),
        noise=_noise(noise, unit),
        repeats=tuple(
            _repeat(table_of(item, f"repeats[{n}]"), f"repeats[{n}].", unit, face)
            for n, item in enumerate(list_of(data.get("repeats", []), "repeats"), start=1)
        ),
        history=tuple(
            _repeat(table_of(item, f"history[{n}]"), f"history[{n}].", unit, face)
            for n, item in enumerate(list_of(data.get("history", []), "history"), start=1)
        ),
        relocked=_flag(data.get("relocked", False), "relocked"),
        taps=tuple(
            _tap(table_of(item, f"taps[{n}]"), f"taps[{n}].", unit)
            for n, item in enumerate(list_of(data.get("taps", []), "taps"), start=1)
        ),
    )


def _repeat(table: Mapping[str, object], where: str, unit: Unit, face: DialFace) -> Sweep:
    known_keys(table, _SWEEP, where)
    sweep = _sweep(table, where, unit, face)
    return replace(sweep, refitted=_flag(table.get("refitted", False), f"{where}refitted"))


def _sweep(table: Mapping[str, object], where: str, unit: Unit, face: DialFace) -> Sweep:
    if "readings" not in table:
        raise ReadingsFileError(f"{where}readings are missing; give back, right, front and left")
    readings = readings_of(table["readings"], unit, f"{where}readings", face)
    closing = length(table, "closing", unit, where)
    if closing is not None and readings:
        closing = face.reading(closing, None, f"{where}closing", readings[0].value)
    return Sweep(readings, closing)


def _tap(table: Mapping[str, object], where: str, unit: Unit) -> TapTrial:
    known_keys(table, _TAP, where)
    change, before, after = (needed(table, key, unit, where) for key in _TAP[:3])
    fronts = (length(table, key, unit, where) for key in _TAP[3:])
    return TapTrial(change, before, after, *fronts)


def _flag(value: object, where: str) -> bool:
    if not isinstance(value, bool):
        raise ReadingsFileError(f"{where} is neither true nor false; write one of them")
    return value


def _shimming(table: Mapping[str, object], unit: Unit) -> Shimming:
    known_keys(table, _SHIM, "shim.")
    trials = list_of(table.get("trials", []), "shim.trials")
    most = table.get("max_leaves", 3)
    if not isinstance(most, int) or isinstance(most, bool):
        raise ReadingsFileError("shim.max_leaves is not a whole number; write one such as 3")
    return Shimming(
        span=_with_unit("shim.span", length(table, "span", unit, "shim.")),
        stock=_stock(table, unit),
        max_leaves=most,
        trials=tuple(
            _trial(table_of(trial, f"shim.trials[{n}]"), f"shim.trials[{n}].", unit)
            for n, trial in enumerate(trials, start=1)
        ),
        fitted=length(table, "fitted", unit, "shim."),
        leaf_tolerance=length(table, "leaf_tolerance", unit, "shim.") or ZERO,
    )


def _stock(table: Mapping[str, object], unit: Unit) -> tuple[Length, ...]:
    """Leaves one by one, or a usual set by its name."""
    name = table.get("stock", [])
    if not isinstance(name, str):
        return lengths(table, "stock", unit, "shim.")
    for known, leaves in STOCKS.items():
        if name == known:
            return leaves
    raise ReadingsFileError(f'shim.stock is "{name}"; list leaves, or name {", ".join(STOCKS)}')


def _trial(table: Mapping[str, object], where: str, unit: Unit) -> Trial:
    known_keys(table, _TRIAL, where)
    total, before, after = (needed(table, key, unit, where) for key in ("total", "before", "after"))
    return Trial(
        total=total,
        before=before,
        after=after,
        place=_place(table.get("place"), f"{where}place"),
        base=length(table, "base", unit, where),
        side_before=length(table, "side_before", unit, where),
        side_after=length(table, "side_after", unit, where),
    )


def _noise(table: Mapping[str, object], unit: Unit) -> Noise:
    known_keys(table, _NOISE, "noise.")
    return Noise(
        surface=lengths(table, "surface", unit, "noise."),
        relock=lengths(table, "relock", unit, "noise."),
        resolution=length(table, "resolution", unit, "noise."),
        lock_pull=length(table, "lock_pull", unit, "noise."),
        indicator_limit=length(table, "indicator_limit", unit, "noise."),
        reading_sd=length(table, "reading_sd", unit, "noise."),
        relock_sd=length(table, "relock_sd", unit, "noise."),
        end_play=length(table, "end_play", unit, "noise."),
        surface_span=_with_unit(
            "noise.surface_span", length(table, "surface_span", unit, "noise.")
        ),
        surface_apart=_with_unit(
            "noise.surface_apart", length(table, "surface_apart", unit, "noise.")
        ),
        reading_dof=_number(table, "reading_dof"),
        relock_dof=_number(table, "relock_dof"),
        days_old=_number(table, "days_old") or 0.0,
    )


def _number(table: Mapping[str, object], key: str) -> float | None:
    """A plain number of the noise table, None where it is not given."""
    value = table.get(key)
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | Decimal) or not isfinite(value):
        raise ReadingsFileError(f"noise.{key} is not a number; write one such as 4")
    return float(value)


def _unit(value: object) -> JobUnit:
    match value:
        case "thou" | "mm" | "um":
            return value
        case _:
            raise ReadingsFileError(f'unit is "{value}"; use thou, mm or um')


def _method(value: object) -> Method:
    match value:
        case "indicator" | "gap" | "square":
            return value
        case _:
            raise ReadingsFileError(f'method is "{value}"; use indicator, gap or square')


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
