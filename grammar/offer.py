"""What may be said in one phase: the recogniser is armed with this and nothing else."""

from dataclasses import dataclass

from grammar.meaning import Command, Meaning, Reading, Shim, Side, Sign, Size, Unclear
from grammar.scale import Scale
from grammar.vocabulary import BY_NAME, COMMANDS, STATIONS


@dataclass(frozen=True, slots=True)
class Offer:
    """What is listened for.

    ``commands``: names, the one that carries the job on first. ``readings``: called
    numbers of the scale, with or without a sign, or without one only where not ``signed``.
    ``turn``: a face that counts one way round shows 0 up to less than this many counts; 0
    for any other. ``stations``: a station may be named. ``signs``: a bare "plus" or "minus"
    is an answer, ``sides``: a bare station is. ``shim``: "shim three above". ``sizes``: the
    largest whole inches or millimetres that can be named, their unit if one likes, 0 for
    none. ``any_tenths``: tenths of a thou are listened for whatever the scale's step, as in a
    recording whose dial is not known; else only those that the dial shows, as in a job.
    ``zeroing``: the dial is set to zero now, so that "zero" says the same as "zeroed".
    """

    scale: Scale
    commands: tuple[str, ...] = ()
    readings: bool = False
    stations: bool = True
    signs: bool = False
    shim: bool = False
    sizes: int = 0
    signed: bool = True
    turn: int = 0
    sides: bool = False
    any_tenths: bool = True
    zeroing: bool = False

    def __post_init__(self) -> None:
        unknown = [name for name in self.commands if name not in COMMANDS]
        if unknown:
            raise ValueError(f"no such command: {', '.join(unknown)}")

    def allows(self, meaning: Meaning) -> bool:
        """Tell whether this meaning is one of those listened for."""
        match meaning:
            case Command(name=name):
                return name in self.commands
            case Reading(value=value, station=None, unit=None, signed=False) if self.sizes:
                return 0 < value <= self.sizes
            case Reading(station=station):
                named = station is None or self.stations
                return self.readings and named and self._shows(meaning)
            case Sign():
                return self.signs
            case Side():
                return self.sides
            case Shim():
                return self.shim
            case Size(value=value):
                return 0 < value <= self.sizes
            case Unclear():
                return False

    def taken(self, meaning: Meaning) -> Meaning:
        """What this is taken for: of two that say the same now, always the one."""
        match meaning:
            case Reading(value=value, station=None, correction=False) if self.zeroing and not value:
                return Command("zeroed")
            case _:
                return meaning

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
        """The fixed phrases that can be said now, the one that carries the job on first.

        Called numbers are not listed: there is no end of them.
        """
        fixed = [BY_NAME[name].says[0] for name in self.commands]
        if self.signs:
            fixed += ["plus", "minus"]
        if self.sides:
            fixed += STATIONS
        return tuple(fixed)


def everything(scale: Scale) -> Offer:
    """An offer of all readings and all commands."""
    return Offer(scale, COMMANDS, readings=True, shim=True)
