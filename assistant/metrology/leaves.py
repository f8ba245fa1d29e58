"""Which leaves of the stock to stack.

Exact: thicknesses are Decimals or Lengths' counts in one unit, never floats.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from functools import lru_cache

# Sums kept per number of leaves; far beyond what any box of leaves can make.
_MAX_SUMS = 100_000


def best_stack(
    target: Decimal, stock: Sequence[Decimal], max_leaves: int, thicker: bool = False
) -> tuple[Decimal, ...]:
    """The leaves, thinnest first, whose sum comes nearest to ``target``; none when none is nearer.

    Each entry of ``stock`` is one leaf and is used once. Ties go to fewer leaves, then to the
    thinner stack (to the thicker, if ``thicker``).
    """
    preference = -1 if thicker else 1
    return min(
        stacks_of(stock, max_leaves),
        key=lambda stack: (
            abs(sum(stack, Decimal(0)) - target),
            len(stack),
            preference * sum(stack, Decimal(0)),
        ),
    )


def stacks_of(stock: Sequence[Decimal], max_leaves: int) -> tuple[tuple[Decimal, ...], ...]:
    """One stack for every sum that up to ``max_leaves`` of the stock can make, fewest leaves first.

    The empty stack is among them.
    """
    return _stacks_of(tuple(stock), max_leaves)


# A job asks for the same ones after every sweep.
@lru_cache(maxsize=16)
def _stacks_of(stock: tuple[Decimal, ...], max_leaves: int) -> tuple[tuple[Decimal, ...], ...]:
    # By number of leaves, then by sum: two ways to the same sum differ in nothing that matters.
    layers: list[dict[Decimal, tuple[Decimal, ...]]] = [{Decimal(0): ()}]
    layers += [{} for _ in range(max_leaves)]
    for leaf in sorted(stock):
        for count in range(min(max_leaves, len(stock)), 0, -1):
            for total, stack in list(layers[count - 1].items()):
                if len(layers[count]) < _MAX_SUMS:
                    layers[count].setdefault(total + leaf, (*stack, leaf))
    fewest: dict[Decimal, tuple[Decimal, ...]] = {}
    for layer in layers:
        for total, stack in layer.items():
            fewest.setdefault(total, stack)
    return tuple(fewest.values())
