"""How likely the sides of a sweep changed places, by every sweep of this job that bears on it.

Belongs here: from the sweeps of a job to the metrology's ways, for the table as it stands and as it
stood before the last correction. What is done about it is ``missed`` and the procedures'.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import hypot, sqrt
from typing import Final

from assistant.dialogue.forecast import covariance_of_move, moved_by
from assistant.dialogue.state import CompletedSweep, State, Taken
from assistant.dialogue.sweep_answer import (
    count_unit,
    counted_with,
    legs_of,
    legs_read,
    measured_by,
    noise_with,
    rig_of,
    step_of,
    warp_of,
)
from assistant.dialogue.weighing import LENGTHWISE, relock_variance
from assistant.metrology.exchanges import PRIORS, Exchange, HowRead, Link, exchanged, odds_of
from assistant.metrology.heights import in_heights
from assistant.metrology.one_surface import Leg
from assistant.metrology.one_sweep import swept_of
from assistant.metrology.problem import Problem
from assistant.metrology.problem import Sweep as Swept
from assistant.metrology.scatter import end_play_sd, resolution_sd, surface_scatter

WIDE: Final = 8.0
"""Times the lock's usual scatter by which one that gives lets the table land (judgement)."""


@dataclass(frozen=True, slots=True)
class Exchanges:
    """Probabilities that a sweep was read with sides exchanged, by which sides.

    ``now``: the sweep that is judged; ``before``: the one that the last correction went by;
    ``earlier``: others of the table as it stands, by their number.
    """

    now: dict[Exchange, float]
    before: dict[Exchange, float]
    earlier: dict[int, float]


NOTHING: Final = Exchanges({}, {}, {})


def exchange_odds(
    state: State,
    readings: Sequence[Taken] = (),
    *,
    now_sure: bool = False,
    before_sure: bool = False,
) -> Exchanges:
    """How likely the sides of the sweep that is judged, or of one before it, changed places.

    ``readings``: of the sweep that is judged; none: it is the last one that was kept;
    ``now_sure``: its sides are known to be right; ``before_sure``: so are those before the
    correction. Nothing where no other reading bears on it.
    """
    now, here = _as_it_stands(state, readings)
    then = _then(state, here)
    link = _link(state, then)
    before = [] if link is None else [legs_of(then, one) for one in then.same_table]
    if not now or (len(now) == 1 and len(now[0]) == 1 and not before):
        return NOTHING
    problem, read = _in_heights(state, [*now, *before])
    tables = [0] * len(now) + [1] * len(before)
    ways = [HowRead("", _legs(problem, read, tables), 0.0)]
    judged = len(now) - 1
    for place, (main, *further) in enumerate(read):
        sure = now_sure if place == judged else before_sure and place > judged
        for each in () if sure else PRIORS:
            other = list(exchanged(main, further[0] if further else None, each))
            changed = [*read[:place], other, *read[place + 1 :]]
            ways.append(HowRead(f"{place} {each}", _legs(problem, changed, tables), PRIORS[each]))
    noise, unit, step = problem.noise, problem.unit, float(step_of(state.profile))
    exact = hypot(resolution_sd(step), end_play_sd(noise, unit))
    known = surface_scatter(noise, unit, step)
    odds = odds_of(ways, link, known, exact, float(state.profile.sweep_diameter.to("mm")))
    return Exchanges(
        {each: odds.get(f"{judged} {each}", 0.0) for each in PRIORS},
        {each: _sum(odds, range(len(now), len(read)), each) for each in PRIORS},
        {one.number: _sum(odds, [place], *PRIORS) for place, one in enumerate(here[:judged])},
    )


def _sum(odds: Mapping[str, float], places: Iterable[int], *which: Exchange) -> float:
    return sum(odds.get(f"{place} {each}", 0.0) for place in places for each in which)


def _as_it_stands(
    state: State, readings: Sequence[Taken]
) -> tuple[list[tuple[Swept, ...]], tuple[CompletedSweep, ...]]:
    """All sweeps of the table as it stands, the judged one last; those of them that are kept."""
    if not readings:
        return [legs_of(state, one) for one in state.same_table], state.same_table
    here = counted_with(state)
    judged = legs_read(state, readings, (), state.further, state.again.refitted)
    return [*(legs_of(state, one) for one in here), judged], here


def _then(state: State, here: tuple[CompletedSweep, ...]) -> State:
    """The state in which the first sweep of the table as it stands was begun."""
    if not here:
        return state
    earlier = tuple(one for one in state.sweeps if one.number < here[0].number)
    return here[0].before.restored(replace(state, sweeps=earlier))


def _link(state: State, then: State) -> Link | None:
    """What the correction before it did; None without one, or with one that was given up."""
    plan, before = then.plan, then.as_left
    if plan is None or plan.given_up or before is None or then.came_back:
        return None
    wide = WIDE * max(sqrt(relock_variance(then)), float(step_of(state.profile)))
    moved, covariance = moved_by(plan, before), covariance_of_move(then, plan, before)
    return Link(1, moved, covariance, 0 if plan.kind in LENGTHWISE else 1, wide)


def _in_heights(
    state: State, read: Sequence[tuple[Swept, ...]]
) -> tuple[Problem, list[list[Swept]]]:
    """The sweeps with heights for readings, and the problem that says of what."""
    profile = state.profile
    main, *others = (one for sweep in read for one in sweep)
    problem = in_heights(
        Problem(
            unit=count_unit(profile),
            readings=main.readings,
            closing=main.closing,
            closing_turn=main.closing_turn,
            method=measured_by(profile),
            rig=rig_of(profile),
            sweep_diameter=profile.sweep_diameter,
            noise=noise_with(profile, state.spindle.stays),
            repeats=tuple(others),
            warp=warp_of(state),
        )
    )
    level = iter(problem.sweeps)
    # The first sweep of a problem has no word for how the bar sat.
    return problem, [
        [replace(next(level), refitted=one.refitted) for one in sweep] for sweep in read
    ]


def _legs(
    problem: Problem, read: Sequence[Sequence[Swept]], tables: Sequence[int]
) -> tuple[Leg, ...]:
    return tuple(
        Leg(swept_of(problem, one), table, one.refitted)
        for sweep, table in zip(read, tables, strict=True)
        for one in sweep
    )
