"""Words for what is set square by shims under its feet: a vise, a box table, a plain base."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Final

from grammar.numerals import number_words
from grammar.vocabulary import Station

LOCK: Final = "All bolted down and locked. Say locked."
"""Everything must be tight before the dial means anything."""

UNBOLT: Final = "Ease the bolts. Pry, fingers out. Done?"
"""A heavy base comes down on whatever is under it."""

BOLT_DOWN: Final = "Bolt down evenly, crosswise. Say locked."
"""Bolts pulled one after the other bend what lies hollow."""


def under(leaves: Sequence[Decimal], total: Decimal, side: Station, other: Station | None) -> str:
    """The whole shim that should be under one side; ``other``: the side to take one out of."""
    stack = " and ".join(number_words(leaf) for leaf in leaves)
    made_of = f": {stack}" if len(leaves) > 1 else ""
    put = f"{number_words(total)} under the {side}{made_of}. Done?"
    return f"{other.capitalize()} out. {put[0].upper()}{put[1:]}" if other else f"Shim {put}"


def out(side: Station) -> str:
    """The best shim under this axis is none."""
    return f"Take the shim at the {side} out. Done?"


def ask_shim(total: Decimal, millimetres: bool) -> str:
    """A shim that was called with a point, at any machine: hundredths, and then millimetres."""
    if millimetres:
        return f"Shim {number_words(total / 100)} millimetres?"
    return f"Shim {number_words(total)} hundredths?"


def is_under(total: Decimal, side: Station) -> str:
    """Read back what the person says is in."""
    return f"Shim {number_words(total)} under the {side}." if total else "No shim."
