"""How a called number goes wrong between dial, mouth and ear.

Belongs here: the likely other values of one call. The shares are judgement, not measurement; only
their order matters to the search that uses them.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Final, Literal

Confusion = Literal[
    "listed", "sign", "teen_ty", "five_nine", "half", "tens", "misread", "unexplained"
]

_SHARE: Final[dict[Confusion, float]] = {
    "sign": 0.30,  # "minus" is short and unstressed, and the dial counts both ways
    "teen_ty": 0.20,  # fifteen, fifty
    "five_nine": 0.15,  # the reason for "fife" and "niner" in radiotelephony
    "half": 0.10,  # "and a half" cut off
    "tens": 0.10,  # "twenty" or "-teen" cut off, or a digit of two
    "misread": 0.05,  # the wrong figured mark of the dial
}


@dataclass(frozen=True, slots=True)
class Misheard:
    """Another value that may have been meant: why, and the share of such mistakes."""

    value: Decimal
    why: Confusion
    prior: float


def misheard_as(
    heard: Decimal, signed: bool = True, reach: Decimal | None = None
) -> tuple[Misheard, ...]:
    """Every likely other value of ``heard``, the likeliest kind first, each value once.

    ``signed``: whether the method has a sign at all. ``reach``: what the dial can show either way.
    """
    found: dict[Decimal, Misheard] = {}
    for why, value in _candidates(heard):
        in_reach = reach is None or abs(value) <= reach
        if value != heard and in_reach and (signed or value >= 0):
            found.setdefault(value, Misheard(value, why, _SHARE[why]))
    return tuple(found.values())


def _candidates(heard: Decimal) -> list[tuple[Confusion, Decimal]]:
    sign = -1 if heard < 0 else 1
    size = abs(heard)
    whole = int(size)
    part = size - whole
    pairs: list[tuple[Confusion, Decimal]] = [("sign", -heard)]
    if 13 <= whole <= 19:
        pairs.append(("teen_ty", sign * (10 * (whole - 10) + part)))
    if whole % 10 == 0 and 30 <= whole <= 90:
        pairs.append(("teen_ty", sign * (whole // 10 + 10 + part)))
    for old, new in ((5, 9), (9, 5)):
        if whole % 10 == old:
            pairs.append(("five_nine", sign * (whole - old + new + part)))
        if whole == 10 * old:
            pairs.append(("five_nine", sign * (10 * new + part)))
    half = Decimal("0.5")
    pairs.append(("half", sign * (size + half if part == 0 else size - part)))
    if 0 < whole < 10:
        pairs += [("tens", sign * (tens + size)) for tens in (20, 30, 40)]
    if 3 <= whole < 10:
        pairs.append(("tens", sign * (10 + size)))
    if 13 <= whole <= 19:
        pairs.append(("tens", sign * (size - 10)))
    if 20 < whole < 100 and whole % 10:
        units = whole % 10
        pairs += [("tens", sign * (units + part)), ("tens", sign * (whole - units + part))]
    pairs += [("misread", heard + step) for step in (10, -10, 5, -5)]
    return pairs
