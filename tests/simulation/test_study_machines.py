"""The machines and the people of the study do what their class says."""

import random
from dataclasses import replace
from decimal import Decimal
from itertools import pairwise
from math import cos, degrees, hypot, pi, radians, sin, sqrt
from statistics import fmean, stdev

import numpy as np
import pytest

from assistant.dialogue.messages import Step
from assistant.dialogue.planner import SAME_SPOTS
from assistant.metrology.lengths import Length
from assistant.simulation.bench import BEARINGS, Machine, profile_for
from assistant.simulation.caller import OperatorStuck
from assistant.simulation.cues import Question
from assistant.simulation.wording import Manner
from grammar.scale import Scale
from grammar.vocabulary import STATIONS
from tests.benchmarks.study import oracle
from tests.benchmarks.study.bound import REPEAT, plus_or_minus
from tests.benchmarks.study.machines import KINDS, draw
from tests.benchmarks.study.person import Mistakes, Person, inches_told, misread
from tests.benchmarks.study.surface import Surface
from tests.benchmarks.study.worn import Faults, WornBench, WornFeet, WornHead

FINE = Scale("thou", 90, Decimal("0.01"))
IDEAL = Machine(FINE, 6.0, 4.0, response=2.0)


def _bench(faults: Faults | None = None, machine: Machine = IDEAL) -> WornBench:
    bench = WornBench(machine, Surface(1, 5.0), faults)
    bench.lock_all()
    return bench


def test_without_faults_it_is_the_plain_bench() -> None:
    bench = _bench()
    bench.zero("back")
    assert [bench.read(name) for name in ("right", "front", "left", "back")] == [5, 6, 1, 0]
    assert bench.plane == bench.settled == (6.0, 4.0)


def test_truth_has_the_plane_of_the_surface_in_it() -> None:
    surface = Surface(4, 5.0, waviness=1.5)
    bench = WornBench(IDEAL, surface)
    bench.lock_all()
    assert bench.plane == pytest.approx((6.0 + surface.plane[0], 4.0 + surface.plane[1]))
    assert hypot(*surface.plane) > 0.05


def test_settled_is_the_mean_over_lockings() -> None:
    bench = _bench(machine=replace(IDEAL, relock=0.5, lock_pull=0.8))
    seen = []
    for _ in range(1000):
        bench.lock_again()
        seen.append(bench.plane)
        assert bench.settled == pytest.approx((6.0, 4.8))
    assert stdev(front for front, _ in seen) == pytest.approx(0.5, rel=0.1)
    assert fmean(right for _, right in seen) == pytest.approx(4.8, abs=0.07)


def test_a_loose_clamp_swallows_the_shim_until_it_is_seen_to() -> None:
    falls = []
    benches = [_bench(Faults(loose=4.0), replace(IDEAL, seed=seed)) for seed in range(200)]
    for bench in benches:
        bench.loosen_bolt()
        bench.fit_shim(Decimal(3))
        bench.lock_all()
        falls.append(6.0 - bench.settled[0])
    # Drawn from -0.4 to 0.3 of 2.0 a count: below zero in more than half of them.
    assert min(falls) == pytest.approx(-2.4, abs=0.15)
    assert max(falls) == pytest.approx(1.8, abs=0.15)
    assert sum(fall < 0 for fall in falls) > 90
    bench = benches[0]
    while bench.loose:
        bench.see_to_clamp()
    assert 6.0 - bench.settled[0] == pytest.approx(6.0)
    assert bench.plane == pytest.approx(bench.settled)


def test_a_loose_clamp_lands_wide_at_every_locking() -> None:
    bench = _bench(Faults(loose=4.0))
    seen = []
    for _ in range(400):
        bench.lock_again()
        seen.append(bench.plane[0])
    assert stdev(seen) == pytest.approx(4.0, rel=0.15)


def _person(mistakes: Mistakes, faults: Faults | None = None) -> Person:
    profile = replace(profile_for(), scale=FINE)
    person = Person(_bench(faults), profile, random.Random(1), Manner(), mistakes)
    person._phase = "sweep"
    person.worn.zero("back")
    return person


def test_a_station_that_is_reached_late_is_read_there() -> None:
    # Derived: 10 degrees beyond the right, 2 sin 100 - 3 cos 100 over the middle at 3 + 0.
    person = _person(Mistakes(late=10.0))
    late = radians(100)
    expected = 2 * sin(late) + 3 * (1 - cos(late))
    assert float(person._look("right")) == pytest.approx(expected, abs=0.011)
    assert person._look("back") == 0


def test_a_misreading_is_believed_and_may_come_twice() -> None:
    person = _person(Mistakes(misread=1.0))
    assert person._look("front") != 6
    assert len({person._look("front") for _ in range(60)}) > 3
    person._phase = "tap"
    assert person._look("front") == 6


def test_whoever_is_told_to_look_after_something_does() -> None:
    loose = _person(Mistakes(), Faults(loose=4.0))
    stages = []
    for said in ("Not while it is loose.", *["The shim did nothing. Is it clamped?"] * 5):
        loose.hear(said)
        stages.append(loose.worn.loose)
    assert stages[0] is True
    assert stages[-1] is False
    slipping = _person(Mistakes(), Faults(slip=1.0, slip_by=5.0))
    for _ in range(5):
        slipping.hear("Check bar, clamp and dial for play.")
    before = slipping.worn.slips
    slipping.worn.read("front")
    assert slipping.worn.slips == before
    drifting = _person(Mistakes())
    drifting.hear("The dial drifts. Let it warm up.")
    assert drifting.worn._calm < 1


def test_nobody_taps_to_what_the_dial_does_not_show() -> None:
    person = _person(Mistakes())
    asked = Question("tap", "right", ("done",))
    person.told(Step("tap", station="right", dial_target=Decimal(2), change=Decimal(-3)))
    assert person._act(asked, "")
    person.told(Step("tap", station="right", dial_target=Decimal(641), change=Decimal(600)))
    with pytest.raises(OperatorStuck, match="does not show"):
        person._act(asked, "")


def _steps_in(person: Person) -> list[float]:
    """How far a person goes from spot to spot, in inches, beginning at the station."""
    bearings = []
    for count in range(1, 301):
        person._noted = count
        bearings.append(person._astray_deg())
    assert bearings[0] == 0
    return [radians(on - one) * 5 for one, on in pairwise(bearings)]


def test_spots_are_as_far_apart_as_is_told() -> None:
    person = _person(Mistakes())
    near = _steps_in(person)
    assert (min(near), max(near)) == pytest.approx((0.5 * 2 / 3, 0.5 * 4 / 3), rel=0.05)
    person._act(Question("surface", None, ("done",)), "Spots two inches apart. Call each.")
    far = _steps_in(person)
    assert (min(far), max(far)) == pytest.approx((2 * 2 / 3, 2 * 4 / 3), rel=0.05)
    person._act(Question("again", None, ("yes",)), "Sweep again, beside the old spots?")
    # A quarter of an inch on: 2 sin - 3 cos there instead of at the back.
    beside = 0.25 / 5
    person.worn.zero("back")
    rise = person.worn.height(degrees(pi / 2 + beside)) - person.worn.height(degrees(beside))
    assert float(person.worn.read("right")) == pytest.approx(rise, abs=0.011)


def test_whoever_stays_on_the_old_spots_moves_on_once_told_that_it_looks_so() -> None:
    person = _person(Mistakes(stays=True))
    again = "Sweep again, every spot an inch clockwise?"
    at = []
    for said in (again, again, f"{SAME_SPOTS} {again}", again):
        person.hear(said)
        person._act(Question("again", None, ("yes",)), said)
        at.append(person.worn._spot_deg)
    assert at == pytest.approx([0.0, 0.0, degrees(1 / 5), degrees(2 / 5)])


def test_a_seized_table_stays() -> None:
    bench = _bench(Faults(seized=True))
    bench.ease_lock()
    bench.tap("right", -3.0)
    assert bench.plane == (6.0, 4.0)


def test_a_slip_shifts_every_later_reading_once() -> None:
    bench = _bench(Faults(slip_by=8.0, sure_slip=2))
    bench.zero("back")
    assert bench.read("right") == 5
    shift = float(bench.read("front")) - 6
    assert 3.2 <= abs(shift) <= 8.0
    assert float(bench.read("left")) - 1 == pytest.approx(shift, abs=0.011)
    assert bench.slips == 1


def test_drift_is_so_much_a_sweep_and_waiting_calms_it() -> None:
    bench = _bench(machine=replace(IDEAL, creep=0.75))
    bench.zero("back")
    for name in STATIONS[1:]:
        bench.read(name)
    assert bench.read("back") == 3
    bench.pace = 0.25
    bench.read("back")
    bench.read("back")
    assert bench.read("back") == pytest.approx(Decimal("3.56"), abs=Decimal("0.011"))
    bench.pace = 1.0
    bench.warm_up()
    bench.zero("back")
    bench.read("right")
    assert bench.read("back") == pytest.approx(Decimal("0.375"), abs=Decimal("0.011"))


def test_shims_under_feet_lower_the_other_side() -> None:
    bench = WornFeet(IDEAL, Surface(1, 5.0), Faults(), side_response=1.0)
    bench.lock_all()
    bench.unbolt()
    bench.pack("back", Decimal(3))
    bench.pack("left", Decimal(4))
    bench.lock_all()
    assert bench.plane == pytest.approx((0.0, 0.0))
    bench.pack("front", Decimal(1))
    assert bench.plane == pytest.approx((8.0, 0.0))
    assert bench.best_left((Decimal(3), Decimal(4)), 1) == pytest.approx(0.0)


def test_the_classes_are_drawn_as_they_are_called() -> None:
    quiet = [draw("quiet", seed, 4.0)[0].worn.surface.waviness for seed in range(30)]
    rough = [draw("rough", seed, 4.0)[0].worn.surface.waviness for seed in range(30)]
    assert max(quiet) <= 0.25
    assert min(rough) >= 1.2
    assert max(quiet) - min(quiet) > 0.1
    drifts = [abs(draw("drift", seed, 4.0)[0].worn.machine.creep) * 4 for seed in range(30)]
    assert 2.0 <= min(drifts) <= max(drifts) <= 3.0
    assert isinstance(draw("mill", 1, 2.0)[0].worn, WornHead)
    assert isinstance(draw("vise", 1, 2.0)[0].worn, WornFeet)
    told = draw("told", 1, 4.0)[1]
    assert len(told.surface) == len(told.relock) == 8
    tilts = [hypot(*draw("metric", seed, 4.0)[0].worn.plane) for seed in range(30)]
    assert 25 < max(tilts) < 20 * 2.54 + 5
    metric = draw("metric", 1, 4.0)[1]
    assert metric.tolerance == Length.of(Decimal("0.1"), "mm")


@pytest.mark.parametrize("name", KINDS)
def test_a_seed_is_one_machine_that_its_dial_can_read(name: str) -> None:
    tolerance = KINDS[name].tolerances[0]
    readable = 0
    for seed in range(4):
        person, profile = draw(name, seed, tolerance)
        same, _ = draw(name, seed, tolerance)
        assert (person.worn.machine, person.mistakes) == (same.worn.machine, same.mistakes)
        assert person.worn.surface == same.worn.surface
        bench = person.worn
        bench.lock_all()
        bench.zero("back")
        readable += all(profile.scale.shows(bench.read(station)) for station in BEARINGS)
    assert readable >= 3


def test_a_misreading_is_another_sign_digit_or_ten() -> None:
    chance = random.Random(1)
    seen = {misread(Decimal("-13"), chance) for _ in range(300)}
    assert {Decimal(13), Decimal(-30), Decimal(-23), Decimal(-12)} <= seen
    assert Decimal(-13) not in seen
    assert {misread(Decimal(40), chance) for _ in range(300)} >= {Decimal(14), Decimal(-40)}


def test_sides_are_exchanged_for_a_whole_sweep_and_the_zero_with_them() -> None:
    person, _ = draw("exchange", 3, 4.0)
    bench = person.worn
    bench.lock_all()
    person.exchanged = ("left", "right")
    person._phase = "sweep"
    bench.zero("back")
    assert abs(person._look("right") - bench.shows("left")) <= 1
    person.mistakes = replace(person.mistakes, exchange=1.0)
    zeroed_in_front = 0
    for _ in range(12):
        person._zero(Question("zero", None, ("zeroed",)))
        zeroed_in_front += abs(bench.shows("front")) <= 1 < abs(bench.shows("back"))
    assert 0 < zeroed_in_front < 12
    person.exchanged = ("back", "front")
    bench.zero("front")
    assert abs(person._look("front") - bench.shows("back")) <= 2
    assert abs(person._look("back")) <= 1


@pytest.mark.parametrize(
    ("said", "inches"),
    [
        ("Four spots, two inches apart. Call each.", 2.0),
        ("Move it two and a half inches on.", 2.5),
        ("Spots an inch apart. Call each, then done.", 1.0),
        ("Spots sixty millimetres apart.", 60 / 25.4),
        ("Move the dial about one spot. Call each, then done.", None),
    ],
)
def test_how_far_is_what_the_prompt_says(said: str, inches: float | None) -> None:
    assert inches_told(said) == (None if inches is None else pytest.approx(inches))


def test_the_bound_is_what_sweeps_of_such_surfaces_come_to() -> None:
    """Seeded: right less left of four stations against the plane of the whole circle."""
    off = []
    for seed in range(300):
        surface = Surface(seed, 5.0, waviness=1.7)
        noise = np.random.default_rng(seed).normal(0.0, REPEAT, 4)
        back, right, front, left = (
            surface.height(deg, 5.0) + noise[k] for k, deg in enumerate((0.0, 90.0, 180.0, 270.0))
        )
        off += [front - back - surface.plane[0], right - left - surface.plane[1]]
    assert 1.96 * float(np.std(off)) == pytest.approx(plus_or_minus((0.0,), 1.7), rel=0.08)
    assert plus_or_minus((0.0, 45.0), 1.7) < plus_or_minus((0.0,), 1.7) / sqrt(2)


def _stuck(lifting: bool) -> list[float]:
    """Front less back and right less left of a level and smooth table but for one tilt."""
    bench = _bench(Faults(stick=0.8))
    bench.lifting = lifting
    for station in STATIONS:
        bench.read(station)
    bench.zero("back")
    right, front, left = (float(bench.read(name)) for name in ("right", "front", "left"))
    return [front, right - left]


def test_a_dial_that_sticks_hangs_behind_its_tip_unless_that_is_lifted() -> None:
    """Six front, four right: up to the right, down to the left, and 0.8 behind at both. Front and
    back lie a little past the highest and the lowest spot, where the hand still rests."""
    front, right = _stuck(lifting=False)
    assert front == pytest.approx(hypot(6.0, 4.0) - 1.6, abs=0.02)
    assert right == pytest.approx(4.0 - 1.6, abs=0.02)
    assert _stuck(lifting=True) == pytest.approx([6.0, 4.0], abs=0.02)
    free = _bench()
    assert free.read("front") == _bench(Faults(stick=0.0)).read("front")


def test_the_tip_is_lifted_by_whoever_is_told_and_mostly_not_while_tapping() -> None:
    person, _ = draw("sticking", 3, 4.0)
    lifted = {}
    for told in (False, True):
        if told:
            person.hear("Lift the tip before each reading. Dial to zero at the back. Say zeroed.")
        for phase in ("sweep", "ease"):
            seen = []
            for _ in range(200):
                person.tell_phase(phase)
                seen.append(person.worn.lifting)
            lifted[told, phase] = sum(seen) / 200
    assert lifted[False, "sweep"] == lifted[False, "ease"] == lifted[True, "ease"] == 0
    assert 0.88 < lifted[True, "sweep"] < 0.99


def test_the_oracle_proves_more_by_more_sweeps_and_by_knowing_more() -> None:
    seeds = range(60)
    fates = {
        (times, told): [oracle.fate_of("ordinary", seed, 2.0, times, told=told) for seed in seeds]
        for times in (1.0, 3.0)
        for told in (True, False)
    }
    claims = {how: sum(one.claimed for one in jobs) for how, jobs in fates.items()}
    assert claims[3.0, True] > claims[1.0, True] + 10
    assert claims[1.0, True] > claims[1.0, False]
    cannot = oracle.cannot_though_within(fates[1.0, True])
    assert oracle.cannot_though_within(fates[3.0, True]) < cannot / 2
    quiet = [oracle.fate_of("quiet", seed, 4.0, 1.5) for seed in range(20)]
    assert sum(one.claimed for one in quiet) >= 19
    assert all(one.left <= 1 for one in quiet if one.claimed)


def test_what_one_estimate_is_off_beside_a_surer_one_is_independent_of_it() -> None:
    own = random.Random(5)
    drawn = np.array([oracle.nested([1.0, 0.6, 0.3], own) for _ in range(4000)])
    assert drawn.std(axis=0) == pytest.approx([1.0, 0.6, 0.3], rel=0.05)
    # The covariance of two of them is the variance of the surer one.
    assert np.cov(drawn[:, 0], drawn[:, 2])[0, 1] == pytest.approx(0.09, rel=0.25)
