"""The simulated machine behaves as geometry and a real one do."""

from dataclasses import replace
from decimal import Decimal
from math import isclose, sqrt
from statistics import fmean, stdev

import pytest

from assistant.simulation.bench import (
    BEARINGS,
    Bench,
    ImpossibleMove,
    Machine,
    draw_machine,
    profile_for,
)
from assistant.simulation.clock import SimulatedClock
from grammar.scale import Scale
from grammar.vocabulary import STATIONS

FINE = Scale("thou", 90, Decimal("0.01"))


def _machine(front_minus_back: float, right_minus_left: float) -> Machine:
    """Ideal: no roughness, no scatter, a leaf does twice itself."""
    return Machine(FINE, front_minus_back, right_minus_left, response=2.0)


def _swept(bench: Bench) -> dict[str, Decimal]:
    bench.zero("back")
    return {station: bench.read(station) for station in STATIONS}


def _locked(machine: Machine) -> Bench:
    bench = Bench(machine)
    bench.lock_all()
    return bench


def test_opposite_stations_differ_by_what_the_table_is_out() -> None:
    # T1 of a four-point sweep, derived: a plane six high in front reads 0, 3, 6, 3 from the back.
    assert _swept(_locked(_machine(6.0, 0.0))) == {"back": 0, "right": 3, "front": 6, "left": 3}
    read = _swept(_locked(_machine(-5.0, 7.0)))
    assert read["front"] - read["back"] == -5
    assert read["right"] - read["left"] == 7


@pytest.mark.parametrize(("front", "right"), [(6.0, 1.0), (-3.0, 8.0), (0.0, -4.0)])
def test_any_plane_has_no_saddle(front: float, right: float) -> None:
    # Derived: F + B = R + L for any plane at any tilt.
    read = _swept(_locked(_machine(front, right)))
    assert read["front"] + read["back"] == read["right"] + read["left"]


def test_with_a_central_pivot_half_the_difference_levels_the_sides() -> None:
    # Derived from similar triangles: the right comes down by what the left goes up.
    bench = _locked(_machine(0.0, 6.0))
    bench.zero("back")
    before = bench.read("right")
    bench.ease_lock()
    bench.tap("right", -3.0)
    assert bench.read("right") - before == -3
    assert isclose(bench.right_minus_left, 0.0, abs_tol=1e-9)
    assert bench.read("right") == bench.read("left")


@pytest.mark.parametrize("pivot", [0.5, -0.5, 0.9, 2.0])
def test_with_a_pivot_aside_the_change_is_half_times_one_minus_its_place(pivot: float) -> None:
    # Derived: a turn about x0 moves the station at +radius by half the difference times
    # (1 - x0/radius); half of it would leave the rest.
    bench = _locked(replace(_machine(0.0, 6.0), pivot=pivot))
    bench.ease_lock()
    bench.tap("right", -6.0 / 2 * (1 - pivot))
    assert isclose(bench.right_minus_left, 0.0, abs_tol=1e-9)
    other = _locked(replace(_machine(0.0, 6.0), pivot=pivot))
    other.ease_lock()
    other.tap("right", -3.0)
    assert not isclose(other.right_minus_left, 0.0, abs_tol=0.1)


def test_a_pivot_aside_moves_the_whole_table() -> None:
    bench = _locked(replace(_machine(0.0, 6.0), pivot=0.5))
    middle = (bench.height(90.0) + bench.height(270.0)) / 2
    bench.ease_lock()
    bench.tap("right", -1.5)
    assert not isclose((bench.height(90.0) + bench.height(270.0)) / 2, middle, abs_tol=0.1)


def test_a_shim_above_lowers_the_front_by_the_response() -> None:
    bench = _locked(_machine(6.0, 0.0))
    bench.loosen_bolt()
    bench.fit_shim(Decimal("1.5"))
    bench.lock_all()
    assert isclose(bench.front_minus_back, 3.0)
    bench.loosen_bolt()
    bench.fit_shim(Decimal(-2))
    bench.lock_all()
    assert isclose(bench.front_minus_back, 10.0)


def test_a_shim_leans_the_sides_a_little() -> None:
    bench = _locked(replace(_machine(6.0, 0.0), coupling=0.1))
    bench.loosen_bolt()
    bench.fit_shim(Decimal(3))
    bench.lock_all()
    assert isclose(bench.right_minus_left, 0.3)


def test_what_is_tight_does_not_move() -> None:
    bench = _locked(_machine(6.0, 6.0))
    with pytest.raises(ImpossibleMove, match="tilt bolt is tight"):
        bench.fit_shim(Decimal(2))
    with pytest.raises(ImpossibleMove, match="lock is hard"):
        bench.tap("right", -1.0)
    bench.ease_lock()
    with pytest.raises(ImpossibleMove, match="does not turn"):
        bench.tap("front", -1.0)
    assert (bench.front_minus_back, bench.right_minus_left) == (6.0, 6.0)


def test_readings_mean_nothing_while_the_bolt_is_loose() -> None:
    bench = _locked(_machine(6.0, 0.0))
    read = _swept(bench)
    bench.loosen_bolt()
    assert abs(bench.read("front") - read["front"]) > 5
    bench.lock_all()
    assert bench.read("front") == read["front"]


def test_relocking_scatters_and_reading_again_does_not() -> None:
    bench = Bench(replace(_machine(6.0, 0.0), relock=0.5))
    found = []
    for _ in range(400):
        bench.ease_lock()
        bench.lock_all()
        found.append(bench.front_minus_back)
        bench.lock_all()
        assert bench.front_minus_back == found[-1]
    # Standard error of a standard deviation from 400: 1 / sqrt(800) of it; five of them.
    assert abs(stdev(found) - 0.5) < 5 * 0.5 / sqrt(800)
    assert abs(fmean(found) - 6.0) < 5 * 0.5 / sqrt(400)


def test_the_hard_lock_pulls_and_the_snug_one_does_not() -> None:
    bench = _locked(replace(_machine(0.0, 6.0), lock_pull=0.5))
    assert isclose(bench.right_minus_left, 6.5)
    bench.ease_lock()
    assert isclose(bench.right_minus_left, 6.0)


def test_the_surface_is_the_same_at_every_visit_and_another_beside_it() -> None:
    bench = _locked(replace(_machine(0.0, 0.0), texture=0.5))
    bench.zero("back")
    assert len({bench.read("right") for _ in range(10)}) == 1
    assert len({bench.read_at(90.0 + spot) for spot in range(10)}) > 5


def test_each_reading_scatters_by_itself() -> None:
    bench = _locked(replace(_machine(0.0, 0.0), touch=0.5))
    bench.zero("back")
    read = [float(bench.read("back")) for _ in range(400)]
    assert abs(stdev(read) - 0.5) < 5 * 0.5 / sqrt(800)


def test_a_creeping_dial_does_not_come_back_to_zero() -> None:
    bench = _locked(replace(_machine(0.0, 0.0), creep=0.25))
    bench.zero("back")
    assert [bench.read(station) for station in (*STATIONS[1:], "back")] == [
        Decimal("0.25"), Decimal("0.5"), Decimal("0.75"), Decimal(1),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("step", "shown"), [("1", "6"), ("0.5", "6.5"), ("0.25", "6.25"), ("0.1", "6.3")]
)
def test_the_dial_is_read_to_its_step(step: str, shown: str) -> None:
    # 6.26 to the nearest mark of each dial.
    bench = _locked(replace(_machine(6.26, 0.0), scale=Scale("thou", 30, Decimal(step))))
    bench.zero("back")
    assert bench.read("front") == Decimal(shown)


def test_a_seed_is_one_machine_and_another_seed_another() -> None:
    assert draw_machine(7) == draw_machine(7)
    assert draw_machine(7) != draw_machine(8)
    one, same = Bench(draw_machine(7)), Bench(draw_machine(7))
    for bench in (one, same):
        bench.lock_all()
    assert _swept(one) == _swept(same)


@pytest.mark.parametrize("seed", range(40))
def test_every_drawn_machine_can_be_read_on_its_dial(seed: int) -> None:
    for system in ("thou", "mm"):
        machine = draw_machine(seed, system)
        times = 1.0 if system == "thou" else 2.5
        assert 5.9 * times <= Bench(machine).tilt <= 20.1 * times
        bench = _locked(machine)
        assert all(machine.scale.shows(value) for value in _swept(bench).values())
        assert machine.scale == profile_for(system).scale


def test_a_quarter_turn_of_bearings_is_a_quarter_turn() -> None:
    # Clockwise from the back, seen from above, as the signs of a sweep are defined.
    assert [BEARINGS[name] for name in STATIONS] == [0.0, 90.0, 180.0, 270.0]


def test_simulated_time_runs_forwards_only() -> None:
    clock = SimulatedClock()
    assert clock.now() == "2024-03-04T09:00:00.000Z"
    clock.pass_time(3661.25)
    assert clock.now() == "2024-03-04T10:01:01.250Z"
    with pytest.raises(ValueError, match="backwards"):
        clock.pass_time(-1.0)
