"""What is held to the table, as keys of a profile: the dial's face and lever, the leaves.

Belongs here: these keys, their ranges and comments, both ways.
"""

from decimal import Decimal
from typing import get_args

from assistant.dialogue.machine import SHIMMED, Face, Higher, Instrument, Profile
from assistant.metrology.lengths import Length, Unit
from assistant.metrology.rig import INVOLUTE_TO, Tip
from assistant.records.readings.toml_reader import (
    TableReader,
    plain_number,
    quoted,
    sized,
    toml_list,
)

DIAL_KEYS = ("face", "per_turn", "counter", "higher", "lever", "tip", "limit")
"""Keys of the table ``indicator`` that tell how the dial is read."""

GAUGE_KEYS = ("leaves", "set_to", "square_height")
"""Keys of the table ``gauges``."""

MAX_LEAVES = 40
STEEPEST = Decimal(60)
"""A lever that stands off further than this, in degrees, shows next to nothing."""


def dial_lines(instrument: Instrument) -> list[str]:
    """The lines of the table ``indicator`` after those of its scale."""
    return [
        f"face = {quoted(instrument.face)}  # balanced: both ways from zero"
        " | continuous: one way round, 97 of 100 is minus 3",
        f"per_turn = {instrument.per_turn}  # what the dial counts in one turn",
        f"counter = {str(instrument.counter).lower()}  # a small hand counts the turns",
        f"higher = {quoted(instrument.higher)}  # plus | minus | ask:"
        " what a leaf under the tip does to the number",
        f"lever = {quoted(plain_number(instrument.lever_deg))}"
        "  # degrees between a lever and the table; 0 for a plunger",
        f"tip = {quoted(instrument.tip)}  # ball | involute, which makes up for its angle",
        f"limit = {quoted(plain_number(instrument.limit))}"
        "  # its largest error over the span that a sweep uses, by its certificate; 0: unknown",
    ]


def gauge_lines(instrument: Instrument, count: str, large: Unit) -> list[str]:
    """The table ``gauges``; a height is written in the large unit."""
    height = instrument.square_height
    set_to = instrument.set_to
    rod = '# set_to = "10"' if set_to is None else f"set_to = {quoted(plain_number(set_to))}"
    return [
        "[gauges]  # feeler leaves for methods gap and square",
        f"leaves = [{toml_list(instrument.gauges)}]  # in {count}; none: those of the shim stock",
        f"{rod}  # the leaf under the rod at the first station",
        *(
            [f"square_height = {quoted(sized(height, large))}  # foot to where bar and blade meet"]
            if height is not None
            else [f'# square_height = "{6 if large == "in" else 150} {large}"']
        ),
    ]


def read_instrument(reader: TableReader, unit: Unit) -> Instrument:
    """The instrument in the tables of a file; bare leaves count in ``unit``.

    Raises ProfileError.
    """
    usual = Instrument()
    tip: Tip = reader.one_of("indicator", "tip", get_args(Tip), usual.tip)
    face: Face = reader.one_of("indicator", "face", get_args(Face), usual.face)
    higher: Higher = reader.one_of("indicator", "higher", get_args(Higher), usual.higher)
    return Instrument(
        face=face,
        per_turn=reader.whole("indicator", "per_turn", usual.per_turn, 5, 999),
        counter=_counter(reader),
        higher=higher,
        lever_deg=_lever(reader, tip),
        tip=tip,
        gauges=_leaves(reader, unit),
        set_to=_set_to(reader, unit),
        square_height=_square_height(reader, "in" if unit == "thou" else "mm"),
        limit=_limit(reader, unit),
    )


def _limit(reader: TableReader, unit: Unit) -> Decimal:
    value = reader.get("indicator", "limit")
    if value is None:
        return Decimal(0)
    return reader.counts("indicator", "limit", value, unit, "0 in", "0.1 in")


def check_together(reader: TableReader, profile: Profile) -> None:
    """Raise ProfileError for a way of measuring that this kind of machine is not moved by."""
    held = profile.instrument
    if profile.kind in SHIMMED:
        return
    if profile.method != "indicator":
        raise reader.fail(
            "", "method", f"kind {profile.kind} is set by an indicator: write it here"
        )
    if held.higher == "minus" or held.lever_deg:
        problem = f"kind {profile.kind} wants a plunger that counts up: higher plus, lever 0"
        raise reader.fail("indicator", "lever" if held.lever_deg else "higher", problem)


def _counter(reader: TableReader) -> bool:
    value = reader.get("indicator", "counter")
    if value is not None and not isinstance(value, bool):
        raise reader.fail("indicator", "counter", "use true or false")
    return bool(value)


def _lever(reader: TableReader, tip: Tip) -> Decimal:
    value = reader.get("indicator", "lever")
    degrees = Decimal(0) if value is None else reader.number("indicator", "lever", value)
    most = INVOLUTE_TO if tip == "involute" else STEEPEST
    if degrees > most:
        problem = f"with this tip use 0 to {most} degrees: lay the lever flatter"
        raise reader.fail("indicator", "lever", problem)
    return degrees


def _leaves(reader: TableReader, unit: Unit) -> tuple[Decimal, ...]:
    value = reader.get("gauges", "leaves")
    if value is None:
        return ()
    if type(value) is not list or len(value) > MAX_LEAVES:
        raise reader.fail("gauges", "leaves", f"write up to {MAX_LEAVES} leaves in [ ]")
    return tuple(
        reader.counts("gauges", "leaves", each, unit, "0.1 thou", "1 in") for each in value
    )


def _set_to(reader: TableReader, unit: Unit) -> Decimal | None:
    value = reader.get("gauges", "set_to")
    if value is None:
        return None
    return reader.counts("gauges", "set_to", value, unit, "0.5 thou", "1 in")


def _square_height(reader: TableReader, unit: Unit) -> Length | None:
    value = reader.get("gauges", "square_height")
    if value is None:
        if reader.get("", "method") == "square":
            problem = f'method square needs it: write square_height = "6 {unit}" or the like'
            raise reader.fail("gauges", "square_height", problem)
        return None
    length = reader.parsed("gauges", "square_height", value, unit)
    return reader.within("gauges", "square_height", length, "0.5 in", "40 in")
