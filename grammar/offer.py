"""What may be said in one phase: the recogniser is armed with this and nothing else."""

from dataclasses import dataclass
from decimal import Decimal

from grammar.meaning import (
    Command,
    Meaning,
    OffScale,
    OffScaleReason,
    Reading,
    Shim,
    Side,
    Sign,
    Size,
    Unclear,
    Wish,
)
from grammar.scale import Scale
from grammar.vocabulary import BY_NAME, COMMANDS, STATIONS, Station

MOST_TOLERANCE = 50
"""Counts of a tolerance that is listened for: thou, or hundredths of a millimetre."""


@dataclass(frozen=True, slots=True)
class Offer:
    """What is listened for.

    ``commands``: names, the one that carries the job on first. ``readings``: called
    numbers of the scale, with or without a sign, or without one only where not ``signed``.
    ``turn``: a face that counts one way round shows 0 up to less than this many counts; 0
    for any other. ``stations``: a station may be named. ``signs``: a bare "plus" or "minus"
    is an answer, ``sides``: a bare station is. ``shim``: "shim three", and with
    ``shim_places`` its side of the bolt as well, "shim three above". ``sizes``: the largest whole
    inches or millimetres that can be named, their unit if one likes, 0 for none.
    ``any_tenths``: tenths of a thou are listened for whatever the scale's step, as in a
    recording whose dial is not known; else only those that the dial shows, as in a job.
    ``zeroing``: the dial is set to zero now, so that "zero" says the same as "zeroed".
    ``changes``: "tolerance three" and "sweep nine inches" are wishes that are listened for, sizes
    up to so many inches or millimetres; 0 for neither.
    ``awaited``: the station that is read next, if one is: another is less likely to be named.
    ``instead``: commands that people say in place of the one that carries on, as yes to "Locked?":
    they are heard, to be told that one, and are no part of ``phrases``.
    """

    scale: Scale
    commands: tuple[str, ...] = ()
    readings: bool = False
    stations: bool = True
    signs: bool = False
    shim: bool = False
    shim_places: bool = True
    sizes: int = 0
    signed: bool = True
    turn: int = 0
    sides: bool = False
    any_tenths: bool = True
    zeroing: bool = False
    awaited: Station | None = None
    changes: int = 0
    instead: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        unknown = [name for name in (*self.commands, *self.instead) if name not in COMMANDS]
        if unknown:
            raise ValueError(f"no such command: {', '.join(unknown)}")

    def allows(self, meaning: Meaning) -> bool:
        """Tell whether this meaning is one of those listened for."""
        match meaning:
            case Command(name=name):
                return name in self.commands or name in self.instead
            case Reading(value=value, station=None, unit=None, signed=False) if self.sizes:
                return 0 < value <= self.sizes
            case Reading(station=station):
                named = station is None or self.stations
                return self.readings and named and self._shows(meaning)
            case Sign():
                return self.signs
            case Side():
                return self.sides
            case Shim(place=place):
                return self.shim and (place is None or self.shim_places)
            case Size(value=value):
                return 0 < value <= self.sizes
            case OffScale(station=station):
                return self.readings and (station is None or self.stations)
            case Wish(name="tolerance" | "sweep", value=value) if self.changes and value:
                most = MOST_TOLERANCE if meaning.name == "tolerance" else self.changes
                return 0 < value <= most
            case Wish() | Unclear():
                return False

    def taken(self, meaning: Meaning) -> Meaning:
        """What this is taken for: of two that say the same now, always the one.

        A reading that is listened for but for its number is taken for that: off the scale.

        >>> Offer(Scale(reach=30), readings=True).taken(Reading(Decimal("-1.2"), signed=True))
        OffScale(value=Decimal('-1.2'), reason='finer', signed=True, station=None)
        """
        match meaning:
            case Reading(value=value, station=None, correction=False) if self.zeroing and not value:
                return Command("zeroed")
            case Reading(value=value, station=station) if self._off_scale(meaning):
                reason: OffScaleReason = "beyond" if self._beyond(value) else "finer"
                return OffScale(value, reason, meaning.signed, station)
            case _:
                return meaning

    def _off_scale(self, called: Reading) -> bool:
        """Whether this reading is listened for but for its number."""
        if not self.readings or (called.station is not None and not self.stations):
            return False
        if called.signed and called.value and (not self.signed or self.turn):
            return False
        return not self.allows(called)

    def _beyond(self, value: Decimal) -> bool:
        return abs(value) >= self.turn if self.turn else abs(value) > self.scale.reach

    def _shows(self, called: Reading) -> bool:
        """Whether the dial, or a stack of leaves, can show this number."""
        finer = called.unit == "um" or (called.unit == "tenth" and self.any_tenths)
        whole = finer or called.value % self.scale.step == 0
        if not self.signed and called.signed and called.value:
            return False
        if self.turn:
            return whole and 0 <= called.value < self.turn
        return whole and abs(called.value) <= self.scale.reach

    def phrases(self) -> tuple[str, ...]:
        """The fixed phrases that can be said now, those that carry the job on first.

        Called numbers are not listed: there is no end of them.
        """
        signs, sides = ("plus", "minus") if self.signs else (), STATIONS if self.sides else ()
        return (*signs, *sides, *(BY_NAME[name].says[0] for name in self.commands))


def everything(scale: Scale) -> Offer:
    """An offer of all readings and all commands."""
    return Offer(scale, COMMANDS, readings=True, shim=True)
