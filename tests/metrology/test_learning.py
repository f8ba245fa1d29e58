"""Steps judged, next stacks, coupling of the axes."""

import cmath
from dataclasses import replace
from decimal import Decimal
from math import degrees, radians

import numpy as np
import pytest

from assistant.metrology.coupling import Coupling, Move, learn_coupling, uncoupled
from assistant.metrology.problem import Noise, Shimming, TapTrial
from assistant.metrology.response import Response, TrialStep
from assistant.metrology.solve import solve
from assistant.metrology.tap import needed_change
from assistant.metrology.trial_check import check_step, left_uncertainty, next_stack
from tests.metrology.sweeps import length, sweep, trial

BELIEVED = Response(2.0, 0.4, 1)


@pytest.mark.parametrize(
    ("added", "after", "outcome"),
    [
        (1.5, 7.0, "as_expected"),  # 10 to 7: two per unit, as believed
        (1.5, 7.6, "as_expected"),
        (3, 8.0, "less"),
        (3, 0.5, "more"),
        (3, 10.1, "none"),
        (3, 12, "wrong_way"),
        (0.25, 9.8, "too_small"),
        (0, 10, "too_small"),
        (-1.5, 13, "as_expected"),  # a leaf taken out
        (-3, 10, "none"),
        (-3, 8, "wrong_way"),
    ],
)
def test_what_a_step_did(added: float, after: float, outcome: str) -> None:
    assert check_step(TrialStep(0, 10, added, after), BELIEVED, 0.3) == outcome


def test_honest_steps_are_seldom_called_odd() -> None:
    """Seeded steps of responses drawn from the belief: about one in twenty is odd."""
    random = np.random.default_rng(4)
    odd = 0
    for _ in range(4000):
        true = random.normal(2, 0.4)
        before, after = 10 + random.normal(0, 0.3), 10 - 2 * true + random.normal(0, 0.3)
        odd += check_step(TrialStep(0, before, 2, after), BELIEVED, 0.3) != "as_expected"
    assert odd / 4000 == pytest.approx(0.05, abs=0.02)


def test_what_is_left_scatters_as_reckoned() -> None:
    """Seeded Monte Carlo of a shim change of two with an uncertain response."""
    random = np.random.default_rng(9)
    true = random.normal(2, 0.4, 50_000)
    read_now = random.normal(0, 0.3, 50_000)
    left = 6 + random.normal(0, 0.3, 50_000) - 2 * true
    predicted = 6 + read_now - 2 * 2.0
    assert float(np.std(left - predicted)) == pytest.approx(
        left_uncertainty(BELIEVED, 2, 0.3), rel=0.02
    )


def decimals(text: str) -> tuple[Decimal, ...]:
    return tuple(Decimal(part) for part in text.split())


def test_guessed_response_holds_back_and_known_goes_all_the_way() -> None:
    """fmb k / (k^2 + u^2) is least in the mean square (derived): 12 / 2 = 6, halved for u = k."""
    stock = decimals("1 2 3 4 5 6 7")
    assert sum(next_stack(12, Response(2, 2), stock, 1, "above")) == 3
    assert sum(next_stack(12, Response(2, 0.1), stock, 1, "above")) == 6
    assert sum(next_stack(-12, Response(2, 0.1), stock, 1, "below")) == 6


def test_next_stack_counts_from_what_is_fitted() -> None:
    stock = decimals("1 2 3 4")
    assert next_stack(2, Response(2, 0.1), stock, 1, "above", Decimal(3)) == (Decimal(4),)
    assert next_stack(0.5, Response(2, 0.1), decimals("3"), 1, "above") == ()


def test_trial_weight_in_its_complex_form() -> None:
    """Balancing: 7 at 160 degrees, with a trial of 100 at 0 it is 5 at 70: 81.37 at 35.54.

    A web tutorial's numbers, recomputed exactly (the graphical answer there is 77.8 at 35): the
    influence coefficient (OT - O) / trial, and the correction -O / coefficient. The same by the
    2 by 2 matrix that is learnt from the trial at 0 and from the same one a quarter turn on.
    """
    found = 7 * cmath.exp(1j * radians(160))
    with_trial = 5 * cmath.exp(1j * radians(70))
    influence = (with_trial - found) / 100
    assert abs(100 * influence) == pytest.approx(8.602, abs=5e-4)
    nothing_known = Coupling(((0.0, 0.0), (0.0, 0.0)), ((1e6, 1e6), (1e6, 1e6)))
    along, across = 100 * influence, 100j * influence
    moves = [Move(100, 0, along.real, along.imag), Move(0, 100, across.real, across.imag)]
    matrix = np.array(learn_coupling(nothing_known, moves, 0.01).matrix)
    weight = complex(*np.linalg.solve(matrix, [-found.real, -found.imag]))
    assert abs(weight) == pytest.approx(81.37, abs=0.005)
    assert abs(degrees(cmath.phase(weight))) == pytest.approx(35.54, abs=0.005)


def moves_of(matrix: np.ndarray[tuple[int, ...], np.dtype[np.float64]], noise: float) -> list[Move]:
    random = np.random.default_rng(1)
    moves = []
    for shim, tap in [(2, 0), (0, 3), (-1, 1), (3, -2)]:
        front, right = matrix @ np.array([shim, tap]) + random.normal(0, noise, 2)
        moves.append(Move(shim, tap, front, right))
    return moves


def test_coupling_is_learnt_when_the_data_show_it() -> None:
    true = np.array([[-2.5, 0.6], [0.9, 2.0]])
    learned = learn_coupling(uncoupled(2, 2), moves_of(true, 0.05), 0.1)
    assert learned.coupled
    assert np.array(learned.matrix) == pytest.approx(true, abs=0.15)
    assert (learned.tap_on_front, learned.shim_on_sides) == pytest.approx((0.6, 0.9), abs=0.15)


def test_no_coupling_is_believed_in_noise() -> None:
    true = np.array([[-2.0, 0.0], [0.0, 2.0]])
    learned = learn_coupling(uncoupled(2, 1), moves_of(true, 0.1), 0.5)
    assert not learned.coupled
    assert learned.tap_on_front == learned.shim_on_sides == 0
    assert learn_coupling(uncoupled(2, 1), [], 0.5).matrix == pytest.approx(np.array(true))


@pytest.mark.parametrize(("effect", "shown"), [(0.15, False), (0.19, False), (0.21, True)])
def test_a_side_effect_is_believed_from_two_standard_uncertainties_on(
    effect: float, shown: bool
) -> None:
    learned = Coupling(((-2.0, effect), (-effect, 2.0)), ((0.3, 0.1), (0.1, 0.3)))
    assert learned.coupled == shown
    assert (learned.tap_on_front, learned.shim_on_sides) == (effect * shown, -effect * shown)


def test_before_any_step_nothing_is_coupled_and_the_tap_turns_about_its_pivot() -> None:
    """Rise of right minus left that the tap's own rule asks for, with the pivot off centre."""
    believed = uncoupled(2, 1, 0.25)
    assert not believed.coupled
    assert believed.matrix[1][1] * needed_change(4, 0.25) == pytest.approx(-4)


def test_solve_learns_side_effects_from_trials_and_taps_that_tell_both() -> None:
    """Each shim of two raises the right by one: half of itself; a tap nods the front by a fifth."""
    quiet = Noise(
        reading_sd=length("0.02"), relock_sd=length("0.02"), resolution=length("0.01")
    )  # fmt: skip
    trials = (
        replace(trial("2", "12", "8", "0"), side_before=length("0"), side_after=length("1")),
        replace(trial("4", "8", "4", "2"), side_before=length("1"), side_after=length("2")),
    )
    tap = TapTrial(length("2"), length("-2"), length("2"), length("3.6"), length("4"))
    asked = replace(sweep("2 4 6 2", noise=quiet, shim=Shimming(trials=trials)), taps=(tap,))
    answer = solve(asked)
    assert answer.coupling is not None
    assert answer.coupling.shim_on_sides == pytest.approx(0.5, abs=0.01)
    assert answer.coupling.tap_on_front == pytest.approx(0.2, abs=0.01)
    told = answer.as_json()["side_effects"]
    assert isinstance(told, dict)
    assert told["shim_on_sides"] == pytest.approx(0.5, abs=0.01)
    assert "coupled" in {notice.code for notice in answer.warnings}
    loud = replace(asked, noise=Noise(reading_sd=length("2"), resolution=length("1")))
    plain = solve(loud)
    assert plain.coupling is not None
    assert plain.coupling.shim_on_sides == 0, "not shown in this noise"
    assert "coupled" not in {notice.code for notice in plain.warnings}
