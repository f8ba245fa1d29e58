"""From the readings of a sweep to the metrology's question and back: exact until its door."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Literal

from assistant.dialogue.dial_setting import alternatives_of
from assistant.dialogue.facts import ShimTrial, TapDone
from assistant.dialogue.formatting import tolerance_counts
from assistant.dialogue.gauging import no_go_of, usual_leaf
from assistant.dialogue.machine import SHIMMED, Profile
from assistant.dialogue.state import State, Taken
from assistant.metrology.answer import Answer
from assistant.metrology.conformance import Region
from assistant.metrology.consistency import Alternative, Limits, Suspect, limits, suspects
from assistant.metrology.consistency import Place as SuspectPlace
from assistant.metrology.heights import gain
from assistant.metrology.judgement import tolerance_region
from assistant.metrology.lengths import Length, Unit
from assistant.metrology.problem import Method as Measured
from assistant.metrology.problem import Noise, Problem, Reading, Shimming, TapTrial, Trial
from assistant.metrology.problem import Sweep as Swept
from assistant.metrology.rig import Rig
from assistant.metrology.scatter import reading_sd
from assistant.metrology.solve import solve
from grammar.vocabulary import Station


def count_unit(profile: Profile) -> Unit:
    """The unit of a count of the profile's scale."""
    return "thou" if profile.scale.system == "thou" else "hundredth"


def answer_of(state: State, readings: Sequence[Taken], *, alone: bool = False) -> Answer:
    """The answer of these readings, in counts, with all that the job has learned so far.

    Sweeps of the same table, made before without a correction or another place in between,
    count with them unless they are to stand ``alone``.
    """
    profile = state.profile
    unit = count_unit(profile)
    moved = state.plan is not None or state.came_back
    earlier = () if alone or moved else state.same_table
    this = _swept(readings, unit)
    problem = Problem(
        unit=unit,
        readings=this.readings,
        method=measured_by(profile),
        rig=rig_of(profile),
        closing=this.closing,
        sweep_diameter=profile.sweep_diameter,
        pivot_offset=profile.pivot_offset,
        tolerance=profile.tolerance,
        tolerance_over=profile.tolerance_over,
        front_may_be=profile.front_may_be,
        shim=_shimming(state, unit),
        noise=noise_with(profile, state.spindle.stays),
        taps=tuple(_tap(tap, unit) for tap in state.taps.done),
        repeats=tuple(
            _swept(sweep.readings, unit, sweep.before.again.refitted != state.again.refitted)
            for sweep in earlier
        ),
        relocked=state.again.relocked,
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
    )


def _swept(readings: Sequence[Taken], unit: Unit, refitted: bool = False) -> Swept:
    """The readings of a sweep for the metrology, in the order of the stations."""
    closing = next((taken.value for taken in readings if taken.closing), None)
    return Swept(
        tuple(
            Reading.at(
                taken.station,
                Length.of(taken.value, unit),
                None if taken.no_go is None else Length.of(taken.no_go, unit),
            )
            for taken in readings
            if not taken.closing
        ),
        None if closing is None else Length.of(closing, unit),
        refitted,
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
        relock=lengths(profile.relock),
        lock_pull=None if profile.lock_pull is None else Length.of(profile.lock_pull, unit),
        indicator_limit=Length.of(profile.instrument.limit, unit),
        resolution=Length.of(step_of(profile), unit),
        reading_sd=Length.of(profile.reading_sd, unit),
        relock_sd=Length.of(profile.relock_sd, unit),
    )


def noise_with(profile: Profile, stays: Decimal | None) -> Noise:
    """The same at a spindle that stays up so far when it was lifted; None: not checked."""
    known = noise_of(profile)
    return (
        known if stays is None else replace(known, end_play=Length.of(stays, count_unit(profile)))
    )


def reading_sigma(profile: Profile, stays: Decimal | None = None) -> float:
    """Standard deviation of one called reading in counts: surface, rounding and end play."""
    return reading_sd(noise_with(profile, stays), count_unit(profile), float(step_of(profile)))


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
    return Rig(sign, held.lever_deg, held.tip, held.square_height)


def sweep_limits(profile: Profile, stays: Decimal | None = None) -> Limits:
    """The limits for drift and saddle at this machine, in counts."""
    return limits(reading_sigma(profile, stays))


def suspects_of(
    state: State, readings: Sequence[Taken], forecast: "Forecast | None"
) -> tuple[Suspect, ...]:
    """Which readings of a complete sweep were most likely mis-heard, likeliest first."""
    profile = state.profile
    values: dict[SuspectPlace, Decimal] = {}
    others: dict[SuspectPlace, Sequence[Alternative]] = {}
    for taken in readings:
        place: SuspectPlace = "closing" if taken.closing else taken.station
        values[place] = taken.value
        if not taken.zeroed:
            others[place] = alternatives_of(profile, taken.value, taken.alternatives)
    found = suspects(
        values,
        others,
        reading_sigma(profile, state.spindle.stays),
        forecast.readings if forecast else None,
        signed=profile.method != "gap",
        reach=Decimal(profile.scale.reach),
        expected_sigma=forecast.sigma if forecast else 1.0,
    )
    zeroed = {taken.station for taken in readings if taken.zeroed}
    return tuple(suspect for suspect in found if suspect.place not in zeroed)


@dataclass(frozen=True, slots=True)
class Forecast:
    """What a sweep should show after a correction; ``sigma`` is of one station, in counts."""

    readings: dict[Station, Decimal]
    sigma: float


def forecast_of(state: State) -> Forecast | None:
    """What the correction since the last sweep predicts, once this machine's response is known."""
    plan = state.plan
    if plan is None or (plan.kind == "shim" and not state.shims.trials):
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
