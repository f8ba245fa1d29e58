"""How surely it is known what a correction does to both differences, before it is seen.

Belongs here: the uncertainty of what a plan should leave, from what is known of the machine. What
is made of a sweep that misses it is ``missed``; how likely its sides changed places, ``exchanged``.
"""

from math import hypot, sqrt
from typing import Final

from assistant.dialogue.state import Plan, State
from assistant.dialogue.sweep_answer import count_unit, step_of
from assistant.dialogue.weighing import LENGTHWISE, option_of, relock_variance, standing_of
from assistant.metrology.answer import Answer
from assistant.metrology.combining import Pair
from assistant.metrology.lengths import Length

LEANS: Final = 0.1
"""Part of a correction by which the other axis leans with it, as it is weighed (judgement)."""

PULLS: Final = Length.of(1, "thou")
"""Standard deviation of what locking does to right minus left, before it was seen (judgement)."""


def moved_by(plan: Plan, before: Answer) -> Pair:
    """What a plan is to change both differences by."""
    return (
        plan.expected_fb - before.front_minus_back,
        plan.expected_rl - before.right_minus_left,
    )


def covariance_of_move(state: State, plan: Plan, before: Answer) -> tuple[Pair, Pair]:
    """Covariance of that: its own spread on its axis, leaning on the other, the lock on both."""
    own, step = u_forecast(state, plan, before), float(step_of(state.profile))
    lock = max(sqrt(2 * relock_variance(state)), step / sqrt(12))
    lengthwise, sideways = moved_by(plan, before)
    if plan.kind in LENGTHWISE:
        sds = hypot(own, lock), hypot(LEANS * lengthwise, lock)
    else:
        sds = hypot(LEANS * sideways, lock), hypot(own, lock)
    return (sds[0] ** 2, 0.0), (0.0, sds[1] ** 2)


def u_forecast(state: State, plan: Plan, before: Answer) -> float:
    """Standard uncertainty of what a correction should leave on its axis.

    Without the readings and the lock, which are weighed by themselves.
    """
    after, now = option_of(state, before, plan).after.covariance, standing_of(before).covariance
    own = 0 if plan.kind in LENGTHWISE else 1
    spread = sqrt(max(after[own][own] - now[own][own] - relock_variance(state), 0.0))
    return hypot(spread, _u_pull(state, plan))


def _u_pull(state: State, plan: Plan) -> float:
    """What locking may have done to the sides after a tap: what was seen of it, half is expected
    and half may be; unseen, all."""
    taps = state.taps
    if plan.kind != "tap":
        return 0.0
    if taps.locked is None or taps.goal is None:
        return float(PULLS.to(count_unit(state.profile)))
    return abs(float(taps.locked - taps.goal))
