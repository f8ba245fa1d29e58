"""Meaning to words: the inverse of ``parse``; every number that is spoken comes from here."""

from decimal import Decimal
from typing import Literal

from grammar.meaning import (
    Command,
    Meaning,
    OffScale,
    Reading,
    Shim,
    Side,
    Sign,
    Size,
    Unclear,
    Wish,
)
from grammar.numerals import number_words
from grammar.scale import Scale
from grammar.vocabulary import BY_NAME

Way = Literal["signed", "plain", "ends"]
"""How a reading is spoken: with its sign, without one where it has none (a gap), or with the
end at which a square stands open, the bottom for plus."""


def signed_words(value: Decimal, *, digitwise: bool = False) -> str:
    """A value with its sign: "plus six", "minus a quarter", and "zero" by itself."""
    if value == 0:
        return "zero"
    sign = "minus" if value < 0 else "plus"
    return f"{sign} {number_words(value, digitwise=digitwise)}"


def value_words(value: Decimal, way: Way, *, digitwise: bool = False) -> str:
    """A reading as it is spoken: "plus six", or "six" for a gap."""
    if way == "plain":
        return number_words(value, digitwise=digitwise)
    if way == "ends" and value:
        end = "bottom" if value > 0 else "top"
        return f"{number_words(abs(value), digitwise=digitwise)} at the {end}"
    return signed_words(value, digitwise=digitwise)


def words(meaning: Meaning, scale: Scale) -> str:
    """The usual words of a meaning; ``parse`` at this scale gives the same meaning back."""
    match meaning:
        case Command(name=name):
            return BY_NAME[name].says[0]
        case Sign(name=name):
            return name
        case Side(station=station):
            return station
        case Reading(value=value, signed=signed, station=station, unit=unit, correction=again):
            spoken = _in_unit(value, unit, scale)
            number = signed_words(spoken) if signed else number_words(spoken)
            parts = ["correction" if again else "", station or "", number]
            parts.append(BY_NAME[unit].says[0] if unit else "")
            return " ".join(part for part in parts if part)
        case Shim(place=place):
            return f"shim {_shim_words(meaning, scale)}" + (f" {place}" if place else "")
        case Size(value=value, unit=unit):
            return f"{number_words(value)} {BY_NAME[unit].says[0]}"
        case OffScale(value=value, signed=signed, station=station):
            number = signed_words(value) if signed else number_words(value)
            return f"{station} {number}" if station else number
        case Wish():
            return _wish_words(meaning)
        case Unclear(words=heard):
            return heard


def _wish_words(wish: Wish) -> str:
    match wish.name:
        case "what was":
            return f"what was the {wish.station}"
        case "note":
            return f"note {wish.text}"
        case "tolerance" | "sweep" | "take back":
            unit = f" {BY_NAME[wish.unit].says[0]}" if wish.unit else ""
            return f"{wish.name} {number_words(wish.value or Decimal(0))}{unit}"


def _shim_words(shim: Shim, scale: Scale) -> str:
    """A shim in counts; what would be taken for millimetres, or might be, gets a unit."""
    if shim.doubtful_unit:
        return number_words(shim.total, digitwise=True)
    said = number_words(shim.total)
    if scale.system == "thou" or "point" not in said.split():
        return said
    return f"{number_words(shim.total * 10)} {BY_NAME['um'].says[0]}"


def _in_unit(value: Decimal, unit: str | None, scale: Scale) -> Decimal:
    """Counts to the number that is spoken before this unit."""
    if unit == "um":
        return value * 10
    if unit == "tenth":
        return value * 10 if scale.system == "thou" else value / 10
    return value
