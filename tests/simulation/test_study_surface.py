"""The table tops of the study are what they are said to be: by Monte Carlo and by geometry."""

from math import exp, sqrt

import numpy as np
import pytest

from tests.benchmarks.study.surface import DENSE, RandomField, Surface, plane_of

MANY = 250


def _covariance(distance_in: float, waves: int = 128) -> tuple[float, float]:
    """Mean product of heights so far apart over many fields of sd 1, and its standard error."""
    products = []
    for seed in range(MANY):
        field = RandomField(f"check {seed}", 1.0, 1.0, waves)
        pair = field.at(np.array([0.0, distance_in]), np.array([0.0, 0.0]))
        products.append(float(pair[0] * pair[1]))
    return float(np.mean(products)), float(np.std(products)) / sqrt(MANY)


@pytest.mark.parametrize("distance_in", [0.0, 0.5, 1.0, 2.0, 5.0])
def test_the_correlation_is_the_gaussian_one_by_monte_carlo(distance_in: float) -> None:
    # exp(-(r/l)^2): a half 0.78, one 0.37, two 0.02, by the definition of the field.
    found, error = _covariance(distance_in)
    assert abs(found - exp(-(distance_in**2))) < 4 * error


def test_a_few_waves_scatter_as_many_do() -> None:
    # The variance does not depend on the number of waves, only how normal the heights are.
    found, error = _covariance(0.0, 8)
    assert abs(found - 1.0) < 4 * error


def test_heights_of_one_place_are_normal() -> None:
    """Kurtosis of a sum of N random cosines is 3 - 1.5/N; 3 for a normal variable."""
    heights = np.array(
        [RandomField(f"normal {k}", 2.0, 1.0).at(np.zeros(1), np.zeros(1))[0] for k in range(1500)]
    )
    assert float(np.std(heights)) == pytest.approx(2.0, rel=0.08)
    kurtosis = float(np.mean(heights**4) / np.mean(heights**2) ** 2)
    assert kurtosis == pytest.approx(3.0, abs=0.5)


def test_a_field_is_the_same_wherever_it_is_asked_from() -> None:
    one, same = RandomField("seed", 1.0, 1.0), RandomField("seed", 1.0, 1.0)
    places = np.linspace(-3.0, 3.0, 7)
    assert np.array_equal(one.at(places, places), same.at(places, places))
    alone = np.concatenate([one.at(places[k : k + 1], places[k : k + 1]) for k in range(7)])
    assert np.allclose(one.at(places, places), alone, atol=1e-12)


@pytest.mark.parametrize(("front", "right"), [(12.0, 0.0), (-7.0, 3.5), (0.0, -20.0)])
def test_the_plane_of_a_pure_tilt_is_that_tilt(front: float, right: float) -> None:
    # Analytic: on a circle of radius rho a plane is right/2 sin b - front/2 cos b.
    angle = 2 * np.pi * np.arange(DENSE) / DENSE
    heights = right / 2 * np.sin(angle) - front / 2 * np.cos(angle) + 4.0
    found = plane_of(5 * np.sin(angle), 5 * np.cos(angle), heights, 10.0)
    assert found == pytest.approx((front, right), abs=1e-9)


def test_dense_least_squares_is_the_first_harmonic_of_the_circle() -> None:
    """Independent of the fit: evenly round a circle it is numpy's FFT, first harmonic."""
    surface = Surface(3, 5.0, waviness=1.0, roughness=0.3, saddle=8.0, bowl=6.0, oval=0.5)
    angle = 2 * np.pi * np.arange(DENSE) / DENSE
    heights = surface.heights(5 * np.sin(angle), 5 * np.cos(angle))
    first = np.fft.rfft(heights)[1] * 2 / DENSE
    assert surface.plane == pytest.approx((-2 * first.real, -2 * first.imag), abs=1e-9)


def test_form_tilts_nothing_and_shows_as_it_is_said_to() -> None:
    surface = Surface(1, 5.0, saddle=8.0, twist=3.0, bowl=6.0, oval=0.4)
    assert surface.plane == pytest.approx((0.0, 0.0), abs=1e-9)
    back, right, front, left = (surface.height(bearing, 5.0) for bearing in (0, 90, 180, 270))
    # Front and back stand 8 over the sides by the saddle, and 0.4 * 6 more by the oval bowl.
    assert (front + back) / 2 - (right + left) / 2 == pytest.approx(8.0 + 2.4)
    corners = [surface.height(bearing, 5.0) for bearing in (45, 135, 225, 315)]
    assert (corners[0] + corners[2] - corners[1] - corners[3]) / 2 == pytest.approx(3.0)
    assert surface.gap == pytest.approx(6.0 + 4.0)


def test_four_stations_miss_the_plane_by_as_much_as_the_correlation_says() -> None:
    """Derived, r being the correlation at a chord: var(F - B) = 2 - 2 r(diameter); the dense
    plane has 8 mean(r cos b) in common with it, which is also its own variance."""
    few = 120
    off = []
    for seed in range(few):
        surface = Surface(seed, 5.0, waviness=1.0)
        off.append(surface.height(180.0, 5.0) - surface.height(0.0, 5.0) - surface.plane[0])
    angle = 2 * np.pi * np.arange(DENSE) / DENSE
    chord = 10.0 * np.sin(angle / 2)
    shared = 8.0 * float(np.mean(np.exp(-(chord**2)) * np.cos(angle)))
    assert float(np.std(off)) == pytest.approx(sqrt(2.0 - shared), rel=4 / sqrt(2 * few))
