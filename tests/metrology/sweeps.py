"""Problems for the tests, written short."""

from decimal import Decimal

from assistant.metrology.lengths import Length, Unit, parse_length
from assistant.metrology.problem import Method, Noise, Problem, Shimming, StationReading, Trial

ORDER = ("back", "right", "front", "left")


def length(text: str, unit: Unit = "thou") -> Length:
    return parse_length(text, unit)


def lengths(text: str, unit: Unit = "thou") -> tuple[Length, ...]:
    return tuple(parse_length(part, unit) for part in text.split())


def sweep(
    readings: str,
    *,
    unit: Unit = "thou",
    method: Method = "indicator",
    closing: str | None = None,
    diameter: str | None = "10 in",
    pivot: str = "0",
    tolerance: str | None = None,
    shim: Shimming | None = None,
    noise: Noise | None = None,
) -> Problem:
    """Four stations, called in the order back, right, front, left."""
    values = lengths(readings, unit)
    return Problem(
        unit=unit,
        method=method,
        readings=(
            StationReading.at("back", values[0]),
            StationReading.at("right", values[1]),
            StationReading.at("front", values[2]),
            StationReading.at("left", values[3]),
        ),
        closing=None if closing is None else parse_length(closing, unit),
        sweep_diameter=None if diameter is None else parse_length(diameter, unit),
        pivot_offset=parse_length(pivot, unit),
        tolerance=None if tolerance is None else parse_length(tolerance, unit),
        shim=shim or Shimming(),
        noise=noise or Noise(),
    )


def trial(total: str, before: str, after: str, base: str | None = None) -> Trial:
    return Trial(
        length(total), length(before), length(after), base=None if base is None else length(base)
    )


def bearings(pairs: dict[str, str], unit: Unit = "thou") -> tuple[StationReading, ...]:
    return tuple(
        StationReading(Decimal(at), parse_length(value, unit)) for at, value in pairs.items()
    )
