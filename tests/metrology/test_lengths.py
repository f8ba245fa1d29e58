"""Exact lengths, against NIST SP 811 and pint."""

from decimal import Decimal

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.metrology.lengths import (
    MM_PER,
    UNITS,
    ZERO,
    Length,
    LengthError,
    Unit,
    parse_length,
)

PINT_NAME: dict[Unit, str] = {
    "thou": "thou", "tenth": "1e-4 inch", "in": "inch", "mm": "millimeter",
    "hundredth": "1e-2 millimeter", "um": "micrometer",
}  # fmt: skip

numbers = st.decimals(-10_000, 10_000, places=4)
units = st.sampled_from(UNITS)


def test_inch_after_nist_sp_811() -> None:
    """NIST SP 811 (2008), appendix B.8: 1 inch = 25.4 mm exactly."""
    assert parse_length("1 in", "mm").mm == Decimal("25.4")
    assert parse_length("1 thou", "mm").to("um") == Decimal("25.4")


@pytest.mark.parametrize("unit", UNITS)
def test_every_unit_against_pint(unit: Unit) -> None:
    """pint, an independent library of units, has the same factors."""
    quantity: float = pint.UnitRegistry()(PINT_NAME[unit]).to("millimeter").magnitude
    assert float(MM_PER[unit]) == pytest.approx(quantity, rel=1e-14)


@pytest.mark.parametrize(
    ("text", "default", "mm"),
    [
        ("6", "thou", "0.1524"),
        ("+6", "mm", "6"),
        ("-1.5", "thou", "-0.0381"),
        ("−1.5 thou", "mm", "-0.0381"),
        (".25mm", "thou", "0.25"),
        ('10 "', "mm", "254"),
        ("10 inches", "thou", "254"),
        ("9 1/2 in", "thou", "241.3"),
        ("3/64 in", "thou", "1.190625"),
        ("4 THOU", "mm", "0.1016"),
        ("2 tenths", "thou", "0.00508"),
        ("3 hundredths", "mm", "0.03"),
        ("7 µm", "thou", "0.007"),
        ("7 microns", "thou", "0.007"),
        ("0", "thou", "0"),
    ],
)
def test_texts(text: str, default: Unit, mm: str) -> None:
    assert parse_length(text, default).mm == Decimal(mm)


@pytest.mark.parametrize(
    "text",
    ["", "six", "6 furlongs", "1e3", "nan", "inf", "6 7", "1/3 in", "1/0 in", "--6", "6,5", "0x6",
     "1" * 40, "1/2/3 in", "٦ thou"],
)  # fmt: skip
def test_what_is_no_length(text: str) -> None:
    with pytest.raises(LengthError) as caught:
        parse_length(text, "thou")
    assert "\n" not in str(caught.value)


def test_tenths_are_refused_where_they_would_be_misread() -> None:
    with pytest.raises(LengthError, match="tenths are"):
        parse_length("2 tenths", "mm")


@given(numbers, units)
def test_back_in_its_own_unit_exactly(number: Decimal, unit: Unit) -> None:
    assert Length.of(number, unit).to(unit) == number


@given(numbers, numbers, units, units)
def test_sums_and_order_are_exact(a: Decimal, b: Decimal, one: Unit, two: Unit) -> None:
    x, y = Length.of(a, one), Length.of(b, two)
    assert (x + y) - y == x
    assert ZERO - x == -x
    assert (x < y) == (x.mm < y.mm)
    assert abs(x) * 2 == abs(x) + abs(x)


def test_quotient_that_does_not_end_is_right_to_many_digits() -> None:
    millimetre = parse_length("1", "mm").to("thou")
    assert abs(millimetre * Decimal("0.0254") - 1) < Decimal("1e-27")


def test_round_numbers_have_no_exponent() -> None:
    assert str(parse_length("10 in", "mm").to("um")) == "254000"
