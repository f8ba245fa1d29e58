"""Why a sweep, or the dial after locking, is not as forecast: what is told, and by what odds.

Belongs here: what was forecast and how surely, from the plan that was made; the probabilities are
the metrology's.
"""

from dataclasses import dataclass, replace
from math import hypot, sqrt
from typing import Final

from assistant.dialogue.exchanged import Exchanges, exchange_odds
from assistant.dialogue.facts import Causes
from assistant.dialogue.forecast import LEANS, moved_by, u_forecast
from assistant.dialogue.state import Plan, State
from assistant.dialogue.sweep_answer import (
    answer_of,
    count_unit,
    noise_with,
    reading_known,
    repeat_here,
    step_of,
)
from assistant.dialogue.weighing import LENGTHWISE, relock_variance
from assistant.metrology.answer import Answer
from assistant.metrology.causes import EXCHANGED as EXCHANGED_ONCE
from assistant.metrology.causes import STILL, WRONG_WAY, Image, Miss, Odds, likely_causes
from assistant.metrology.combining import Pair
from assistant.metrology.exchanges import Exchange
from assistant.metrology.scatter import GUESS_DOF, SIDE_STATION_SHARE, relock_scatter

# -- words -------------------------------------------------------------------------------

SIDES_EXCHANGED: Final = "Right and left seem exchanged. Sweep again."
"""A sweep mirrors what was expected, side to side."""

ENDS_EXCHANGED: Final = "Front and back seem exchanged. Sweep again."
"""The same front to back."""

SIGNS_EXCHANGED: Final = "All signs seem turned round. Sweep again."  # the same both ways

SIDES_BEFORE: Final = "Likely right and left changed places last time."
"""What a correction left is what it should have left had the sweep before it been mirrored."""

ENDS_BEFORE: Final = "Likely front and back changed places last time."
"""The same front to back."""

EXCHANGED, LOOSE, MOVED = "exchanged", "loose", "moved"
"""Why a sweep was set aside: it is the mirror image of what was expected; something gives; the dial
does not show any more what it showed in it."""

# -- odds --------------------------------------------------------------------------------

ASKED: Final = 0.08
"""Probability of an exchange from which a station is asked for once more: that costs a call, and an
exchange that goes unseen a wrong correction and two sweeps."""

MAYBE: Final = 0.5
"""Probability from which somebody is asked to look, or to sweep again: that costs a sweep, and a
clamp that gives or sides that changed places cost two and more."""

TOLD_BEFORE: Final = 1 / 3
"""Probability of an exchange in the sweep before from which it is told, and what was moved by it is
not learnt from: that costs little, and a shim reckoned by it two corrections."""

_NOW: Final[dict[Exchange, str]] = {
    "sides": SIDES_EXCHANGED, "ends": ENDS_EXCHANGED, "signs": SIGNS_EXCHANGED,
}  # fmt: skip
_BEFORE: Final[dict[Exchange, str]] = {"sides": SIDES_BEFORE, "ends": ENDS_BEFORE}


@dataclass(frozen=True, slots=True)
class Why:
    """What a sweep is most likely wrong by, in words.

    ``again``: it is set aside and made again for that; ``before``: the sweep before it was wrong.
    ``ask``: the sides that may have changed places in it, where one reading more is to tell first.
    ``loose``: something gives. ``miss``: what it was weighed by, None without a forecast.
    """

    again: str = ""
    before: str = ""
    ask: Exchange | None = None
    loose: bool = False
    miss: Miss | None = None


def why_missed(state: State, answer: Answer) -> Why:
    """Weigh a sweep against the one before it, or against what a correction was to leave.

    Nothing where there is none before, or where it was begun and given up. What is read twice
    stands: after one that was set aside for sides that changed places only the sweep before is
    doubted. That is told once in a job: what comes again has another cause, and is learnt from.
    """
    before, plan = state.as_left, state.plan
    given_up = plan is not None and plan.given_up
    if before is None or given_up or state.came_back:
        return Why()
    miss = _repeat(before, answer) if plan is None else _corrected(state, plan, before, answer)
    now_sure, before_sure = not may_be_now(state), state.causes.before
    out = {*(_NOW if now_sure else ()), *(f"{each} before" for each in _BEFORE if before_sure)}
    miss = replace(miss, images=tuple(one for one in miss.images if one.name not in out))
    found = exchange_odds(state, state.readings, now_sure=now_sure, before_sure=before_sure)
    loose = weighed(state, miss).loose if plan is not None else 0.0
    now = sum(found.now.values())
    then = sum(found.before.values())
    if loose >= max(MAYBE, now, then):
        return Why(loose=True, miss=miss)
    if now >= (ASKED if state.profile.method == "indicator" else MAYBE):
        exchange = likeliest(found)
        if state.profile.method == "indicator":
            return Why(ask=exchange, miss=miss)
        return Why(again=_NOW[exchange], miss=miss)
    if then >= TOLD_BEFORE:
        lengthwise = found.before["ends"] >= found.before["sides"]
        return Why(before=_BEFORE["ends" if lengthwise else "sides"], miss=miss)
    return Why(miss=miss)


def may_be_now(state: State) -> bool:
    """Whether the sweep that is judged can still have been read with sides exchanged.

    Not once a station of it was read again for that, nor just after one was set aside for it.
    """
    others = state.sweeps if state.readings else state.sweeps[:-1]
    return not state.doubts.sides_sure and (not others or others[-1].refused != EXCHANGED)


def in_doubt(state: State) -> Exchange | None:
    """The sides of the last sweep that may have changed places, by what was read since as well."""
    if state.profile.method != "indicator" or not may_be_now(state):
        return None
    found = exchange_odds(state)
    return likeliest(found) if sum(found.now.values()) >= ASKED else None


def likeliest(found: Exchanges) -> Exchange:
    """Which sides of the sweep that is judged most likely changed places."""
    # An axis that is nearly level is its own image: both together are no likelier than the other.
    return max(("ends", "sides", "signs"), key=lambda each: found.now.get(each, 0.0))


def weighed(state: State, miss: Miss) -> Odds:
    """The likely causes of a miss after all that came before it in this job."""
    profile = state.profile
    noise = noise_with(profile, state.spindle.stays)
    relock = relock_scatter(noise, count_unit(profile), float(step_of(profile)))
    dof = GUESS_DOF if relock is None else relock.dof
    sd = max(sqrt(relock_variance(state)), float(step_of(profile)) / sqrt(12))
    noise_dof = reading_known(profile, state.spindle.stays).dof
    return likely_causes((*state.causes.misses, miss), sd, dof, noise_dof)


def miss_of_lock(state: State, jump: float, expected: float, u: float) -> Miss:
    """What the dial at a side station did while the table was locked, in counts of height."""
    return Miss((jump - expected,), (sqrt(2) * repeat_here(state),), (u,), (_SIDE_LOCK,), (0.0,))


_SIDE_LOCK: Final = sqrt(2) * SIDE_STATION_SHARE
_DIFFERENCE_LOCK: Final = sqrt(2)
"""A locking before and one after."""


def _repeat(before: Answer, answer: Answer) -> Miss:
    """A sweep of a table that nobody touched."""
    expected = (before.front_minus_back, before.right_minus_left)
    was, now = before.budget.covariance, answer.budget.covariance
    u = (sqrt(was[0][0] + now[0][0]), sqrt(was[1][1] + now[1][1]))
    found = (answer.front_minus_back, answer.right_minus_left)
    none = (0.0, 0.0)
    return Miss(_off(found, expected), u, none, none, none, _images(found, expected))


def _corrected(state: State, plan: Plan, before: Answer, answer: Answer) -> Miss:
    """A sweep after a correction: as it was to leave it, or as it would from mirrored readings.

    Against the first sweep before it, which was read at the same spots: so the surface is not in
    what they differ by.
    """
    then = answer_of(state, state.same_table[0].readings, alone=True)
    was = (then.front_minus_back, then.right_minus_left)
    found = (answer.front_minus_back, answer.right_minus_left)
    expected = (
        plan.expected_fb + was[0] - before.front_minus_back,
        plan.expected_rl + was[1] - before.right_minus_left,
    )
    images, lengthwise = _images(found, expected), plan.kind in LENGTHWISE
    # Had the readings before been mirrored, what there was would still be there, turned round.
    each = EXCHANGED_ONCE / len(images)
    images += (
        Image("ends before", _off(found, (expected[0] - 2 * was[0], expected[1])), each),
        Image("sides before", _off(found, (expected[0], expected[1] - 2 * was[1])), each),
    )
    for name, turned, prior in (("still", 0, STILL), ("wrong way", -1, WRONG_WAY)):
        # What it was to move it by, not at all or the other way.
        pair = tuple(w + turned * (e - w) for w, e in zip(was, expected, strict=True))
        pair = (pair[0], expected[1]) if lengthwise else (expected[0], pair[1])
        images += (Image(name, _off(found, pair), prior),)
    # Two readings to a difference, and two differences. A call that is wrong by so much shows in
    # the saddle as well, which is the surface's and the same again.
    u = hypot(2 * repeat_here(state), ((answer.saddle or 0.0) - (then.saddle or 0.0)) / 2)
    own = u_forecast(state, plan, before)
    moved = moved_by(plan, before)
    lock = (_DIFFERENCE_LOCK, _DIFFERENCE_LOCK)
    forecast = (own, 0.0) if lengthwise else (0.0, own)
    leans = (0.0, LEANS * abs(moved[0])) if lengthwise else (LEANS * abs(moved[1]), 0.0)
    return Miss(_off(found, expected), (u, u), forecast, lock, leans, images)


def _images(found: Pair, expected: Pair) -> tuple[Image, ...]:
    front, right = found
    mirrored = {"sides": (front, -right), "ends": (-front, right), "signs": (-front, -right)}
    each = EXCHANGED_ONCE / len(mirrored)
    return tuple(Image(name, _off(pair, expected), each) for name, pair in mirrored.items())


def _off(found: Pair, expected: Pair) -> Pair:
    return found[0] - expected[0], found[1] - expected[1]


def remembered(state: State, miss: Miss | None) -> State:
    """The state with one more miss to weigh the next by."""
    if miss is None:
        return state
    causes = state.causes
    return replace(state, causes=replace(causes, misses=(*causes.misses, replace(miss, images=()))))


def told_before(state: State) -> State:
    """Once a sweep before was told to have been read with sides exchanged."""
    return replace(state, causes=replace(state.causes, before=True))


def told_loose(state: State) -> State:
    """Once it was told it is looked after: what was seen before says nothing any more."""
    return replace(
        state,
        causes=Causes(loose=state.causes.loose + 1, before=state.causes.before),
        shims=replace(state.shims, did_nothing=0),
        taps=replace(state.taps, did_nothing=0, pulls=(), pull=0.0),
    )
