"""A response that is learnt from the same readings that the next shim is reckoned from."""

from dataclasses import replace
from math import inf, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import norm, t
from uncertainties import ufloat

from assistant.metrology.judgement import as_expected
from assistant.metrology.problem import Noise, ProblemError, Shimming, TapTrial
from assistant.metrology.response import (
    Response,
    TrialStep,
    bounded,
    learn_positive,
    learn_response,
    learn_turn,
    pivot_of_turn,
    prior_of_machine,
    remembered,
)
from assistant.metrology.solve import solve
from assistant.metrology.tap import needed_change, plan_tap
from assistant.metrology.trial_check import check_step, left_uncertainty
from tests.metrology.sweeps import length, lengths, sweep, trial

KNOWS_NOTHING = Response(2.0, 1e6)


def test_trial_of_one_and_a_half_and_as_much_again() -> None:
    """2 b1 - b0 against b2: sqrt 6 of 0.5 is 1.22, and not the 1.00 of independent readings."""
    learnt = learn_response(KNOWS_NOTHING, [TrialStep(0, 6, 1.5, 3)], 0.5)
    assert learnt.value == pytest.approx(2)
    assert left_uncertainty(learnt, 1.5, 0.5) == pytest.approx(0.5 * sqrt(6), rel=1e-4)
    apart = replace(learnt, with_reading=0.0)
    assert left_uncertainty(apart, 1.5, 0.5) == pytest.approx(1.0, rel=1e-4)


def test_the_same_by_uncertainties() -> None:
    """The response built from the trial's own readings, correlations followed by the library."""
    found, after, following = (ufloat(value, 0.5) for value in (6, 3, 0))
    response = (found - after) / 1.5
    forecast = after - response * 1.5
    library = (following - forecast).std_dev
    learnt = learn_response(KNOWS_NOTHING, [TrialStep(0, 6, 1.5, 3)], 0.5)
    assert left_uncertainty(learnt, 1.5, 0.5) == pytest.approx(float(library), rel=1e-6)


@pytest.mark.parametrize("prior", [Response(2.5, 1.9), Response(2.0, 0.5)])
@pytest.mark.parametrize("steps", [1, 2, 3])
def test_forecasts_miss_as_often_as_they_say(prior: Response, steps: int) -> None:
    """Seeded linear tables, responses drawn from the prior: the next sweep is odd in five of a
    hundred, and what is left scatters as reckoned."""
    random = np.random.default_rng(40 + steps)
    odd, count, z = 0, 4000, []
    for _ in range(count):
        true, found = random.normal(prior.value, prior.uncertainty), random.normal(0, 10)
        shims = np.cumsum([0, *random.choice([1.5, 2.0, 3.0, -1.0], steps)])
        read = found - true * shims + random.normal(0, 0.5, steps + 1)
        trials = [
            TrialStep(float(a), float(b), float(c), float(d))
            for a, b, c, d in zip(shims[:-1], read[:-1], shims[1:], read[1:], strict=True)
        ]
        learnt = learn_response(prior, trials, 0.5)
        change = float(random.choice([-2.0, 1.5, 2.5]))
        expected = float(read[-1]) - learnt.value * change
        got = found - true * (float(shims[-1]) + change) + random.normal(0, 0.5)
        u = left_uncertainty(learnt, change, 0.5)
        z.append((got - expected) / u)
        odd += not as_expected(got, expected, 0.0, u)
    assert odd / count == pytest.approx(0.05, abs=0.012)
    assert float(np.std(z)) == pytest.approx(1.0, abs=0.04)


def test_few_degrees_of_freedom_widen_what_is_expected() -> None:
    random = np.random.default_rng(2)
    known = np.sqrt(random.chisquare(3, 20_000) / 3)
    got = random.normal(size=20_000)
    kept = [as_expected(float(a), 0.0, 0.0, float(u), 3) for a, u in zip(got, known, strict=True)]
    assert float(np.mean(kept)) == pytest.approx(0.95, abs=0.006)


def test_solve_counts_the_shared_reading_only_where_it_is_shared() -> None:
    noise = Noise(
        reading_sd=length("0.3"), reading_dof=inf, relock_sd=length("0.2"), relock_dof=inf,
        resolution=length("0.1"),
    )  # fmt: skip
    shim = Shimming(stock=lengths("1.5 3 4"), trials=(trial("1.5", "6.4", "3.2"),))
    shared = solve(sweep("0 1.6 3.2 1.6", noise=noise, shim=shim)).shim
    told = replace(shim, fitted=length("1.5"))
    again = solve(sweep("0 1.5 3 1.5", noise=noise, shim=told)).shim
    assert shared.left_uncertainty is not None
    assert again.left_uncertainty is not None
    assert shared.left_uncertainty > again.left_uncertainty * 1.1


@given(st.floats(-6, 12), st.floats(0.05, 4), st.floats(0.1, 1.0), st.floats(3, 12))
def test_bounds_against_quadrature(mean: float, sd: float, low: float, high: float) -> None:
    """Mean and sd of a normal cut off at both ends, by numerical integration."""
    found = bounded(Response(mean, sd, 1, 0.2), low, high)
    if found.value == mean:
        assert (low <= mean - 2 * sd and mean + 2 * sd <= high) or mean + 2 * sd < 0
        return
    assert low <= found.value <= high
    inside = norm.cdf(high, mean, sd) - norm.cdf(low, mean, sd)
    if inside < 1e-4:
        return
    points = [min(max(mean, low), high)]
    first = quad(lambda x: x * norm.pdf(x, mean, sd), low, high, points=points)[0] / inside
    second = quad(lambda x: x * x * norm.pdf(x, mean, sd), low, high, points=points)[0] / inside
    assert found.value == pytest.approx(first, rel=1e-4)
    assert found.uncertainty**2 == pytest.approx(second - first**2, rel=1e-2, abs=1e-6)


def test_one_small_trial_that_came_out_negative_is_no_dead_end() -> None:
    """A leaf of one inside a relock noise of two: the front came up by 1.5 and not down."""
    prior = prior_of_machine(length("10 in"), None)
    learnt = learn_positive(prior, [TrialStep(0, 8, 1, 9.5)], 2.0)
    assert learn_response(Response(2.5, 1e6), [TrialStep(0, 8, 1, 9.5)], 2.0).value < 0
    assert 0.25 < learnt.value < 2.5
    noise = Noise(reading_sd=length("1"), relock_sd=length("1.5"), resolution=length("0.5"))
    shim = Shimming(stock=lengths("1 2 3 4"), trials=(trial("1", "8", "9.5"),))
    answer = solve(sweep("0 4.7 9.5 4.8", noise=noise, shim=shim))
    assert answer.shim.total is not None
    assert answer.shim.total > 0
    assert "no_total" not in {warning.code for warning in answer.warnings}


def test_a_response_that_is_clearly_negative_is_said() -> None:
    learnt = learn_positive(prior_of_machine(length("10 in"), None), [TrialStep(0, 8, 3, 20)], 0.3)
    assert learnt.value < 0


def test_the_first_response_comes_from_the_machines_measures() -> None:
    """Similar triangles: a sweep of twelve over a span of three is four to one (derived)."""
    assert prior_of_machine(length("12 in"), length("3 in")) == Response(4.0, 2.0)
    guessed = prior_of_machine(length("12 in"), None)
    assert guessed.value == 3
    assert guessed.uncertainty > guessed.value / 2
    assert prior_of_machine(length("8 in"), None).value == 2


@given(
    st.floats(-0.6, 0.6), st.floats(0.5, 8), st.floats(-4, 4), st.floats(0.05, 2),
    st.floats(-30, 30),
)  # fmt: skip
def test_no_tap_is_ever_asked_that_a_table_could_not_need(
    pivot: float, change: float, moved: float, u: float, off: float
) -> None:
    """Whatever a tap did, the next is no more than 2.5 times what the pivot lets expect."""
    turn = learn_turn(pivot, [(change, 0.0, moved)], u).value
    asked = needed_change(off, pivot_of_turn(turn))
    by_geometry = abs(needed_change(off, pivot))
    assert by_geometry / 2.5 - 1e-9 <= abs(asked) <= 2.5 * by_geometry + 1e-9
    assert asked * off <= 0


def test_a_dial_target_stays_on_the_dial() -> None:
    tap = plan_tap(-80, 12, reach=30)
    assert (tap.dial_target, tap.change) == (30, 18)
    assert plan_tap(-80, 12).dial_target == 52
    by_gap = plan_tap(80, 25, gain=-1.0, reach=30)
    assert (by_gap.dial_target, by_gap.change) == (30, -5)


@pytest.mark.parametrize("front_high", [5.5, 8.0, 9.5])
def test_a_shim_that_changes_nothing_is_sent_to_the_clamp(front_high: float) -> None:
    """A shim of two and the same readings again: check the clamp, no thicker shim."""
    u, prior = 0.89, prior_of_machine(length("10 in"), None)
    assert check_step(TrialStep(0, front_high, 2, front_high), prior, u) == "none"
    assert check_step(TrialStep(0, 8, 2, 3.1), prior, u) == "as_expected"
    assert check_step(TrialStep(0, 8, 0.3, 8), prior, u) == "too_small"


def test_honest_trials_are_seldom_sent_to_the_clamp() -> None:
    """Seeded responses as the machine's measures let expect: in three of a hundred at most."""
    random = np.random.default_rng(14)
    sent = 0
    for _ in range(4000):
        true = max(random.normal(2.5, 0.4), 0.3)
        before, after = 10 + random.normal(0, 0.8), 10 - 2 * true + random.normal(0, 0.8)
        step = TrialStep(0, float(before), 2, float(after))
        sent += check_step(step, Response(2.5, 1.9), 0.8) == "none"
    assert sent / 4000 < 0.03


def test_taps_that_went_the_wrong_way_say_nothing_of_the_pivot() -> None:
    odd = TapTrial(length("-3"), length("8"), length("20"))
    noise = Noise(reading_sd=length("0.1"), reading_dof=inf, resolution=length("0.1"))
    assert solve(replace(sweep("3 6 3 0", noise=noise), taps=(odd,))).tap.change == -3


# -- remembered from an earlier job ------------------------------------------------------

GUESS = prior_of_machine(length("10", "in"), None)


def test_a_remembered_response_has_the_interval_of_its_few_degrees_of_freedom() -> None:
    """The widening by hand: Welch-Satterthwaite (GUM G.4.1) and t by scipy, as the reference.

    A day later a fifth of the value is added in squares, known to eight degrees of freedom: a
    quarter is 1 / (2 * 0.25^2) = 8 (GUM G.4.2).
    """
    learnt = Response(2.0, 0.3, 2, 0.05)
    today = remembered(learnt, 0.0, GUESS)
    total = sqrt(0.3**2 + 0.4**2)
    dof = total**4 / (0.4**4 / 8)
    assert today.uncertainty == pytest.approx(total * t.ppf(0.975, dof) / norm.ppf(0.975))
    assert (today.value, today.trials, today.with_reading) == (2.0, 0, 0.0)


def test_a_remembered_response_is_worth_less_with_the_years_and_never_less_than_a_guess() -> None:
    learnt = Response(2.0, 0.2, 1)
    days = (0, 1, 30, 365, 1500, 4000, 40_000)
    wide = [remembered(learnt, day, GUESS).uncertainty for day in days]
    assert wide == sorted(wide)
    assert wide[0] < 0.3 * learnt.value
    assert wide[-1] == pytest.approx(GUESS.uncertainty / GUESS.value * 2.0)
    # A clock that was set back makes it no surer than today.
    assert remembered(learnt, -5, GUESS).uncertainty == wide[0]


def test_a_known_response_stands_in_place_of_the_guess_until_trials_outweigh_it() -> None:
    base = sweep("0 3 6 3")
    known = Shimming(stock=lengths("1 2 3"), fitted=length("0"), known=Response(2.0, 0.4))
    plain = solve(replace(base, shim=known)).shim
    assert plain.response == Response(2.0, 0.4)
    assert plain.total == pytest.approx(3.0)
    tried = replace(known, trials=(trial("3", "12", "9"),), fitted=length("3"))
    assert solve(replace(base, shim=tried)).shim.response.value == pytest.approx(1.2, abs=0.3)
    for bad in (Response(0.0, 0.4), Response(-1.0, 0.4), Response(2.0, 0.0)):
        with pytest.raises(ProblemError, match=r"shim\.known"):
            replace(base, shim=replace(known, known=bad))


def test_a_tap_that_no_likely_pivot_explains_teaches_nothing_until_a_second_is_like_it() -> None:
    believed, slipped = 2.0, (4.0, -8.5, -14.0)
    assert learn_turn(0.0, [slipped], 1.2).value == believed
    # The dial slipped once: the good taps beside it count, and it alone does not.
    good = (7.0, -14.0, 3.5)
    assert learn_turn(0.0, [slipped, good], 1.2) == learn_turn(0.0, [good], 1.2)
    # Twice alike, it is the pivot that is an unlikely one: 0.6 of the radius to the right.
    far = [(4.0, -8.0, 12.0), (-4.0, 12.0, -8.0)]
    assert learn_turn(0.0, far[:1], 1.0).value == believed
    assert learn_turn(0.0, far, 1.0).value > 3.5
