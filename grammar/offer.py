"""What may be said in one phase: the recogniser is armed with this and nothing else."""

from dataclasses import dataclass

from grammar.meaning import Command, Meaning, Reading, Shim, Sign, Size, Unclear
from grammar.scale import Scale
from grammar.vocabulary import BY_NAME, COMMANDS


@dataclass(frozen=True, slots=True)
class Offer:
    """What is listened for.

    ``commands``: names, the one that carries the job on first. ``readings``: called
    numbers of the scale, with or without a sign. ``stations``: a station may be named.
    ``signs``: a bare "plus" or "minus" is an answer. ``shim``: "shim three above".
    ``sizes``: the largest whole inches or millimetres that can be named, their unit if one
    likes, 0 for none.
    """

    scale: Scale
    commands: tuple[str, ...] = ()
    readings: bool = False
    stations: bool = True
    signs: bool = False
    shim: bool = False
    sizes: int = 0

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
            case Reading(value=value, station=station, unit=unit):
                in_scale = unit in ("tenth", "um") or self.scale.shows(value)
                named = station is None or self.stations
                return self.readings and named and in_scale and abs(value) <= self.scale.reach
            case Sign():
                return self.signs
            case Shim():
                return self.shim
            case Size(value=value):
                return 0 < value <= self.sizes
            case Unclear():
                return False

    def phrases(self) -> tuple[str, ...]:
        """The fixed phrases that can be said now, the one that carries the job on first.

        Called numbers are not listed: there is no end of them.
        """
        fixed = [BY_NAME[name].says[0] for name in self.commands]
        if self.signs:
            fixed += ["plus", "minus"]
        return tuple(fixed)


def everything(scale: Scale) -> Offer:
    """An offer of all readings and all commands."""
    return Offer(scale, COMMANDS, readings=True, shim=True)
