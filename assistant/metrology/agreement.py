"""Does a sweep agree with the one before it, and if not: is it its mirror image?

Belongs here: tests of one pair of differences against another. What a single sweep says of itself
is in ``evidence``, what a correction should have left in ``trial_check``.
"""

from __future__ import annotations

from math import inf, log, sqrt
from typing import Final, Literal

from assistant.metrology.combining import Pair
from assistant.metrology.evidence import FALSE_ALARMS
from assistant.metrology.f_distribution import f_quantile

Agreement = Literal["alike", "sides_exchanged", "ends_exchanged", "reversed", "apart"]
"""alike: nothing speaks against it. sides_exchanged: right and left called one for the other,
ends_exchanged: back and front. reversed: all signs, as of a dial read the other way round. apart:
none of these; something moved."""

# Twice the logarithm of a hundred to one.
_MUCH_LIKELIER: Final = 2 * log(100)


def compare(
    expected: Pair, found: Pair, u: Pair, dof: float = inf, rate: float = FALSE_ALARMS
) -> Agreement:
    """Whether ``found`` is what was ``expected``, as (front_minus_back, right_minus_left).

    Expected is what an earlier sweep read, or what a correction should have left. ``u``: standard
    uncertainties of found less expected, of each axis, known to ``dof`` degrees of freedom. F test
    with two degrees of freedom above; a share ``rate`` of pairs that belong together is questioned.
    A mirror image is named when it passes that test and is a hundred times likelier than the pair
    as read (normal likelihood): a guess of the scatter, with its few degrees of freedom, passes
    almost anything, but it does not make two sides that changed places likelier.
    """
    limit = 2 * f_quantile(1 - rate, 2.0, dof)
    front, right = found
    as_read = _distance(expected, found, u)
    images: tuple[tuple[Agreement, Pair], ...] = (
        ("sides_exchanged", (front, -right)),
        ("ends_exchanged", (-front, right)),
        ("reversed", (-front, -right)),
    )
    nearest, image = min(images, key=lambda each: _distance(expected, each[1], u))
    mirrored = _distance(expected, image, u)
    if mirrored <= limit and as_read - mirrored > _MUCH_LIKELIER:
        return nearest
    return "alike" if as_read <= limit else "apart"


def repeats_agree(
    pairs: tuple[Pair, ...], u_one: Pair, dof: float = inf, rate: float = FALSE_ALARMS
) -> tuple[int, Agreement] | None:
    """The repeat that does not belong to the others, by its place, and how; None if all do.

    ``u_one``: standard uncertainty of each axis of one sweep, from what is redrawn between
    sweeps. Each is held against the mean of the others, ``rate`` shared out among them
    (Bonferroni).
    """
    count = len(pairs)
    if count < 2:
        return None
    both = count == 2
    worst: tuple[float, int, Agreement] | None = None
    for place in range(1 if both else 0, count):
        others = [pair for k, pair in enumerate(pairs) if k != place]
        mean = (sum(p[0] for p in others) / len(others), sum(p[1] for p in others) / len(others))
        wider = sqrt(1 + 1 / len(others))
        u = (u_one[0] * wider, u_one[1] * wider)
        verdict = compare(mean, pairs[place], u, dof, rate if both else rate / count)
        off = _distance(mean, pairs[place], u)
        if verdict != "alike" and (worst is None or off > worst[0]):
            worst = (off, place, verdict)
    return None if worst is None else worst[1:]


def _distance(expected: Pair, found: Pair, u: Pair) -> float:
    """Sum of squares of both axes, each in its own uncertainty."""
    if min(u) <= 0:
        raise ValueError("the uncertainty is not above zero; sweeps never agree exactly")
    return sum(((a - b) / s) ** 2 for a, b, s in zip(found, expected, u, strict=True))
