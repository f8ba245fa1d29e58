"""What most likely made a sweep come out otherwise than forecast."""

from dataclasses import replace
from math import inf

import numpy as np
import pytest
from scipy.stats import norm

from assistant.metrology.causes import (
    EXCHANGED,
    LOOKED_AT,
    LOOSE,
    Image,
    Miss,
    did_nothing,
    likely_causes,
)

SURE = Miss((0.4, -0.3), (0.7, 0.7), (0.5, 0.0), (1.4, 1.4), (0.0, 0.3))
RELOCK = 0.5


def test_what_comes_out_as_forecast_is_no_cause_at_all() -> None:
    odds = likely_causes((SURE,) * 3, RELOCK, 8, 8)
    assert odds.loose < LOOSE / 10
    assert likely_causes((), RELOCK, 8, 8).loose == LOOSE


def test_an_axis_that_nobody_touched_and_that_moved_is_loose() -> None:
    assert likely_causes((replace(SURE, off=(0.4, 8.0)),), RELOCK, 8, 8).loose > 0.8


def test_small_misses_add_up() -> None:
    """One of three thou may be chance; after several of them the clamp is not sound."""
    some = [replace(SURE, off=off) for off in ((2.2, -2.5), (-2.0, 2.6), (2.4, 2.2), (-2.6, -2.4))]
    odds = [likely_causes(some[: k + 1], RELOCK, 8, 8).loose for k in range(4)]
    assert odds == sorted(odds)
    assert odds[0] < 0.5 < odds[-1]


@pytest.mark.parametrize(("dof", "told"), [(2, False), (20, True)])
def test_a_guess_of_the_scatter_accuses_nobody_of_what_may_be_noise(dof: float, told: bool) -> None:
    """Minus two where plus two was to be."""
    level = Miss((0.0, -4.0), (0.8, 0.8), (0.0, 0.5), (1.4, 1.4), (0.3, 0.0),
                 (Image("sides", (0.0, 0.0), EXCHANGED / 3),))  # fmt: skip
    odds = likely_causes((level,), RELOCK if dof == 2 else 0.1, dof, dof)
    assert (odds.images["sides"] > 0.5) == told


def test_what_a_loose_clamp_explains_needs_no_exchange() -> None:
    """The same miss, after others that no exchange would make."""
    mirrored = replace(SURE, off=(0.2, -9.0), images=(Image("sides", (0.2, 1.0), EXCHANGED / 3),))
    alone = likely_causes((mirrored,), RELOCK, 8, 8)
    after = likely_causes((replace(SURE, off=(6.0, 5.0)),) * 2 + (mirrored,), RELOCK, 8, 8)
    assert alone.images["sides"] > 0.5 > alone.loose
    assert after.loose > 0.9 > after.images["sides"]


def test_it_is_bayes_rule() -> None:
    """With scatters that are known exactly: priors and normal densities by hand, with scipy's."""
    mirrored = Miss((3.0, 1.0), (0.7, 0.7), (0.5, 0.0), (1.4, 1.4), (0.0, 0.0),
                    (Image("ends", (-0.5, 1.0), 0.004),))  # fmt: skip

    def density(off: tuple[float, float], lock: float, more: float = 0.0) -> float:
        front = np.hypot(np.hypot(0.7, 0.5), np.hypot(1.4 * lock, more))
        side = np.hypot(0.7, np.hypot(1.4 * lock, more))
        return float(norm.pdf(off[0], scale=front) * norm.pdf(off[1], scale=side))

    def of(lock: float) -> tuple[float, float]:
        image = 0.004 * density((-0.5, 1.0), lock)
        rest = (1 - 0.01 - 0.004) * density((3.0, 1.0), lock)
        return image, rest + 0.01 * density((3.0, 1.0), lock, 8.0)

    sound = of(0.5)
    gives = [of(0.5 * times) for times in (4, 6, 8, 11, 16)]
    image = 0.95 * sound[0] + 0.05 * sum(each[0] for each in gives) / 5
    loose = 0.05 * sum(sum(each) for each in gives) / 5
    total = 0.95 * sum(sound) + loose
    odds = likely_causes((mirrored,), 0.5, inf, inf)
    assert odds.loose == pytest.approx(loose / total)
    assert odds.images["ends"] == pytest.approx(image / total)


def test_sound_jobs_are_seldom_called_loose() -> None:
    """Seeded: of jobs of four corrections each, drawn as they are modelled."""
    random = np.random.default_rng(5)
    called = 0
    for _ in range(200):
        relock, noise = RELOCK * np.exp(random.normal(0, 0.25, 2))
        misses = []
        for _ in range(4):
            sd = np.hypot(np.hypot(0.7 * noise / RELOCK, 1.4 * relock), (0.5, 0.0))
            front, right = random.normal(0, sd)
            misses.append(replace(SURE, off=(float(front), float(right))))
        called += likely_causes(misses, RELOCK, 8, 8).loose > 0.5
    assert called <= 6


def test_a_table_that_leans_with_every_shim_is_not_loose() -> None:
    """By three times as much as most do: the first time it is doubted, and no more later on."""
    leaning = Miss((0.2, 3.0), (0.5, 0.5), (1.0, 0.0), (1.4, 1.4), (0.0, 1.0))
    rigid = replace(leaning, leans=(0.0, 0.1))
    odds = [likely_causes((miss,) * 3, 0.2, 20, 20).loose for miss in (leaning, rigid)]
    assert odds[0] < 0.5 < odds[1]
    far = [replace(leaning, off=(0.2, off)) for off in (3.0, 6.0)]
    assert likely_causes(far[1:], 0.2, 20, 20).loose < 0.6


@pytest.mark.parametrize(
    ("effect", "expected", "u", "told"),
    [
        (0.0, 8.0, 1.0, True),
        (0.0, 5.0, 0.5, True),
        # A thin one does not show in such noise; nor has one that did a little done nothing.
        (0.0, 2.5, 1.0, False),
        (0.5, 2.5, 1.0, False),
        (2.5, 8.0, 1.0, False),
    ],
)
def test_a_shim_that_hardly_shows_did_nothing_only_if_it_should_have_shown(
    effect: float, expected: float, u: float, told: bool
) -> None:
    assert (did_nothing(effect, expected, 0.7, u) >= LOOKED_AT) == told


def test_what_a_shim_did_says_the_more_the_better_its_effect_is_known() -> None:
    odds = [did_nothing(0.0, 4.0, spread, 1.0) for spread in (0.1, 0.4, 0.8)]
    assert odds == sorted(odds, reverse=True)
    assert odds[0] > 0.9
