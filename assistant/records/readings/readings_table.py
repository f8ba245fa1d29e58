"""The readings of a readings file: stations or bearings, faces, leaves, and the rig.

Belongs here: what was read and with what. A face that counts one way round is turned into signed
readings here, so that nothing behind it need know.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Final

from assistant.metrology.dial import on_continuous
from assistant.metrology.lengths import ZERO, Length, Unit
from assistant.metrology.problem import StationReading
from assistant.metrology.rig import Rig
from assistant.metrology.stations import BEARING_OF, is_station
from assistant.records.readings.file_values import (
    ReadingsFileError,
    known_keys,
    length,
    list_of,
    needed,
    parsed,
    plain_text,
    table_of,
)

_STATIONS: Final = tuple(BEARING_OF)
_INDICATOR: Final = ("higher", "lever", "tip", "face", "per_turn")
_VALUE: Final = ("value", "no_go", "turns")


@dataclass(frozen=True, slots=True)
class DialFace:
    """How the dial counts: both ways from zero, or one way round to `per_turn` (not None)."""

    unit: Unit
    per_turn: Length | None = None

    def reading(self, shown: Length, turns: int | None, where: str, near: Length) -> Length:
        """What is shown as a signed reading: nearest to `near` unless the turns are told."""
        if self.per_turn is None:
            if turns is not None:
                raise ReadingsFileError(f'{where}.turns needs indicator.face = "continuous"')
            return shown
        unit = self.unit
        try:
            face = on_continuous(shown.to(unit), self.per_turn.to(unit), near.to(unit), turns=turns)
        except ValueError as error:
            raise ReadingsFileError(f"{where}: {error}") from error
        if face.ambiguous:
            raise ReadingsFileError(f"{where} is just half a turn away; give its turns")
        return Length.of(face.value, unit)


def rig_of(table: Mapping[str, object], square_height: Length | None) -> Rig:
    """The table `indicator` and the height of the square."""
    known_keys(table, _INDICATOR, "indicator.")
    match table.get("higher", "plus"):
        case "plus":
            rig = Rig()
        case "minus":
            rig = Rig(sign=-1)
        case other:
            raise ReadingsFileError(f'indicator.higher is "{other}"; use plus or minus')
    lever = _degrees(table.get("lever", 0), "indicator.lever", "degrees from 0 to 80", 80)
    match table.get("tip", "ball"):
        case "ball" | "involute" as tip:
            return Rig(rig.sign, lever, tip, square_height)
        case other:
            raise ReadingsFileError(f'indicator.tip is "{other}"; use ball or involute')


def face_of(table: Mapping[str, object], unit: Unit) -> DialFace:
    """The face of the dial in the table `indicator`."""
    per_turn = length(table, "per_turn", unit, "indicator.")
    match table.get("face", "balanced"):
        case "balanced":
            return DialFace(unit)
        case "continuous":
            if per_turn is None or per_turn <= ZERO:
                raise ReadingsFileError("indicator.per_turn is missing; give one turn of the dial")
            return DialFace(unit, per_turn)
        case other:
            raise ReadingsFileError(f'indicator.face is "{other}"; use balanced or continuous')


def readings_of(value: object, unit: Unit, name: str, face: DialFace) -> tuple[StationReading, ...]:
    """Named stations, or bearings with values, in the order taken."""
    if isinstance(value, Mapping):
        return _named(table_of(value, name), unit, name, face)
    found: list[StationReading] = []
    for n, item in enumerate(list_of(value, name), start=1):
        where = f"{name}[{n}]"
        table = table_of(item, where)
        known_keys(table, ("bearing", *_VALUE), f"{where}.")
        if "bearing" not in table:
            raise ReadingsFileError(f"{where}.bearing is missing; give degrees from the back")
        advice = "degrees from 0 to 360"
        bearing = _degrees(table["bearing"], f"{where}.bearing", advice, 3600)
        found.append(_reading(bearing, table, unit, where, face, found))
    return tuple(found)


def _named(
    table: Mapping[str, object], unit: Unit, name: str, face: DialFace
) -> tuple[StationReading, ...]:
    known_keys(table, _STATIONS, f"{name}.")
    missing = [station for station in _STATIONS if station not in table]
    if missing:
        verb = "is" if len(missing) == 1 else "are"
        raise ReadingsFileError(
            f"{name}: {' and '.join(missing)} {verb} missing; give all four, "
            "or bearings with three or more"
        )
    found: list[StationReading] = []
    for station, value in table.items():
        if is_station(station):
            where = f"{name}.{station}"
            one = value if isinstance(value, Mapping) else {"value": value}
            if isinstance(value, Mapping):
                known_keys(table_of(value, where), _VALUE, f"{where}.")
            else:
                parsed(value, unit, where)
            found.append(_reading(BEARING_OF[station], one, unit, where, face, found))
    return tuple(found)


def _reading(
    bearing: Decimal,
    table: Mapping[str, object],
    unit: Unit,
    where: str,
    face: DialFace,
    before: Sequence[StationReading],
) -> StationReading:
    """One reading; on a face that counts one way round, the one nearest to the first."""
    near = before[0].value if before else ZERO
    turns = table.get("turns")
    if turns is not None and type(turns) is not int:
        raise ReadingsFileError(f"{where}.turns is not a whole number; write one such as -1")
    value = face.reading(needed(table, "value", unit, f"{where}."), turns, where, near)
    return StationReading(bearing, value, length(table, "no_go", unit, f"{where}."))


def _degrees(value: object, where: str, advice: str, most: int) -> Decimal:
    try:
        number = Decimal(plain_text(value, where))
    except InvalidOperation as error:
        raise ReadingsFileError(f"{where} is not a number; give degrees from the back") from error
    if not number.is_finite() or abs(number) > most:
        raise ReadingsFileError(f"{where} is no such angle; give {advice}")
    return number
