"""All sweeps of a job over one surface: tilt and scatter against textbook algebra and by draws."""

from dataclasses import replace
from math import cos, exp, inf, log, radians, sin, sqrt

import numpy as np
import pytest
import scipy.optimize

from assistant.metrology import one_surface
from assistant.metrology.evidence import Swept, correction_of
from assistant.metrology.f_distribution import ellipse_factor
from assistant.metrology.least_squares import Array
from assistant.metrology.one_surface import (
    GRAIN,
    LENGTHS_MM,
    Leg,
    Shares,
    covariances_of,
    joint,
    off_plane_alike,
    shares_of_more,
)
from assistant.metrology.scatter import Scatter

FOUR = (0.0, 90.0, 180.0, 270.0)
BETWEEN = (45.0, 135.0, 225.0, 315.0)
EVEN = (0.0, 0.25, 0.5, 0.75)
TEN_INCHES = 254.0
SURE = Scatter(0.8, inf, "remembered")


def _turned(degrees: float) -> tuple[float, ...]:
    return tuple(bearing + degrees for bearing in FOUR)


def _leg(
    bearings: tuple[float, ...], heights: tuple[float, ...] = (0.0,) * 4, table: int = 0,
    refitted: bool = False, closed: bool = True,
) -> Leg:  # fmt: skip
    return Leg(Swept(bearings, heights, EVEN if closed else None), table, refitted)


def _tilted(bearing: float, front: float, right: float) -> float:
    return right / 2 * sin(radians(bearing)) - front / 2 * cos(radians(bearing))


def test_the_truth_is_the_plane_of_the_whole_circle() -> None:
    """The covariance of the residuals of a fit, (I - P) K (I - P), at 180 spots round a circle."""
    angles = np.radians(np.arange(0.0, 360.0, 2.0))
    chords = TEN_INCHES * np.abs(np.sin((angles[:, None] - angles) / 2))
    design = np.column_stack([np.ones_like(angles), np.sin(angles), np.cos(angles)])
    off = np.eye(len(angles)) - design @ np.linalg.pinv(design)
    waves = off @ np.exp(-chords / LENGTHS_MM[1]) @ off
    found = off_plane_alike(np.degrees(angles), TEN_INCHES, LENGTHS_MM[1])
    expected = (1 - GRAIN) * waves[0] + GRAIN * (angles == 0)
    assert found == pytest.approx(expected, abs=5e-4)


def test_without_a_diameter_only_the_same_spot_is_alike() -> None:
    assert off_plane_alike(np.array([0.0, 360.0, 5.0]), None, 25.4).tolist() == [1.0, 1.0, 0.0]


def test_one_sweep_of_four_stations_is_its_plane() -> None:
    heights = (0.0, 3.5, 6.5, 1.5)
    fit = joint([_leg(FOUR, heights, closed=False)], TEN_INCHES, SURE, 0.1)
    assert fit.pair == pytest.approx((6.5, 2.0), abs=1e-6)
    assert fit.slip is None


def test_the_same_spots_again_gain_nothing_of_the_surface_and_spots_between_do() -> None:
    one = shares_of_more([_leg(FOUR)], TEN_INCHES, 0.1)
    again = shares_of_more([_leg(FOUR), _leg(FOUR)], TEN_INCHES, 0.1)
    assert again.surface == pytest.approx(one.surface, rel=1e-2)
    assert again.reading == pytest.approx(one.reading / 2, rel=1e-2)
    between = shares_of_more([_leg(FOUR), _leg(BETWEEN)], TEN_INCHES, 0.1)
    # By more than half: what eight spots average comes nearer to the whole circle.
    assert 0.33 * one.surface[0, 0] < between.surface[0, 0] < 0.5 * one.surface[0, 0]


@pytest.mark.parametrize("redrawn", [0.05, 0.5, 0.95])
def test_spots_are_weighed_by_how_much_of_a_reading_is_redrawn(redrawn: float) -> None:
    """Generalised least squares by its textbook formula (Aitken 1935, from memory)."""
    legs = [_leg(at, closed=False) for at in (FOUR, FOUR, BETWEEN)]
    surface, reading = covariances_of(legs, TEN_INCHES, LENGTHS_MM[1])
    inverse = np.linalg.inv((1 - redrawn) * surface + redrawn * reading)
    design = one_surface.design_of(legs)
    two = (np.linalg.inv(design.T @ inverse @ design) @ design.T @ inverse)[:2]
    found = shares_of_more(legs, TEN_INCHES, redrawn)
    assert found.surface == pytest.approx(two @ surface @ two.T, rel=1e-6)
    assert found.reading == pytest.approx(two @ reading @ two.T, rel=1e-6)


def _told_on(heights: list[tuple[float, ...]], step: float = 11.459) -> list[Leg]:
    """Sweeps of which every one after the first was to lie a step further round."""
    legs = []
    for count, each in enumerate(heights):
        leg = _leg(_turned(count * step), each)
        legs.append(replace(leg, swept=replace(leg.swept, moved_on=count * step)))
    return legs


ROUGH = ((0.0, 3.5, 1.5, -3.0), (0.0, -2.5, 3.0, 1.0), (0.0, 2.0, -3.5, 2.5))
GUESSED = Scatter(0.8, 2.0, "assumed")


def test_spots_that_read_as_before_were_not_moved_on() -> None:
    """Then the same readings again teach no more of the table than if nobody had been told."""
    first = ROUGH[0]
    nearly = tuple(value + 0.25 * (-1) ** k for k, value in enumerate(first))
    stayed = joint(_told_on([first, nearly, first]), TEN_INCHES, GUESSED, 0.14)
    assert stayed.stayed > 0.9
    same = joint([_leg(FOUR, each) for each in (first, nearly, first)], TEN_INCHES, GUESSED, 0.14)
    assert same.stayed == 0.0
    assert stayed.pair == pytest.approx(same.pair, abs=0.2)
    u, v = (
        one.surface**2 * one.shares.surface[0, 0] + one.reading**2 * one.shares.reading[0, 0]
        for one in (stayed, same)
    )
    assert u == pytest.approx(v, rel=0.25)
    moved = joint(_told_on(list(ROUGH)), TEN_INCHES, GUESSED, 0.14)
    assert moved.stayed < 0.05
    assert moved.shares.surface[0, 0] < 0.7 * same.shares.surface[0, 0]


def test_who_stayed_once_and_then_moved_on_is_a_step_behind() -> None:
    first, second, third = _told_on([ROUGH[0], ROUGH[0], ROUGH[1]])
    fit = joint([first, second, third], TEN_INCHES, GUESSED, 0.14)
    assert fit.stayed < 0.2, "the last spots were new ones"
    behind = [leg.swept.behind(11.459) for leg in (first, second, third)]
    assert [one.bearings_deg[0] for one in behind] == pytest.approx([0.0, 0.0, 11.459])
    truth = joint([Leg(one) for one in behind], TEN_INCHES, GUESSED, 0.14)
    assert fit.pair == pytest.approx(truth.pair, abs=0.3)


def test_what_was_read_before_the_table_was_tilted_counts_for_the_surface() -> None:
    """A bump of two at the front, which eight spots of another tilt have shown."""
    before = [_tilted(b, 9.0, -4.0) + (2.0 if b == 180.0 else 0.0) for b in (*FOUR, *BETWEEN)]
    now = tuple(_tilted(b, 1.0, 0.5) + (2.0 if b == 180.0 else 0.0) for b in FOUR)
    old = [_leg(FOUR, tuple(before[:4]), 1), _leg(BETWEEN, tuple(before[4:]), 1)]
    alone = joint([_leg(FOUR, now, closed=False)], TEN_INCHES, SURE, 0.1)
    fit = joint([_leg(FOUR, now), *old], TEN_INCHES, SURE, 0.1)
    assert alone.pair[0] == pytest.approx(3.0)
    # Eight spots take a quarter of the bump for tilt, four take it for half (least squares).
    assert fit.pair[0] == pytest.approx(1.0 + 2.0 / 2, abs=0.3)
    assert fit.pair[1] == pytest.approx(0.5, abs=0.05)
    assert fit.shares.surface[0, 0] < 0.65 * alone.shares.surface[0, 0]


def _reference(legs: list[Leg], redrawn: float, length: float) -> tuple[Array, Array]:
    """Mean and covariance of the tilt by conditioning a normal vector (GUM 5 has no such thing;
    Rasmussen and Williams, Gaussian Processes, 2006, 2.7, from memory): every tilt and height that
    is not known is normal, too, with a huge variance."""
    surface, reading = covariances_of(legs, TEN_INCHES, length)
    rows, heights = [], []
    tables = sorted({leg.table for leg in legs})
    for place, leg in enumerate(legs):
        for bearing, height in zip(leg.swept.bearings_deg, leg.swept.heights, strict=True):
            row = np.zeros(2 * len(tables) + len(legs))
            first = 2 * tables.index(leg.table)
            row[first : first + 2] = _tilted(bearing, 1, 0), _tilted(bearing, 0, 1)
            row[2 * len(tables) + place] = 1.0
            rows.append(row)
            heights.append(height)
    design, huge = np.array(rows), 1e6
    whole = (1 - redrawn) * surface + redrawn * reading + huge * design @ design.T
    first = 2 * tables.index(0)
    across = huge * design[:, first : first + 2].T
    gain = across @ np.linalg.inv(whole)
    return gain @ np.array(heights), huge * np.eye(2) - gain @ across.T


def test_joint_tilt_against_conditioning_a_normal_vector(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    random = np.random.default_rng(3)

    def some() -> tuple[float, ...]:
        return tuple(float(value) for value in random.normal(0, 2, 4))

    legs = [
        _leg(FOUR, some()), _leg(_turned(20.0), some()), _leg(FOUR, some(), 1),
        _leg(BETWEEN, some(), 1, closed=False), _leg(FOUR, some(), 2),
    ]  # fmt: skip
    monkeypatch.setattr(one_surface, "LENGTHS_MM", (30.0,))
    monkeypatch.setattr(one_surface, "_REDRAWN", (0.2,))
    fit = joint(legs, TEN_INCHES, SURE, 0.0)
    pair, covariance = _reference(legs, 0.2, 30.0)
    assert fit.pair == pytest.approx(tuple(pair), abs=1e-3)
    found = 0.8 * fit.shares.surface + 0.2 * fit.shares.reading
    assert found == pytest.approx(covariance, abs=1e-3)
    assert fit.surface**2 + fit.reading**2 == pytest.approx(0.8**2, rel=1e-3)


def test_axial_slip_is_told_from_tilt_by_the_indicator_refitted() -> None:
    """Slip of three to the front: it is added as first fitted, and taken off refitted."""
    first = _leg(FOUR, tuple(_tilted(b, 5.0, 1.0) for b in FOUR))
    other = _leg(FOUR, tuple(_tilted(b, -1.0, 1.0) for b in FOUR), refitted=True)
    fit = joint([first, other], TEN_INCHES, SURE, 0.1)
    assert fit.pair == pytest.approx((2.0, 1.0), abs=1e-6)
    assert fit.slip == pytest.approx((3.0, 0.0), abs=1e-6)


@pytest.mark.parametrize("bearings", [FOUR, (*FOUR, *BETWEEN)])
def test_a_bent_table_leaves_the_scatter_as_it_was_known(bearings: tuple[float, ...]) -> None:
    bent = tuple(5 * cos(2 * radians(b)) + 3 * sin(2 * radians(b)) for b in bearings)
    leg = Leg(Swept(bearings, bent))
    fit = joint([leg], TEN_INCHES, Scatter(0.5, 20.0), 0.1, bent=True)
    assert sqrt(fit.surface**2 + fit.reading**2) == pytest.approx(0.5, rel=0.2)
    flat = joint([leg], TEN_INCHES, Scatter(0.5, 20.0), 0.1)
    assert flat.surface**2 > 2 * fit.surface**2


def test_three_stations_do_not_tell_a_bent_table_from_a_tilted_one() -> None:
    three = (0.0, 120.0, 240.0)
    bent = Leg(Swept(three, tuple(5 * cos(2 * radians(b)) for b in three)))
    known = Scatter(0.5, 20.0)
    fit, flat = (joint([bent], TEN_INCHES, known, 0.1, bent=form) for form in (True, False))
    whole, plain = (_covariance(one.surface, one.reading, one.shares) for one in (fit, flat))
    assert whole[0, 0] > 1.5 * plain[0, 0]


def test_a_guess_no_longer_counts_once_it_is_outweighed() -> None:
    """Four tables of eight spots, level to a tenth: a guess of five pulls no more."""
    random = np.random.default_rng(8)
    legs = [
        _leg(spots, tuple(float(v) for v in random.normal(0, 0.1, 4)), table)
        for table in range(2)
        for spots in (FOUR, BETWEEN, _turned(20.0), _turned(65.0))
    ]
    guess, told = (Scatter(5.0, 2.0, origin) for origin in ("assumed", "remembered"))
    assert joint(legs, TEN_INCHES, guess, 0.01).surface < 0.2
    assert joint(legs, TEN_INCHES, told, 0.01).surface > 0.4


SCHEMES: dict[str, list[tuple[tuple[float, ...], int]]] = {
    "one": [(FOUR, 0)],
    "eight spots": [(FOUR, 0), (BETWEEN, 0)],
    "tilted meanwhile": [(FOUR, 0), (FOUR, 1), (BETWEEN, 1), (FOUR, 2)],
}


def _drawn(scheme: list[tuple[tuple[float, ...], int]], seed: int) -> tuple[list[Leg], float]:
    """Heights of a level table by the model itself, its scatter drawn from what is known."""
    random = np.random.default_rng(seed)
    sd = 0.7 * sqrt(3.0 / random.chisquare(3.0))
    length = float(random.choice(LENGTHS_MM, p=(0.25, 0.5, 0.25)))
    repeat = min(0.5 * exp(random.normal(0, log(2.0))), 0.95)
    blank = [_leg(bearings, table=table) for bearings, table in scheme]
    surface, _ = covariances_of(blank, TEN_INCHES, length)
    values, vectors = np.linalg.eigh(surface)
    bumps = vectors @ (np.sqrt(np.maximum(values, 0)) * random.normal(size=len(values)))
    heights = sd * sqrt(1 - repeat**2) * bumps.reshape(-1, 4)
    called = sd * repeat * random.normal(size=(len(scheme), 5))
    called = np.round(called / 0.1) * 0.1
    return [
        _leg(one.swept.bearings_deg, tuple(map(float, bump + correction_of(4, EVEN) @ call)),
               one.table)
        for one, bump, call in zip(blank, heights, called, strict=True)
    ], sd  # fmt: skip


@pytest.mark.parametrize("name", SCHEMES)
def test_the_stated_ellipse_holds_what_the_model_draws(name: str) -> None:
    """Draws from what is known beforehand lie within in 95 of 100 (Cook, Gelman and Rubin, 2006,
    from memory): seeded."""
    held, count = 0, 150
    for seed in range(count):
        legs, _ = _drawn(SCHEMES[name], seed)
        fit = joint(legs, TEN_INCHES, Scatter(0.7, 3.0, "remembered"), 0.1 / sqrt(12))
        whole = _covariance(fit.surface, fit.reading, fit.shares)
        square = float(np.array(fit.pair) @ np.linalg.inv(whole) @ np.array(fit.pair))
        held += square <= ellipse_factor(fit.dof) ** 2
    assert 0.90 <= held / count <= 0.99


def _covariance(surface: float, reading: float, shares: Shares) -> Array:
    return np.asarray(surface**2 * shares.surface + reading**2 * shares.reading)


@pytest.mark.parametrize("dof", [5.0, 40.0])
def test_three_stations_leave_the_scatter_as_it_was_known(dof: float) -> None:
    """Nothing is left of a plane through three heights: what was known is stated again."""
    leg = Leg(Swept((0.0, 120.0, 240.0), (1.0, -2.0, 4.0)))
    fit = joint([leg], None, Scatter(0.7, dof, "remembered"), 0.01)
    assert sqrt(fit.surface**2 + fit.reading**2) == pytest.approx(0.7, rel=0.06)
    assert fit.dof == pytest.approx(dof, rel=0.25)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("share", [0.5, 0.05])
def test_where_a_mixture_has_come_down_to_a_share_against_a_root_finder(
    seed: int, share: float
) -> None:
    """scipy's Brent by brackets; scatters that differ a thousandfold, weights as uneven."""
    random = np.random.default_rng(seed)
    weights = random.dirichlet(np.full(40, 0.1 + seed))
    rate = 10.0 ** random.uniform(-3.0, 3.0, 40)

    def beyond(square: float) -> float:
        return float(weights @ np.exp(-rate * square)) - share

    expected = scipy.optimize.brentq(beyond, 0.0, -log(share) / rate.min(), xtol=1e-300, rtol=1e-14)
    found = one_surface._square_beyond(weights, rate, share)
    assert found == pytest.approx(expected, rel=1e-12)
