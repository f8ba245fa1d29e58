"""Least squares in exact rational numbers: what a certified value must come to, without rounding.

The normal equations are solved in fractions; roots are taken at fifty digits.
"""

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Context, Decimal
from fractions import Fraction
from pathlib import Path

DATA = Path(__file__).parent.parent / "data"
_DIGITS = Context(prec=50)


@dataclass(frozen=True, slots=True)
class ExactFit:
    """Coefficients, and the standard deviations of them and of an observation."""

    coefficients: tuple[float, ...]
    deviations: tuple[float, ...]
    residual_sd: float


def exact_fit(design: Sequence[Sequence[Fraction]], seen: Sequence[Fraction]) -> ExactFit:
    """The least squares fit of `seen` by the columns of `design`."""
    rows, columns = len(design), len(design[0])
    normal = [
        [sum((row[i] * row[j] for row in design), Fraction(0)) for j in range(columns)]
        + [Fraction(int(i == j)) for j in range(columns)]
        for i in range(columns)
    ]
    for i in range(columns):
        pivot = next(k for k in range(i, columns) if normal[k][i] != 0)
        normal[i], normal[pivot] = normal[pivot], normal[i]
        normal[i] = [value / normal[i][i] for value in normal[i]]
        for k in range(columns):
            if k != i:
                normal[k] = [
                    a - normal[k][i] * b for a, b in zip(normal[k], normal[i], strict=True)
                ]
    inverse = [row[columns:] for row in normal]
    moments = [_dot([row[i] for row in design], seen) for i in range(columns)]
    found = [_dot(row, moments) for row in inverse]
    left = [y - _dot(row, found) for row, y in zip(design, seen, strict=True)]
    variance = sum((value * value for value in left), Fraction(0)) / (rows - columns)
    return ExactFit(
        tuple(float(value) for value in found),
        tuple(_root(variance * inverse[i][i]) for i in range(columns)),
        _root(variance),
    )


def table_of(name: str) -> list[list[Fraction]]:
    """A file of data as exact numbers, response first."""
    lines = [line for line in (DATA / name).read_text().splitlines() if not line.startswith("#")]
    return [[Fraction(value) for value in row] for row in list(csv.reader(lines))[1:]]


def _dot(one: Sequence[Fraction], other: Sequence[Fraction]) -> Fraction:
    return sum((a * b for a, b in zip(one, other, strict=True)), Fraction(0))


def _root(value: Fraction) -> float:
    quotient = _DIGITS.divide(Decimal(value.numerator), Decimal(value.denominator))
    return float(_DIGITS.sqrt(quotient))
