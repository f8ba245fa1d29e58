"""Frozen dataclasses to JSON-able data and back, derived from fields and type hints.

Belongs here: the one translation that journal, snapshots and exports share. Not here: where
the data is kept, and what it means. A dataclass becomes an object with its fields; where it
may be one of several classes, the object carries a "kind" besides. Decimals become strings,
so that they come back exactly.
"""

import json
import math
import re
import types
from collections.abc import Callable, Iterable
from dataclasses import MISSING, fields, is_dataclass
from decimal import Decimal
from enum import Enum
from functools import cache, lru_cache
from itertools import repeat
from typing import Any, Literal, Union, cast, get_args, get_origin, get_type_hints

from assistant.dialogue.messages import Event

Json = Any
"""What `json.loads` gives: dict, list, str, int, float, bool or None."""

MAX_ROW_CHARACTERS = 1_000_000
"""A longer row is refused: no event has a thousandth of it."""

_KIND = "kind"
_DECIMAL = re.compile(r"-?[0-9]{1,100}(\.[0-9]{1,100})?(E[+-]?[0-9]{1,2})?")


class CodecError(ValueError):
    """Data that is not of the wanted type; the message names the place in it.

    ``newer``: it has a kind or a key that this version does not know, so that a newer
    version wrote it.
    """

    def __init__(self, problem: str, *, newer: bool = False, where: str = "") -> None:
        super().__init__(problem)
        self.problem = problem
        self.newer = newer
        self.where = where

    def __str__(self) -> str:
        return f"{self.where.lstrip('.') or 'the value'}: {self.problem}"

    def within(self, part: str) -> "CodecError":
        """The same error seen from one level further out."""
        return CodecError(self.problem, newer=self.newer, where=part + self.where)


class DamagedEvent(ValueError):
    """An event that cannot be read; ``number`` counts from 1 within its job."""

    def __init__(self, number: int, reason: str, *, newer: bool = False) -> None:
        advice = " (a newer sweepsay wrote it: install that version)" if newer else ""
        super().__init__(f"event {number} cannot be read: {reason}{advice}")
        self.number = number
        self.newer = newer


def encode(value: object, wanted: Any) -> Json:
    """The JSON-able form of a value of the type ``wanted``, a class or a union of classes.

    Raises CodecError for a number that JSON cannot hold.
    """
    return _coder(wanted).encode(value)


def decode(data: Json, wanted: Any) -> Any:
    """The value of the type ``wanted`` that was encoded; raises CodecError."""
    return _coder(wanted).decode(data)


def write_event(event: Event) -> str:
    """One event as one line of ASCII JSON; raises CodecError for a number that is not finite."""
    return json.dumps(encode(event, Event), separators=(",", ":"), allow_nan=False)


def read_event(text: str, number: int) -> Event:
    """The event that was written; raises DamagedEvent with the number."""
    return event_from(read_json(text, number), number)


def event_from(data: Json, number: int) -> Event:
    """The event in data that was JSON; raises DamagedEvent with the number."""
    try:
        return cast("Event", decode(data, Event))
    except CodecError as error:
        raise DamagedEvent(number, str(error), newer=error.newer) from None


def read_json(text: str, number: int) -> Json:
    """The data of one row; raises DamagedEvent with the number."""
    if len(text) > MAX_ROW_CHARACTERS:
        raise DamagedEvent(number, f"it is longer than {MAX_ROW_CHARACTERS} characters")
    try:
        return read_json_document(text)
    except ValueError as error:
        raise DamagedEvent(number, str(error)) from None


def read_json_document(text: str) -> Json:
    """JSON of any length; raises ValueError with what is wrong for whatever is not RFC 8259."""
    try:
        return json.loads(text, parse_constant=_no_constant)
    except RecursionError:
        raise ValueError("it is nested too deeply") from None
    except ValueError as error:
        raise ValueError(f"it is not JSON ({error})") from None


def _no_constant(name: str) -> None:
    raise ValueError(f"{name} is not allowed in JSON (RFC 8259)")


class _Coder:
    """The two directions of one type."""

    __slots__ = ("decode", "encode")

    def __init__(self, encode: Callable[[Any], Json], decode: Callable[[Json], Any]) -> None:
        self.encode = encode
        self.decode = decode


@cache
def _coder(wanted: Any) -> _Coder:
    """Build the coder of a type once.

    An unsupported type is a mistake in the program, hence TypeError.
    """
    origin = get_origin(wanted)
    if origin in (Union, types.UnionType):
        return _union(get_args(wanted))
    if origin is Literal:
        return _literal(get_args(wanted))
    if origin is tuple:
        return _tuple(get_args(wanted))
    if wanted in _PLAIN:
        return _PLAIN[wanted]
    if isinstance(wanted, type) and issubclass(wanted, Enum):
        return _enum(wanted)
    if isinstance(wanted, type) and is_dataclass(wanted):
        return _dataclass(wanted)
    raise TypeError(f"the record cannot keep a {wanted}: add it to the codec")


def kind_of(cls: type) -> str:
    """The "kind" of a class in a union: its name in lower case with underscores."""
    return re.sub(r"(?<=[a-z0-9])(?=[A-Z])", "_", cls.__name__).lower()


def _exactly(cls: type, name: str) -> _Coder:
    def decode(data: Json) -> Any:
        # `type` and not `isinstance`: True must not pass for 1.
        if type(data) is not cls:
            raise CodecError(f"{name} is wanted, not {_short(data)}")
        return data

    return _Coder(lambda value: value, decode)


_INFINITE: dict[str, float] = {"inf": math.inf, "-inf": -math.inf}


def _encode_float(value: Any) -> Json:
    if math.isfinite(value):
        return float(value)
    # JSON has no infinity (RFC 8259, 6); degrees of freedom can be infinite.
    if math.isinf(value):
        return str(float(value))
    raise CodecError(f"{value} is not a number that the record can keep")


def _decode_float(data: Json) -> float:
    if type(data) is str and data in _INFINITE:
        return _INFINITE[data]
    if type(data) not in (float, int) or not math.isfinite(data):
        raise CodecError(f"a number is wanted, not {_short(data)}")
    return float(data)


def _encode_decimal(value: Any) -> Json:
    text = str(value)
    if not _DECIMAL.fullmatch(text):
        raise CodecError(f"{_short(text)} is not a number that the record can keep")
    return text


@lru_cache(maxsize=4096)
def _decimal(text: str) -> Decimal | None:
    return Decimal(text) if _DECIMAL.fullmatch(text) else None


def _decode_decimal(data: Json) -> Decimal:
    value = _decimal(data) if type(data) is str else None
    if value is None:
        raise CodecError(f'a number in quotes is wanted ("1.5"), not {_short(data)}')
    return value


def _decode_none(data: Json) -> None:
    if data is not None:
        raise CodecError(f"null is wanted, not {_short(data)}")


_PLAIN: dict[Any, _Coder] = {
    str: _exactly(str, "text"),
    int: _exactly(int, "a whole number"),
    bool: _exactly(bool, "true or false"),
    float: _Coder(_encode_float, _decode_float),
    Decimal: _Coder(_encode_decimal, _decode_decimal),
    type(None): _Coder(lambda value: value, _decode_none),
}


def _literal(values: tuple[Any, ...]) -> _Coder:
    def decode(data: Json) -> Any:
        if type(data) is not str or data not in values:
            known = ", ".join(map(str, values))
            raise CodecError(f"one of {known} is wanted, not {_short(data)}")
        return data

    if not all(type(value) is str for value in values):
        raise TypeError(f"the record keeps literals of text only, not {values}")
    return _Coder(lambda value: value, decode)


def _enum(wanted: type[Enum]) -> _Coder:
    if not all(type(member.value) is str for member in _members(wanted)):
        raise TypeError(f"the record keeps enumerations of text only, not {wanted}")

    def decode(data: Json) -> Any:
        for member in _members(wanted) if type(data) is str else ():
            if member.value == data:
                return member
        problem = f"{_short(data)} is not known as a {wanted.__name__.lower()}"
        raise CodecError(problem, newer=True)

    return _Coder(lambda value: value.value, decode)


def _members(wanted: type[Enum]) -> list[Enum]:
    """An enumeration's members; one that others derive from stands for all of theirs."""
    return [member for kind in (wanted, *wanted.__subclasses__()) for member in kind]


def _tuple(arguments: tuple[Any, ...]) -> _Coder:
    if len(arguments) == 2 and arguments[1] is Ellipsis:
        item = _coder(arguments[0])
        return _Coder(
            lambda value: [item.encode(each) for each in value],
            lambda data: _decoded_list(data, repeat(item)),
        )
    items = [_coder(each) for each in arguments]

    def decode(data: Json) -> Any:
        if type(data) is list and len(data) != len(items):
            raise CodecError(f"{len(items)} values are wanted, not {len(data)}")
        return _decoded_list(data, items)

    return _Coder(
        lambda value: [coder.encode(each) for coder, each in zip(items, value, strict=True)],
        decode,
    )


def _decoded_list(data: Json, coders: Iterable[_Coder]) -> tuple[Any, ...]:
    if type(data) is not list:
        raise CodecError(f"a list is wanted, not {_short(data)}")
    values: list[Any] = []
    try:
        # Not strict: the coders may go on for ever.
        for coder, each in zip(coders, data, strict=False):
            values.append(coder.decode(each))
    except CodecError as error:
        raise error.within(f"[{len(values)}]") from None
    return tuple(values)


def _dataclass(wanted: type) -> _Coder:
    hints = get_type_hints(wanted)
    names = {field.name: _coder(hints[field.name]) for field in fields(wanted)}
    required = [
        field.name
        for field in fields(wanted)
        if field.default is MISSING and field.default_factory is MISSING
    ]

    def encode(value: Any) -> Json:
        return {name: coder.encode(getattr(value, name)) for name, coder in names.items()}

    def decode(data: Json) -> Any:
        if type(data) is not dict:
            raise CodecError(f"an object is wanted, not {_short(data)}")
        values: dict[str, Any] = {}
        for key, each in data.items():
            coder = names.get(key)
            if coder is None:
                raise CodecError(f"the key {_short(key)} is not known", newer=True)
            try:
                values[key] = coder.decode(each)
            except CodecError as error:
                raise error.within(f".{key}") from None
        for name in required:
            if name not in values:
                raise CodecError(f'the key "{name}" is missing')
        try:
            return wanted(**values)
        except ValueError as error:
            raise CodecError(str(error)) from None

    return _Coder(encode, decode)


def _union(members: tuple[Any, ...]) -> _Coder:
    classes = [cast("type", member) for member in members if is_dataclass(member)]
    others = [member for member in members if member not in classes]
    if len(members) == 2 and others and others[-1] is type(None):
        return _optional(_coder(members[0]))
    if others not in ([], [type(None)]):
        raise TypeError(f"the record keeps unions of classes and None only, not {members}")
    by_class = {cls: (kind_of(cls), _coder(cls)) for cls in classes}
    by_kind = dict(by_class.values())
    if len(by_kind) != len(classes) or any("kind" in _names(cls) for cls in classes):
        raise TypeError(f"the kinds of {members} would be mixed up in the record")

    def encode(value: Any) -> Json:
        kind, coder = by_class[type(value)]
        return {_KIND: kind, **coder.encode(value)}

    def decode(data: Json) -> Any:
        if type(data) is not dict or type(data.get(_KIND)) is not str:
            raise CodecError(f'an object with a "kind" is wanted, not {_short(data)}')
        coder = by_kind.get(data[_KIND])
        if coder is None:
            raise CodecError(f"the kind {_short(data[_KIND])} is not known", newer=True)
        rest = data.copy()
        del rest[_KIND]
        return coder.decode(rest)

    coder = _Coder(encode, decode)
    return _optional(coder) if others else coder


def _names(cls: Any) -> set[str]:
    return {field.name for field in fields(cls)}


def _optional(coder: _Coder) -> _Coder:
    return _Coder(
        lambda value: None if value is None else coder.encode(value),
        lambda data: None if data is None else coder.decode(data),
    )


def _short(data: Json) -> str:
    """The data as it may stand in a message of one line."""
    text = ascii(data)
    return text if len(text) <= 40 else text[:37] + "..."
