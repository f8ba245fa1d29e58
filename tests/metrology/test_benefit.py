"""The next thing to do, by what it should bring."""

from math import inf

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.metrology.benefit import GOOD_ALREADY, Choice, Option, Standing, choose, gain_of
from assistant.metrology.conformance import Covariance, Disc, region_probability

FOUR = Disc(4.0)


def round_(u: float) -> Covariance:
    return ((u * u, 0.0), (0.0, u * u))


def at(front: float, right: float, u: float, dof: float = inf) -> Standing:
    return Standing((front, right), round_(u), dof)


def moves(front: float, right: float, u: float = 0.4, u_left: float = 0.8) -> list[Option]:
    """Front to back by shim, side to side by tap: each leaves nothing of its own axis."""
    other = u * u
    shim = Standing((0.0, right), ((u_left**2, 0.0), (0.0, other)))
    tap = Standing((front, 0.0), ((other, 0.0), (0.0, u_left**2)))
    return [Option("shim", shim, True, 2.0), Option("tap", tap, True, 1.5)]


def next_of(front: float, right: float, u: float = 0.4, *more: Option, **how: float) -> Choice:
    return choose(at(front, right, u), FOUR, [*moves(front, right, u, **how), *more])


def named(choice: Choice) -> str:
    return choice.option.name if choice.option else choice.reason


@pytest.mark.parametrize(
    ("front", "right", "done"),
    [
        (0.5, 1.0, "proven"),
        (9.0, 3.0, "shim"),  # the larger axis first
        (3.0, 9.0, "tap"),
        (-9.0, 3.0, "shim"),
        (4.5, 0.2, "shim"),
        (0.1, -5.0, "tap"),
    ],
)
def test_what_helps_most_comes_first(front: float, right: float, done: str) -> None:
    assert named(next_of(front, right)) == done


def test_both_inside_the_noise_and_out_of_tolerance_is_no_end() -> None:
    """Each axis 1.1 with u 0.7, tolerance one: neither stands out, and there is something to do."""
    tight, doubtful = Disc(1.0), at(1.1, 1.1, 0.7)
    assert named(choose(at(1.1, 1.1, 0.4), tight, moves(1.1, 1.1, 0.4))) == "tap"
    measured = Option("measure", Standing((0.5, 0.5), round_(0.15), 20.0), False, 0.5)
    choice = choose(at(0.5, 0.5, 0.7), tight, [*moves(0.5, 0.5, 0.7), measured])
    assert named(choice) == "measure"
    assert choose(doubtful, tight, []).reason == "cannot_tell"


def test_a_correction_that_may_make_it_worse_is_not_begun() -> None:
    assert named(next_of(4.4, 0.0, 0.4, u_left=5.0)) == "cannot_tell"
    assert named(next_of(7.0, 0.0, 0.4, u_left=8.0)) == "cannot_help"
    assert named(next_of(7.0, 0.0, 0.4, u_left=2.0)) == "shim"


def test_nothing_is_corrected_that_may_be_good_already() -> None:
    """Three with an uncertainty of 1.6: in one case of eight the table is within two."""
    assert region_probability(Disc(2), 3, 0, round_(1.6)) > GOOD_ALREADY
    choice = next_of(3.0, 0.0, 1.6)
    assert choice.option is None
    assert choice.reason == "good_enough"


def test_measuring_is_for_what_it_would_settle() -> None:
    known = Option("settle", Standing((1.5, 0.5), round_(0.8), 12.0), False, 0.7)
    dear = Option("four sweeps", Standing((1.5, 0.5), round_(0.6), 12.0), False, 4.0)
    useless = Option("again", Standing((1.5, 0.5), round_(1.5), 2.0), False, 0.1)
    choice = choose(at(1.5, 0.5, 1.6, 2.0), FOUR, [known, dear, useless])
    assert named(choice) == "settle"
    assert choice.reason == "would_tell"


def test_the_choice_says_what_it_should_leave() -> None:
    choice = next_of(9.0, 3.0)
    assert (choice.left, choice.left_u) == (3.0, 0.8)
    assert choice.gain == pytest.approx((81 - 0.64 + 0.16) / 16 - 0.24)
    assert choice.gain == pytest.approx(gain_of(at(9, 3, 0.4), moves(9, 3)[0], FOUR))


@given(st.floats(-12, 12), st.floats(-12, 12), st.floats(0.1, 3), st.floats(0.1, 3))
def test_no_correction_is_expected_to_make_it_worse(
    front: float, right: float, u: float, left: float
) -> None:
    choice = next_of(front, right, u, u_left=left)
    if choice.option is not None:
        after = choice.option.after
        squares = [pair[0] ** 2 + pair[1] ** 2 for pair in (after.pair, (front, right))]
        assert squares[0] < squares[1]
        assert choice.gain > 0
    assert 0 <= choice.probability <= 1


def test_corrected_tables_come_out_better() -> None:
    """Seeded tables read with u 0.6: whoever follows the choice ends within, and hardly ever
    worse than found or corrected for nothing."""
    random = np.random.default_rng(60)
    needless = worse = false = claims = 0
    count = 1500
    for _ in range(count):
        true = random.normal(0, 5, 2)
        found, choice = float(np.hypot(*true)), next_of(0.0, 0.0)
        for _ in range(6):
            read = true + random.normal(0, 0.6, 2)
            choice = next_of(float(read[0]), float(read[1]), 0.6, u_left=0.9)
            if choice.option is None:
                break
            needless += float(np.hypot(*true)) <= 2
            axis = 0 if choice.option.name == "shim" else 1
            true[axis] += -read[axis] * random.normal(1, 0.1) + random.normal(0, 0.3)
        if choice.reason == "proven":
            claims += 1
            false += float(np.hypot(*true)) > 4
        worse += float(np.hypot(*true)) > found + 1
    assert needless / count < 0.02
    assert worse / count < 0.01
    assert claims / count > 0.95
    assert false / claims < 0.025


def test_measuring_is_hoped_to_take_one_uncertainty_off() -> None:
    """Three with u 1.4, and 0.8 by four more stations: 2.2 would be proven, 3 would not."""
    more = Option("corners", Standing((3.0, 0.0), round_(0.8)), False, 0.8)
    assert region_probability(FOUR, 3.0, 0.0, round_(0.8)) < 0.95
    assert named(choose(at(3.0, 0.0, 1.4, 5.0), FOUR, [more])) == "corners"
    hopeless = Option("corners", Standing((3.7, 0.0), round_(1.2)), False, 0.8)
    assert choose(at(3.7, 0.0, 1.4, 5.0), FOUR, [hopeless]).option is None


def test_measuring_counts_by_what_it_could_come_to_and_not_by_its_first_step() -> None:
    now, little = at(2.9, 0.0, 1.2), at(2.9, 0.0, 1.1)
    first = Option("measure", little, False, 0.7)
    assert named(choose(now, FOUR, [first])) == "good_enough"
    leads_on = Option("measure", little, False, 0.7, at(2.9, 0.0, 0.3))
    assert named(choose(now, FOUR, [leads_on])) == "measure"


def test_what_may_be_worth_correcting_is_measured_first() -> None:
    """Chance may have made most of 5.5: not yet to be corrected, and clear once it is measured."""
    doubtful = at(5.5, 0.0, 2.4)
    measure = Option("measure", at(5.5, 0.0, 0.9), False, 0.7)
    assert named(choose(doubtful, FOUR, [*moves(5.5, 0.0, 2.4), measure])) == "measure"
    assert named(choose(doubtful, FOUR, [measure])) == "cannot_tell"


def test_what_is_hardly_known_is_measured_before_it_is_corrected() -> None:
    """The same tilt and interval, by two degrees of freedom and by twenty."""
    guessed, known = at(4.9, 0.6, 1.0, 2.5), at(4.9, 0.6, 1.0, 20.0)
    surer = Option("measure", at(4.9, 0.6, 0.7, 5.5), False, 0.7)
    assert named(choose(guessed, FOUR, [*moves(4.9, 0.6), surer])) == "measure"
    assert named(choose(known, FOUR, [*moves(4.9, 0.6), surer])) == "shim"
    # Where nothing more can be measured, it is corrected all the same.
    assert named(choose(guessed, FOUR, moves(4.9, 0.6))) == "shim"


def test_a_near_proof_is_looked_at_once_more_where_that_makes_it_clearly_surer() -> None:
    """A tilt whose one limit lies two uncertainties off: 97.7 % (JCGM 106:2012, table 1: z = 2)."""
    wide = Disc(1000.0)
    near = at(998.0, 0.0, 1.0)
    assert region_probability(wide, 998.0, 0.0, round_(1.0)) == pytest.approx(0.977, abs=1e-3)
    again = Option("again", at(998.0, 0.0, 0.8), False, 1.0)
    corners = Option("corners", at(998.0, 0.0, 0.84), False, 0.7)
    hardly = Option("settle", at(998.0, 0.0, 0.9), False, 0.1)
    choice = choose(near, wide, [again, corners, hardly])
    assert (named(choice), choice.reason) == ("corners", "would_tell")
    assert named(choose(near, wide, [hardly])) == "proven", "nothing would make it clearly surer"
    assert named(choose(at(997.8, 0.0, 1.0), wide, [again])) == "proven", "98.6 %"
    assert choose(at(998.4, 0.0, 1.0), wide, []).option is None
    assert choose(at(998.4, 0.0, 1.0), wide, []).reason == "good_enough"
