"""Exact lengths and the workshop's units for them.

Belongs here: the units, the ``Length`` value, reading a length from text. Lengths stay exact
decimal millimetres; they become floats only at the door of a fit.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Context, Decimal
from typing import Final, Literal, get_args

Unit = Literal["thou", "tenth", "in", "mm", "hundredth", "um"]
"""thou = 0.001 in, tenth = 0.0001 in, hundredth = 0.01 mm, um = 0.001 mm."""

UNITS: Final[tuple[Unit, ...]] = get_args(Unit)

MM_PER: Final[dict[Unit, Decimal]] = {
    # 1 in = 25.4 mm exactly: NIST SP 811, appendix B.
    "thou": Decimal("0.0254"),
    "tenth": Decimal("0.00254"),
    "in": Decimal("25.4"),
    "mm": Decimal("1"),
    "hundredth": Decimal("0.01"),
    "um": Decimal("0.001"),
}

_NAMES: Final[dict[str, Unit]] = {
    "thou": "thou", "thous": "thou", "thousandth": "thou", "thousandths": "thou",
    "tenth": "tenth", "tenths": "tenth",
    "in": "in", "inch": "in", "inches": "in", '"': "in",
    "mm": "mm", "millimetre": "mm", "millimetres": "mm", "millimeter": "mm", "millimeters": "mm",
    "hundredth": "hundredth", "hundredths": "hundredth",
    "um": "um", "µm": "um", "μm": "um", "micron": "um", "microns": "um",
}  # fmt: skip

# Wide enough that sums and products of lengths a workshop can have are never rounded; only a
# quotient that does not end (1 mm in thou) is, in its sixtieth digit.
_EXACT: Final = Context(prec=60)
# Longer digit strings are typing errors, and would not stay exact for ever.
_MAX_DIGITS: Final = 18

_LENGTH: Final = re.compile(
    r"""(?P<sign>[+\-−])?\s*
        (?: (?P<whole>\d+)\s+(?P<top2>\d+)/(?P<bottom2>\d+)
          | (?P<top>\d+)/(?P<bottom>\d+)
          | (?P<number>\d+(?:\.\d*)?|\.\d+) )
        \s*(?P<unit>[^\d\s].*)?""",
    re.VERBOSE | re.ASCII,
)


class LengthError(ValueError):
    """A text that is not a length; the message is one line and says what to write."""


@dataclass(frozen=True, slots=True, order=True)
class Length:
    """An exact length in decimal millimetres; compared and added exactly.

    >>> Length.of("6", "thou").mm
    Decimal('0.1524')
    """

    mm: Decimal

    @staticmethod
    def of(value: Decimal | int | str, unit: Unit) -> Length:
        """The length of ``value`` counted in ``unit``; exact."""
        return Length(_EXACT.multiply(Decimal(value), MM_PER[unit]))

    def to(self, unit: Unit) -> Decimal:
        """The number of ``unit`` in this length.

        Exact whenever the quotient ends (always, for a length that was given in that unit),
        otherwise right to 60 digits.
        """
        quotient = _EXACT.divide(self.mm, MM_PER[unit])
        return _plain(quotient)

    def __add__(self, other: Length) -> Length:
        return Length(_EXACT.add(self.mm, other.mm))

    def __sub__(self, other: Length) -> Length:
        return Length(_EXACT.subtract(self.mm, other.mm))

    def __neg__(self) -> Length:
        return Length(_EXACT.minus(self.mm))

    def __abs__(self) -> Length:
        return Length(_EXACT.abs(self.mm))

    def __mul__(self, factor: Decimal | int) -> Length:
        return Length(_EXACT.multiply(self.mm, Decimal(factor)))

    __rmul__ = __mul__

    def __truediv__(self, other: Length) -> Decimal:
        """Ratio of two lengths, a plain number."""
        return _EXACT.divide(self.mm, other.mm)

    def __bool__(self) -> bool:
        return bool(self.mm)


ZERO: Final = Length(Decimal(0))


def parse_length(text: str, default_unit: Unit) -> Length:
    """The exact length that ``text`` names; a bare number is counted in ``default_unit``.

    Takes decimals and inch fractions ("9 1/2 in"). Raises ``LengthError``.

    >>> parse_length("10 in", "thou").to("mm")
    Decimal('254')
    >>> parse_length("-1.5", "thou").to("mm")
    Decimal('-0.0381')
    """
    match = _LENGTH.fullmatch(text.strip())
    if match is None:
        raise LengthError(f'"{text}" is not a length; write a number and a unit such as "4 thou"')
    unit = _unit_named(match["unit"], default_unit, text)
    number = _number(match, text)
    return Length.of(-number if match["sign"] in ("-", "−") else number, unit)


def _unit_named(name: str | None, default_unit: Unit, text: str) -> Unit:
    if name is None:
        return default_unit
    unit = _NAMES.get(name.strip().lower())
    if unit is None:
        raise LengthError(f'"{text}": no unit is called "{name}"; use {", ".join(UNITS)}')
    if unit == "tenth" and default_unit in ("mm", "hundredth", "um"):
        # To a metric ear a tenth is 0.1 mm, thirty-nine times as much.
        raise LengthError(f'"{text}": tenths are 0.0001 in; in a metric job write mm or um')
    return unit


def _number(match: re.Match[str], text: str) -> Decimal:
    if match["number"] is not None:
        if len(match["number"]) > _MAX_DIGITS:
            raise LengthError(f'"{text}" has too many digits; {_MAX_DIGITS} are enough')
        return Decimal(match["number"])
    whole = match["whole"] or "0"
    top, bottom = match["top2"] or match["top"], match["bottom2"] or match["bottom"]
    if max(len(whole), len(top), len(bottom)) > 6:
        raise LengthError(f'"{text}" has too many digits; write it as a decimal')
    if int(bottom) not in (2, 4, 8, 16, 32, 64, 128):
        raise LengthError(f'"{text}": a fraction ends in 2, 4, 8, 16, 32, 64 or 128')
    return Decimal(whole) + Decimal(top) / Decimal(bottom)


def _plain(number: Decimal) -> Decimal:
    """The same number without trailing zeros and without an exponent."""
    if number == number.to_integral_value():
        return number.quantize(Decimal(1), context=_EXACT)
    return number.normalize(_EXACT)
