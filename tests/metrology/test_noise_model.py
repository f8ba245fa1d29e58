"""Where a scatter comes from, what it is worth, and what a job adds to it."""

from dataclasses import replace
from decimal import Decimal
from math import cos, inf, radians, sqrt

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy.stats import chi2, ncx2

from assistant.metrology.budget import reading_known
from assistant.metrology.drift import without_drift
from assistant.metrology.evidence import (
    Misfit,
    Shown,
    Swept,
    misfit_of,
    relock_shown,
    repeat_scatter,
    shown_by,
)
from assistant.metrology.least_squares import Array
from assistant.metrology.lengths import Unit
from assistant.metrology.problem import Noise, Problem, ProblemError, StationReading, Sweep
from assistant.metrology.rig import Rig
from assistant.metrology.scatter import (
    Scatter,
    aged,
    reading_scatter,
    relock_scatter,
    surface_scatter,
)
from assistant.metrology.solve import solve
from assistant.metrology.stations import BEARING_OF
from assistant.metrology.waviness import CORRELATION_MM, off_line_sd, spots_apart, spots_in_a_row
from tests.metrology.sweeps import length, lengths, sweep

FOUR = (0.0, 90.0, 180.0, 270.0)
KNOWN = Noise(
    reading_sd=length("0.5"), reading_dof=inf, relock_sd=length("0"), relock_dof=inf,
    resolution=length("0.1"),
)  # fmt: skip


# -- where a figure comes from --


def test_what_was_never_measured_is_a_guess_of_two_degrees_of_freedom() -> None:
    """A stated sd is a guess unless degrees of freedom stand behind it (GUM G.4.2, r = 1/2)."""
    guess = Noise(reading_sd=length("0.5"), relock_sd=length("0.5"))
    for found in (surface_scatter(guess, "thou", 0.5), relock_scatter(guess, "thou", 0.5)):
        assert found == Scatter(0.5, 2.0, "assumed")
    told = replace(guess, reading_dof=11.0)
    assert surface_scatter(told, "thou", 0.5) == Scatter(0.5, 11.0, "remembered")
    assert solve(sweep("6 3 0 3", noise=guess)).degrees_of_freedom < 9
    assert "noise_assumed" in {w.code for w in solve(sweep("6 3 0 3", noise=guess)).warnings}
    assert "noise_assumed" not in {w.code for w in solve(sweep("6 3 0 3", noise=KNOWN)).warnings}


def test_a_guess_stops_being_one_when_the_job_has_shown_more() -> None:
    guess = Scatter(0.5, 2.0, "assumed")
    little = guess.with_more([Scatter(1.0, 1.0)])
    assert (little.origin, little.dof) == ("assumed", 3.0)
    assert little.sd == pytest.approx(sqrt((2 * 0.25 + 1) / 3))
    assert guess.with_more([Scatter(1.0, 9.0)]).origin == "measured"
    assert Scatter(0.5, 2.0, "remembered").with_more([Scatter(1, 9)]).origin == "remembered"


def test_what_is_remembered_ages() -> None:
    """A quarter of itself in a year, with the root of the time: 1/nu grows by 2 r^2."""
    assert aged(4, 0) == 4
    assert aged(8, 365) == pytest.approx(4)
    assert aged(inf, 4 * 365) == pytest.approx(2)
    measured = Noise(surface=lengths("0 1 -1 0.5 0"), resolution=length("0.01"))
    fresh = surface_scatter(measured, "thou", 0.01)
    old = surface_scatter(replace(measured, days_old=730.0), "thou", 0.01)
    assert (fresh.origin, fresh.dof) == ("measured", 4)
    assert (old.origin, old.sd) == ("remembered", fresh.sd)
    assert old.dof == pytest.approx(2)
    with pytest.raises(ProblemError, match="days_old"):
        sweep("0 0 0 0", noise=Noise(days_old=-1))
    with pytest.raises(ProblemError, match="reading_dof"):
        sweep("0 0 0 0", noise=Noise(reading_sd=length("1"), reading_dof=0))


def test_readings_that_round_to_one_count_do_not_show_that_nothing_scatters() -> None:
    still = Noise(surface=lengths("0 0 0 0"), resolution=length("0.5"))
    assert surface_scatter(still, "thou", 0.5).sd == pytest.approx(0.5 / sqrt(12))
    assert reading_scatter(still, "thou", 0.5).dof == pytest.approx(3 * 4)


# -- rough or wavy --


def _spots_drawn(
    random: np.random.Generator, count: int, span: float, draws: int, power: float = 1.0
) -> Array:
    """Heights at spots along a line, evenly or anywhere, of a surface of variance one: rows.

    ``power``: of the distance in the correlation's exponent; with two its waves are smooth.
    """
    at = random.uniform(0, span, (draws, count))
    at[: draws // 2] = np.linspace(0, span, count)
    apart = np.abs(at[:, :, None] - at[:, None, :]) / CORRELATION_MM
    root = np.linalg.cholesky(np.exp(-(apart**power)) + 1e-6 * np.eye(count))
    drawn = root @ random.normal(size=(draws, count, 1))
    return np.asarray(drawn[:, :, 0], dtype=np.float64)


def test_a_wave_is_the_same_at_neighbouring_spots() -> None:
    """Seeded surfaces with correlation exp(-d / 25.4 mm): variance and its scatter as reckoned."""
    random = np.random.default_rng(20)
    for count, span in ((5, 25.4), (5, 101.6), (8, 60.0)):
        variances = _spots_drawn(random, count, span, 40_000).var(axis=1, ddof=1)
        spots = spots_apart(count, span)
        assert float(variances.mean()) == pytest.approx(1 / spots.factor**2, rel=0.03)
        # A length that may be half or twice costs freedom: fewer than the draws themselves show.
        shown = 2 * variances.mean() ** 2 / variances.var()
        assert 0.7 * shown < spots.dof < shown


def test_spots_far_apart_in_a_row_are_each_their_own() -> None:
    """As independent readings about a line: n - 2, whatever the length of a wave."""
    far = spots_in_a_row(8, 1e6)
    assert (far.factor, far.dof) == pytest.approx((1.0, 6.0))


@pytest.mark.parametrize(("sloppy", "within"), [(0.0, 0.03), (1 / 3, 0.06)])
def test_spots_in_a_row_show_the_roughness_and_not_the_slope(sloppy: float, within: float) -> None:
    """Seeded surfaces as above, a slope under each of twice their scatter, and hands that put every
    spot a third of the way off."""
    random = np.random.default_rng(25)
    for count, apart in ((5, 25.4), (8, 25.4), (8, 12.7)):
        steps = random.uniform(1 - sloppy, 1 + sloppy, (6_000, count)) * apart
        at = np.cumsum(steps, axis=1)
        alike = np.exp(-np.abs(at[:, :, None] - at[:, None, :]) / CORRELATION_MM)
        root = np.linalg.cholesky(alike + 1e-9 * np.eye(count))
        drawn = (root @ random.normal(size=(len(at), count, 1)))[:, :, 0]
        slopes = random.uniform(-2, 2, (len(at), 1)) / 25.4
        variances = np.array([off_line_sd(row) ** 2 for row in drawn + slopes * at])
        spots = spots_in_a_row(count, apart)
        assert float(variances.mean()) == pytest.approx(1 / spots.factor**2, rel=2 * within)
        shown = 2 * variances.mean() ** 2 / variances.var()
        assert 0.6 * shown < spots.dof < 1.05 * shown


def test_how_often_a_rough_table_is_smooth_at_five_spots() -> None:
    """Seeded: spots that come out a third as rough as the table are as frequent as the degrees of
    freedom say, between those of waves with sharp crests and those of smooth ones."""
    count, span, times = 5, 101.6, 0.35
    spots = spots_apart(count, span)
    random = np.random.default_rng(22)
    sharp, smooth = (
        float(np.mean(drawn.var(axis=1, ddof=1) * spots.factor**2 < times**2))
        for drawn in (_spots_drawn(random, count, span, 40_000, power) for power in (1.0, 2.0))
    )
    assert sharp < chi2.cdf(spots.dof * times**2, spots.dof) < smooth


def test_how_far_apart_the_spots_have_to_lie() -> None:
    assert spots_apart(5, None).factor == 1
    assert spots_apart(5, 10 * CORRELATION_MM).factor < 1.15  # one wave hardly counts
    assert spots_apart(5, 25.4).factor > 1.6
    factors = [spots_apart(5, span).factor for span in (10.0, 25.0, 60.0, 127.0, 300.0)]
    assert factors == sorted(factors, reverse=True)
    with pytest.raises(ValueError, match="one spot"):
        spots_apart(3, 0.0)


@pytest.mark.parametrize(("told", "least"), [(True, 0.92), (False, 0.0)])
def test_readings_close_together_are_believed_only_so_far(told: bool, least: float) -> None:
    """Seeded wavy tables, wiggled over an inch about one station: does U hold the truth?

    Told how close together, it does; taken for readings far apart, it does not.
    """
    random = np.random.default_rng(21)
    spots = _spots_drawn(random, 6, 25.4, 250)
    held = 0
    for row, stations in zip(spots, random.normal(size=(250, 4)), strict=True):
        noise = Noise(
            surface=tuple(length(f"{value:.3f}") for value in row),
            surface_span=length("1 in") if told else None,
            relock_sd=length("0"),
            resolution=length("0.01"),
        )
        answer = solve(sweep(" ".join(f"{value:.2f}" for value in stations), noise=noise))
        held += abs(answer.front_minus_back) <= answer.budget.front_minus_back.expanded()
    assert held / 250 >= least if told else held / 250 < 0.9


# -- what the job shows --


def planes(count: int, bumps: float, again: float, seed: int) -> list[Swept]:
    """Sweeps of one table that is moved between them, seeded; the dial does not drift."""
    random = np.random.default_rng(seed)
    spots = random.normal(0, bumps, 4)
    found = []
    for _ in range(count):
        front, right = random.normal(0, 8, 2)
        plane = np.array([-front, right, front, -right]) / 2
        called = plane + spots + random.normal(0, again, 4)
        found.append(Swept(FOUR, tuple(float(value) for value in called)))
    return found


def test_bumps_show_once_and_readings_each_time() -> None:
    """Ten sweeps of one table: one degree of freedom of the surface, nine of the reading."""
    shown = shown_by(planes(10, 1.0, 0.2, 4), 0.001, Scatter(1.0, inf))
    assert shown.spots is not None
    assert shown.repeat is not None
    assert (shown.spots.dof, shown.repeat.dof) == (1, 9)
    spots, repeats = [], []
    for seed in range(600):
        one = shown_by(planes(4, 1.0, 0.3, seed), 0.001, Scatter(9.0, inf))
        assert one.spots is not None
        assert one.repeat is not None
        spots.append(one.spots.sd**2)
        repeats.append(one.repeat.sd**2)
    # Seeded: the mean variances are those drawn.
    assert float(np.mean(repeats)) == pytest.approx(0.09, rel=0.08)
    assert float(np.mean(spots)) == pytest.approx(1.09, rel=0.15)


def test_what_repeats_show_is_no_more_than_all_there_is() -> None:
    noise = Noise(reading_sd=length("0.5"), reading_dof=inf)
    bumps, redrawn = reading_known(noise, "thou", 0.01, Shown(None, Scatter(0.9, 3)))
    assert (bumps.sd, redrawn.sd) == (0, 0.5)
    bumps, redrawn = reading_known(noise, "thou", 0.01, Shown(None, Scatter(0.3, 3)))
    assert bumps.sd == pytest.approx(0.4)
    assert reading_known(noise, "thou", 0.01, Shown())[1].sd == 0


def test_return_errors_tell_of_the_reading_unless_the_dial_drifts_evenly() -> None:
    even = [replace(one, drift=1.5, shares=(0, 0.25, 0.5, 0.75)) for one in planes(3, 1, 0.1, 5)]
    found = repeat_scatter(even, 0.001)
    assert found is not None
    assert (found.dof, found.sd < 0.3) == (4, True)
    assert repeat_scatter(planes(1, 1, 1, 1), 0.01) is None


def test_sweeps_of_other_stations_are_taken_by_themselves() -> None:
    four = planes(1, 0.5, 0.1, 1)[0]
    turned = replace(four, bearings_deg=(45.0, 135.0, 225.0, 315.0))
    shown = shown_by([four, turned], 0.001, Scatter(1.0, inf))
    assert shown.spots is not None
    assert (shown.spots.dof, shown.repeat) == (2, None)


def test_relockings_between_sweeps_are_counted() -> None:
    random = np.random.default_rng(6)
    seen = []
    for _ in range(500):
        pairs = [tuple(row) for row in random.normal(0, sqrt(0.8**2 + 0.3**2), (4, 2))]
        found = relock_shown(pairs, 0.3)
        assert found is not None
        assert found.dof == 6
        seen.append(found.sd**2)
    assert float(np.mean(seen)) == pytest.approx(0.64, rel=0.08)
    assert relock_shown([(1.0, 2.0)], 0.3) is None


def test_history_counts_for_the_noise_and_not_for_the_table() -> None:
    guess = Noise(reading_sd=length("0.5"), relock_sd=length("0.5"), resolution=length("0.1"))
    plain = sweep("0 3 6 3", noise=guess)
    before = tuple(
        Sweep(
            tuple(
                StationReading.at(name, length(text))
                for name, text in zip(BEARING_OF, row.split(), strict=True)
            )
        )
        for row in ("0 6.2 12.1 6.1", "3 3.1 3.2 3.1", "1 0.1 -1 0", "2 2 2 2.1")
    )
    told = solve(replace(plain, history=before))
    assert told.front_minus_back == solve(plain).front_minus_back
    assert told.expanded_uncertainty < solve(plain).expanded_uncertainty
    rough = tuple(
        replace(one, readings=(replace(one.readings[0], value=length("9")), *one.readings[1:]))
        for one in before[2:]
    )
    assert solve(replace(plain, history=rough)).expanded_uncertainty > told.expanded_uncertainty


# -- whether the stations fit a plane --


def residual_alarms(count: int, dof: float, closed: bool, wrong: float, seed: int = 31) -> float:
    """Share of seeded sweeps of `count` stations that the rule of residuals calls bad."""
    random = np.random.default_rng(seed)
    bearings = tuple(360.0 * k / count for k in range(count))
    alarms, times = 0, 3000
    for _ in range(times):
        called = random.normal(size=count + 1)
        called[2] += wrong
        shares = tuple(k / count for k in range(count)) if closed else None
        level = without_drift(list(called[:count]), called[count] if closed else None)
        known = 1.0 if dof == inf else sqrt(random.chisquare(dof) / dof)
        misfit = misfit_of([Swept(bearings, tuple(float(h) for h in level), shares)])
        alarms += misfit.beyond(known, dof)
    return alarms / times


@pytest.mark.parametrize(
    ("count", "dof", "closed"),
    [(4, inf, True), (5, 3, False), (5, inf, True), (8, inf, False), (8, 6, True), (12, 4, False)],
)
def test_one_good_sweep_in_a_hundred_is_called_bad(count: int, dof: float, closed: bool) -> None:
    assert residual_alarms(count, dof, closed, 0.0) == pytest.approx(0.01, abs=0.006)


@pytest.mark.parametrize("count", [5, 6, 8, 12])
def test_power_against_one_reading_five_sigma_off(count: int) -> None:
    """Noncentral chi-square with (1 - 3/n) 25: three in five at least are found."""
    dof = count - 3
    exact = float(1 - ncx2.cdf(chi2.ppf(0.99, dof), dof, 25 * (1 - 3 / count)))
    assert residual_alarms(count, inf, False, 5.0) == pytest.approx(exact, abs=0.03)
    assert exact > 0.6


def test_three_stations_always_fit() -> None:
    assert not Misfit((0, 0, 0), 0, 0.0).beyond(1, inf)
    assert not misfit_of([Swept((0.0, 120.0, 240.0), (1.0, 5.0, -3.0))]).beyond(0.1, inf)


def test_a_saddle_weighs_more_in_a_sweep_that_was_closed() -> None:
    """Derived: B + F - R - L has a variance of 4. Less an even drift it is F - R - L and half of
    both readings at the back, the first and the closing one: 3.5."""
    saddle, even = (1.0, -1.0, 1.0, -1.0), (0.0, 0.25, 0.5, 0.75)
    assert misfit_of([Swept(FOUR, saddle)]).square == pytest.approx(16 / 4)
    assert misfit_of([Swept(FOUR, saddle, even)]).square == pytest.approx(16 / 3.5)


# -- what grows with the tilt --


def test_a_station_that_is_read_late() -> None:
    """Twenty of side tilt, all stations five degrees late: front to back is wrong by 1.74.

    -20 sin 5 degrees (rotation, derived); the interval holds it, and so does one station late.
    """
    answer = solve(sweep("0 10 0 -10", noise=KNOWN))
    late = 20 * float(np.sin(np.radians(5)))
    assert late == pytest.approx(1.743, abs=1e-3)
    part = {c.source: c.u for c in answer.budget.front_minus_back.components}
    assert part["station"] == pytest.approx(20 * np.radians(5) / sqrt(3))
    assert answer.budget.front_minus_back.expanded() > late
    assert "station" not in {c.source for c in answer.budget.right_minus_left.components}
    assert "station" not in {c.source for c in answer.budget.tilt.components}
    exact = replace(sweep("0 10 0 -10", noise=KNOWN), rig=Rig(station_within_deg=Decimal(0)))
    assert solve(exact).budget.front_minus_back.expanded() < late


def test_a_lever_whose_angle_is_set_by_eye() -> None:
    """A lever at 60 +-5 degrees: cos 55 and cos 65 are 15 % either way of the half (derived)."""
    rig = Rig(lever_deg=Decimal(60))
    answer = solve(replace(sweep("0 6 12 6", noise=KNOWN), rig=rig))
    assert answer.front_minus_back == pytest.approx(6)
    lever = next(c.u for c in answer.budget.tilt.components if c.source == "lever")
    either = (cos(radians(55)) - cos(radians(65))) / 2 / 0.5
    assert lever == pytest.approx(6 * either / sqrt(3))
    random = np.random.default_rng(2)
    drawn = 12 * np.cos(np.radians(60 + random.uniform(-5, 5, 100_000)))
    assert lever == pytest.approx(float(np.std(drawn)), rel=0.01)
    flat = solve(replace(sweep("0 6 12 6", noise=KNOWN), rig=Rig(tip="involute")))
    assert "lever" not in {c.source for c in flat.budget.tilt.components}


def test_a_gap_that_closes_the_sweep_is_no_surer_than_the_first() -> None:
    going = zip(BEARING_OF, ("4", "7", "10", "7"), strict=True)
    readings = tuple(
        StationReading.at(name, length(go), length(no_go))
        for (name, go), no_go in zip(going, ("6", "8", "11", "8"), strict=True)
    )
    problem = Problem("thou", readings, method="gap", closing=length("5"), noise=KNOWN)
    gauge = next(
        c.u for c in solve(problem).budget.front_minus_back.components if c.source == "gauge"
    )
    # front - back less half of the drift: 1, 1/2 of the first twice over, and none of the sides.
    assert gauge == pytest.approx(sqrt((1 + 0.25 * 4 + 0.25 * 4) / 12))


# -- when it was read --


def test_a_station_read_again_after_closing_has_its_own_place_in_time() -> None:
    """A level table on a dial that creeps one a reading: the front was read again as the sixth."""
    readings = (
        StationReading.at("back", length("0")),
        StationReading.at("right", length("1")),
        replace(StationReading.at("front", length("5")), turn=5),
        StationReading.at("left", length("3")),
    )
    late = Problem("thou", readings, closing=length("4"), noise=KNOWN)
    assert solve(late).tilt == pytest.approx(0, abs=1e-9)
    in_place = replace(late, readings=(*readings[:2], replace(readings[2], turn=None), readings[3]))
    assert solve(in_place).front_minus_back == pytest.approx(3)
    closed_again = replace(
        late, closing=length("6"), closing_turn=6, readings=(*readings[:3], readings[3])
    )
    assert solve(closed_again).tilt == pytest.approx(0, abs=1e-9)
    with pytest.raises(ProblemError, match="before its first"):
        replace(late, closing_turn=0)


# -- units --

UNITS: tuple[tuple[Unit, str], ...] = (
    ("thou", "1"), ("tenth", "10"), ("in", "0.001"), ("mm", "0.0254"), ("um", "25.4"),
    ("hundredth", "2.54"),
)  # fmt: skip


@settings(max_examples=25, deadline=None)
@given(st.lists(st.integers(-40, 40), min_size=5, max_size=5), st.sampled_from([1, 2, 4, 10]))
@example([21, 35, -37, 26, 0], 1)  # millions of degrees of freedom
def test_the_same_table_in_any_unit(counts: list[int], parts: int) -> None:
    """Readings, tolerance and noise in six units: the same answer to rounding."""
    base = sweep(
        " ".join(f"{value / parts:.2f}" for value in counts[:4]),
        closing=f"{(counts[0] + counts[4] % 3) / parts:.2f}",
        tolerance="4 thou",
        noise=Noise(),
    )
    first = solve(base)
    for unit, thou in UNITS:
        other = solve(replace(base, unit=unit))
        size = float(thou)
        for name in (
            "front_minus_back", "right_minus_left", "tilt", "standard_uncertainty",
            "expanded_uncertainty",
        ):  # fmt: skip
            assert getattr(other, name) == pytest.approx(
                getattr(first, name) * size, rel=1e-9, abs=1e-9 * size
            )
        assert other.verdict == first.verdict
        assert other.inside_noise == first.inside_noise
        assert other.degrees_of_freedom == pytest.approx(first.degrees_of_freedom, rel=1e-9)
        assert {w.code for w in other.warnings} == {w.code for w in first.warnings}


def test_a_tenth_of_a_millimetre_in_microns() -> None:
    """0.1 mm of tilt written in either unit has one uncertainty."""
    metric = solve(sweep("0.1 0.05 0 0.05", unit="mm", diameter="300 mm"))
    micron = solve(sweep("100 50 0 50", unit="um", diameter="300 mm"))
    assert micron.expanded_uncertainty == pytest.approx(1000 * metric.expanded_uncertainty)


def test_as_it_is_locked_now_the_lock_does_not_count() -> None:
    """Relocking and pull are of the next locking; what stands locked stands."""
    noise = Noise(
        reading_sd=length("0.5"), reading_dof=inf, relock_sd=length("0.8"), relock_dof=6.0,
        lock_pull=length("2"), resolution=length("0.1"),
    )  # fmt: skip
    any_locking = sweep("0 3 6 3", noise=noise)
    now = solve(replace(any_locking, as_locked=True))
    sources = {part.source for part in now.budget.tilt.components}
    assert not {"relock", "lock_pull"} & sources
    assert {"relock", "lock_pull"} <= {
        part.source for part in solve(any_locking).budget.tilt.components
    }
    assert now.shim.left_uncertainty == solve(any_locking).shim.left_uncertainty
