"""From the readings of a sweep to the metrology's question and back: exact until its door."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from math import hypot, sqrt
from typing import Literal

from assistant.dialogue.dial_setting import alternatives_of
from assistant.dialogue.facts import ShimTrial, TapDone
from assistant.dialogue.formatting import tolerance_counts
from assistant.dialogue.gauging import no_go_of, usual_leaf
from assistant.dialogue.machine import SHIMMED, Profile
from assistant.dialogue.methods import method_of
from assistant.dialogue.spots import further_deg, spots_further
from assistant.dialogue.state import CompletedSweep, State, Taken
from assistant.metrology.answer import Answer
from assistant.metrology.conformance import Region
from assistant.metrology.consistency import (
    Alternative,
    Suspect,
    SweepLimits,
    limits,
    saddle_and_drift,
    suspects,
)
from assistant.metrology.consistency import StationOrClosing as SuspectPlace
from assistant.metrology.evidence import FALSE_ALARMS
from assistant.metrology.heights import gain
from assistant.metrology.judgement import tolerance_region
from assistant.metrology.lengths import ZERO, Length, Unit
from assistant.metrology.problem import Method as Measured
from assistant.metrology.problem import Noise, Problem, Shimming, StationReading, TapTrial, Trial
from assistant.metrology.problem import Sweep as Swept
from assistant.metrology.response import Response, prior_of_machine, remembered
from assistant.metrology.rig import Rig
from assistant.metrology.scatter import (
    GUESS_DOF,
    Scatter,
    reading_scatter,
    reading_sd,
    relock_scatter,
)
from assistant.metrology.solve import solve
from assistant.metrology.stations import BEARING_OF
from grammar.vocabulary import Station

CORNER_BEARINGS: tuple[Decimal, ...] = tuple(Decimal(deg) for deg in (45, 135, 225, 315))
"""Between the stations, in the order of the sweep."""


def count_unit(profile: Profile) -> Unit:
    """The unit of a count of the profile's scale."""
    return "thou" if profile.scale.system == "thou" else "hundredth"


def counted_with(state: State) -> tuple[CompletedSweep, ...]:
    """Earlier sweeps of the table as it stands, which count with the one that is read now."""
    moved = state.plan is not None or state.came_back
    return () if moved else state.same_table


def answer_of(
    state: State,
    readings: Sequence[Taken],
    *,
    alone: bool = False,
    corners: Sequence[Decimal] = (),
) -> Answer:
    """The answer of these readings, in counts, with all that the job has learned so far.

    ``corners``: read on from the same zero between the stations, and the first one again.

    Sweeps of the same table, made before without a correction or another place in between,
    count with them unless they are to stand ``alone``.
    """
    profile = state.profile
    unit = count_unit(profile)
    earlier = () if alone else counted_with(state)
    here = {sweep.number for sweep in earlier}
    before = [sweep for sweep in state.usable_sweeps if sweep.number not in here]
    this, *further = legs_read(state, readings, corners, state.further, state.again.refitted)
    problem = Problem(
        unit=unit,
        readings=this.readings,
        method=measured_by(profile),
        rig=rig_of(profile),
        closing=this.closing,
        closing_turn=this.closing_turn,
        moved_on=this.moved_on,
        as_locked=True,
        history=_history(state, before),
        sweep_diameter=profile.sweep_diameter,
        pivot_offset=profile.pivot_offset,
        tolerance=profile.tolerance,
        tolerance_over=profile.tolerance_over,
        front_may_be=profile.front_may_be,
        shim=_shimming(state, unit),
        noise=noise_with(profile, state.spindle.stays),
        taps=tuple(_tap(tap, unit) for tap in state.taps.done),
        repeats=(*further, *(leg for sweep in earlier for leg in legs_of(state, sweep))),
        warp=warp_of(state),
    )
    return solve(problem)


def _shimming(state: State, unit: Unit) -> Shimming:
    profile = state.profile
    if profile.kind not in SHIMMED:
        return Shimming()
    return Shimming(
        span=profile.span,
        stock=tuple(Length.of(leaf, unit) for leaf in profile.stock),
        max_leaves=profile.max_leaves,
        trials=tuple(_trial(trial, unit) for trial in state.shims.trials),
        fitted=Length.of(state.shims.total, unit),
        leaf_tolerance=Length.of(profile.leaf_tolerance, unit),
        known=from_last_job(state, "shim", prior_of_machine(profile.sweep_diameter, profile.span)),
    )


def from_last_job(state: State, kind: str, guess: Response) -> Response | None:
    """What earlier jobs taught of the response for this kind of plan, over the sweep of this job.

    ``guess``: what would be expected of any such machine. None where nothing was learnt.
    """
    for learnt in state.last.learnt if state.last else ():
        if learnt.kind == kind:
            wider = float(state.profile.sweep_diameter / learnt.over)
            then = Response(learnt.value * wider, learnt.uncertainty * wider)
            return remembered(then, learnt.days, guess)
    return None


def poorly_known(response: Response) -> bool:
    """Whether the response is so little known that the next shim is to show it."""
    return response.uncertainty > response.value / 3


def warp_of(state: State) -> tuple[Length, Length]:
    """What is known of the table's own form: saddle and twist that stand out of the noise."""
    found, unit = state.form.found, count_unit(state.profile)
    if found is None:
        return ZERO, ZERO
    saddle, twist = (
        Length.of(Decimal(str(round(value, 6))), unit) if abs(value) > found.clear else ZERO
        for value in (found.saddle, found.twist)
    )
    return saddle, twist


def _history(state: State, before: Sequence[CompletedSweep]) -> tuple[Swept, ...]:
    """Earlier sweeps, each with a number for the state of the table that it belongs to."""
    legs, table = [], 0
    for sweep in before:
        table += state.moved_before(sweep)
        legs += [replace(leg, table=table) for leg in legs_of(state, sweep)]
    return tuple(legs)


def legs_of(state: State, sweep: CompletedSweep) -> tuple[Swept, ...]:
    refitted = sweep.before.again.refitted
    return legs_read(state, sweep.readings, sweep.corners, state.further_of(sweep), refitted)


def legs_read(
    state: State,
    readings: Sequence[Taken],
    corners: Sequence[Decimal],
    moved_on: int,
    refitted: bool,
) -> tuple[Swept, ...]:
    """A sweep for the metrology, and the one that went on from it between its stations.

    ``moved_on``: how often its spots were; every station lies as far round.
    """
    unit = count_unit(state.profile)
    on = further_deg(state.profile) * moved_on
    main = _swept(readings, unit, on, refitted != state.again.refitted)
    if not corners or main.closing is None:
        return (main,)
    *between, last = corners
    further = Swept(
        tuple(
            StationReading(bearing + on, Length.of(value, unit))
            for bearing, value in zip(CORNER_BEARINGS, between, strict=True)
        ),
        Length.of(last, unit),
        main.refitted,
        opening=main.closing,
        moved_on=on,
    )
    return main, further


def _swept(readings: Sequence[Taken], unit: Unit, on: Decimal, refitted: bool) -> Swept:
    """The readings of a sweep, each with its place in time and ``on`` degrees round.

    A reading that was called again has the place of its last call: the dial drifted until then.
    """
    closing = next((taken for taken in readings if taken.closing), None)
    in_time = sorted(readings, key=lambda taken: taken.order)
    turn = {id(taken): place for place, taken in enumerate(in_time)}
    return Swept(
        tuple(
            replace(
                StationReading.at(
                    taken.station,
                    Length.of(taken.value, unit),
                    None if taken.no_go is None else Length.of(taken.no_go, unit),
                ),
                bearing_deg=BEARING_OF[taken.station] + on,
                turn=turn[id(taken)],
            )
            for taken in readings
            if not taken.closing
        ),
        None if closing is None else Length.of(closing.value, unit),
        refitted,
        None if closing is None else turn[id(closing)],
        moved_on=on,
    )


def _trial(trial: ShimTrial, unit: Unit) -> Trial:
    """A trial for the metrology: from the base on the same side, or else as its bare change."""
    base, after = trial.shim_before, trial.shim_after
    if base * after < 0:
        base, after = Decimal(0), after - base
    above = after > 0 or (after == 0 and base > 0)
    return Trial(
        total=Length.of(abs(after), unit),
        before=Length.of(Decimal(str(trial.before)), unit),
        after=Length.of(Decimal(str(trial.after)), unit),
        place="above" if above else "below",
        base=Length.of(abs(base), unit),
        side_before=_maybe(trial.side_before, unit),
        side_after=_maybe(trial.side_after, unit),
    )


def _tap(tap: TapDone, unit: Unit) -> TapTrial:
    return TapTrial(
        Length.of(tap.change, unit),
        Length.of(Decimal(str(tap.before)), unit),
        Length.of(Decimal(str(tap.after)), unit),
        _maybe(tap.front_before, unit),
        _maybe(tap.front_after, unit),
    )


def _maybe(counts: float | None, unit: Unit) -> Length | None:
    return None if counts is None else Length.of(Decimal(str(counts)), unit)


def region_here(profile: Profile) -> Region:
    """The tolerance over the sweep diameter, in counts."""
    return tolerance_region(tolerance_counts(profile), profile.front_may_be)


def noise_of(profile: Profile) -> Noise:
    """What is known of the noise: measured at this machine, or else as the profile states."""
    unit = count_unit(profile)

    def lengths(values: tuple[Decimal, ...]) -> tuple[Length, ...]:
        return tuple(Length.of(value, unit) for value in values)

    return Noise(
        surface=lengths(profile.surface),
        surface_apart=spots_further(profile),
        relock=lengths(profile.relock),
        lock_pull=None if profile.lock_pull is None else Length.of(profile.lock_pull, unit),
        indicator_limit=Length.of(profile.instrument.limit, unit),
        resolution=Length.of(step_of(profile), unit),
        reading_sd=Length.of(profile.reading_sd, unit),
        relock_sd=Length.of(profile.relock_sd, unit),
        days_old=profile.surface_days,
        relock_days_old=profile.relock_days,
    )


def noise_with(profile: Profile, stays: Decimal | None) -> Noise:
    """The same at a spindle that stays up so far when it was lifted; None: not checked."""
    known = noise_of(profile)
    return (
        known if stays is None else replace(known, end_play=Length.of(stays, count_unit(profile)))
    )


def reading_known(profile: Profile, stays: Decimal | None = None) -> Scatter:
    """Scatter of one called reading in counts: surface, rounding and end play."""
    noise = noise_with(profile, stays)
    return reading_scatter(noise, count_unit(profile), float(step_of(profile)))


def reading_sigma(profile: Profile, stays: Decimal | None = None) -> float:
    """Its standard deviation."""
    return reading_known(profile, stays).sd


def asked_rate(known: Scatter) -> float:
    """Share of good sweeps of which a station may be asked again.

    One in a hundred; where the noise is guessed one in ten, since a guess of two degrees of
    freedom would pass a sign called wrong, and to ask costs little.
    """
    return GUESS_ASKED if known.assumed else FALSE_ALARMS


GUESS_ASKED = 0.1
"""Share of good sweeps of which a station may be asked again where the noise is guessed."""


def difference_here(state: State) -> float:
    """Standard deviation of a difference from one clamping to the next, in counts.

    The surface is not in it: what a correction changed is read on the same spots before and after.
    """
    profile = state.profile
    noise, unit = noise_with(profile, state.spindle.stays), count_unit(profile)
    relock = relock_scatter(noise, unit, float(step_of(profile)))
    return sqrt(2 * repeat_here(state) ** 2 + (relock.sd**2 if relock else 0.0))


def repeat_here(state: State) -> float:
    """Standard deviation of a reading that is taken again at its spot, in counts."""
    profile = state.profile
    noise, step = noise_with(profile, state.spindle.stays), float(step_of(profile))
    return max(REPEATS * reading_sd(noise, count_unit(profile), step), step / sqrt(6))


REPEATS = 0.5
"""How a reading repeats at its spot, as a part of how readings scatter over the table (judgement):
the tip comes back to within a few degrees, and the surface is half the same there."""


def moved_by_hand(state: State, moved: float) -> float:
    """Standard uncertainty of what is read after a tap or a move, less what was forecast."""
    return hypot(sqrt(2) * difference_here(state), HANDS_REPEAT * moved)


HANDS_REPEAT = 0.125
"""What a correction by hand comes to, as it is weighed: to about a quarter of itself, two standard
uncertainties (common practice, no source)."""


BY_HAND = 0.2
"""A tap or a move comes to what was asked within this part of it (judgement)."""


def step_of(profile: Profile) -> Decimal:
    """The step in which is read: that of the dial, or from a usual leaf to the next."""
    usual = usual_leaf(profile)
    no_go = no_go_of(profile, usual)
    return profile.scale.step if no_go is None else no_go - usual


def reading_gain(profile: Profile) -> Decimal:
    """Height of the table per count read."""
    return gain(measured_by(profile), rig_of(profile), profile.sweep_diameter)


def measured_by(profile: Profile) -> Measured:
    """The method for the metrology; by touch nothing is ever measured."""
    return "indicator" if profile.method == "touch" else profile.method


def rig_of(profile: Profile) -> Rig:
    """How the profile's instrument is read, for the metrology."""
    held = profile.instrument
    sign: Literal[1, -1] = -1 if held.higher == "minus" else 1
    reach = Length.of(profile.scale.reach, count_unit(profile))
    on_dial = reach if measured_by(profile) == "indicator" else None
    return Rig(sign, held.lever_deg, held.tip, held.square_height, reach=on_dial)


def sweep_limits(profile: Profile, stays: Decimal | None = None) -> SweepLimits:
    """The limits for drift and saddle at this machine, in counts."""
    known = reading_known(profile, stays)
    return limits(known.sd, known.dof, method_of(profile).closes, asked_rate(known))


def suspects_of(
    state: State,
    readings: Sequence[Taken],
    forecast: "Forecast | None",
    *,
    as_before: bool = False,
) -> tuple[Suspect, ...]:
    """Which readings of a complete sweep were most likely mis-heard, likeliest first.

    ``as_before``: they are held against what earlier sweeps of these spots were off a plane as
    well, which repeats better than a table is flat.
    """
    profile = state.profile
    others: dict[SuspectPlace, Sequence[Alternative]] = {
        _place(taken): alternatives_of(profile, taken.value, taken.alternatives)
        for taken in readings
        if not taken.zeroed
    }
    known = reading_known(profile, state.spindle.stays)
    # Front and back stand over right and left: the saddle counts them all four.
    bent = 2 * float(warp_of(state)[0].to(count_unit(profile)) / reading_gain(profile))
    limit = sweep_limits(profile, state.spindle.stays).saddle
    before = _saddles_before(state) if as_before else []
    if before:
        bent = sum(before) / len(before)
        again = limits(repeat_here(state), GUESS_DOF, method_of(profile).closes, GUESS_ASKED)
        limit = min(limit, again.saddle * sqrt(1 + 1 / len(before)))
    found = suspects(
        {_place(taken): taken.value for taken in readings},
        others,
        known.sd,
        forecast.readings if forecast else None,
        signed=profile.method != "gap",
        reach=Decimal(profile.scale.reach),
        expected_sigma=forecast.sigma if forecast else 1.0,
        dof=known.dof,
        rate=asked_rate(known),
        bent=bent,
        saddle_limit=limit,
    )
    zeroed = {taken.station for taken in readings if taken.zeroed}
    return tuple(suspect for suspect in found if suspect.place not in zeroed)


def _place(taken: Taken) -> SuspectPlace:
    return "closing" if taken.closing else taken.station


def _saddles_before(state: State) -> list[float]:
    """The saddles of earlier sweeps of the spots that are being swept, in counts as read."""
    return [
        saddle_and_drift({_place(taken): taken.value for taken in sweep.readings})[0]
        for sweep in state.usable_sweeps
        if state.further_of(sweep) == state.further
    ]


@dataclass(frozen=True, slots=True)
class Forecast:
    """What a sweep should show after a correction; ``sigma`` is of one station, in counts."""

    readings: dict[Station, Decimal]
    sigma: float


def forecast_of(state: State) -> Forecast | None:
    """What the correction since the last sweep predicts, once this machine's response is known."""
    plan = state.plan
    if plan is None:
        return None
    untried = plan.kind == "shim" and not state.shims.trials
    if untried and (plan.response is None or poorly_known(plan.response)):
        return None
    fb, rl = Decimal(str(plan.expected_fb)), Decimal(str(plan.expected_rl))
    gain = reading_gain(state.profile)
    readings: dict[Station, Decimal] = {
        "back": -fb / 2 / gain, "right": rl / 2 / gain,
        "front": fb / 2 / gain, "left": -rl / 2 / gain,
    }  # fmt: skip
    last = state.as_left
    moved = 0.0 if last is None else max(
        abs(last.front_minus_back - plan.expected_fb),
        abs(last.right_minus_left - plan.expected_rl),
    )  # fmt: skip
    # Half of what the correction was to change, either way: responses repeat no better than that
    # on a table that is clamped by hand (common practice, no source).
    return Forecast(readings, max(2 * reading_sigma(state.profile, state.spindle.stays), moved / 2))
