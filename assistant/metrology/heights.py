"""From what is read to how high the table is: one factor for each way of measuring.

Belongs here: turning a question about readings into one about heights. What a face shows is a
matter of ``dial``, what a stack of leaves says of ``gauges``.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from math import sqrt
from typing import assert_never

from assistant.metrology.gauges import square_difference
from assistant.metrology.lengths import Length
from assistant.metrology.problem import Method, Noise, Problem, StationReading, Sweep
from assistant.metrology.rig import Rig, tip_doubt, tip_factor
from assistant.metrology.scatter import finest_step


def gain_of(problem: Problem) -> Decimal:
    """Height of the table per unit read."""
    return gain(problem.method, problem.rig, problem.sweep_diameter)


def gain(method: Method, rig: Rig, sweep_diameter: Length | None) -> Decimal:
    """Height of the table per unit read: -1 for gaps, a lever's cosine, diameter over height.

    A square at a station shows half of its slope over the diameter, up there and down opposite.
    Raises ``ValueError`` for a square without its height or the diameter.
    """
    match method:
        case "indicator":
            factor = tip_factor(rig.lever_deg, rig.tip)
            return rig.sign * (Decimal(1) if factor == 1.0 else Decimal(repr(factor)))
        case "gap":
            return Decimal(-1)
        case "square":
            if rig.square_height is None or sweep_diameter is None:
                raise ValueError("a square needs its height and the sweep diameter")
            height, across = (
                float(length.to("mm")) for length in (rig.square_height, sweep_diameter)
            )
            return Decimal(repr(square_difference(1.0, height, across, "bottom") / 2))
        case _:
            assert_never(method)


def in_heights(problem: Problem) -> Problem:
    """The same question with heights for readings: what is read times ``gain_of``.

    Leaves that go and do not go become the middle between them and its half width, ``doubt``. What
    was measured of the noise was read in the same way and is turned into heights too.
    """
    gain = gain_of(problem)
    by_leaves = any(reading.no_go for sweep in problem.sweeps for reading in sweep.readings)
    if gain == 1 and not by_leaves:
        return problem
    main, *repeats = (_sweep_in_heights(sweep, gain, problem.method) for sweep in problem.sweeps)
    return replace(
        problem,
        method="indicator",
        rig=Rig(station_within_deg=problem.rig.station_within_deg),
        readings=main.readings,
        closing=main.closing,
        repeats=tuple(repeats),
        history=tuple(_sweep_in_heights(sweep, gain, problem.method) for sweep in problem.history),
        noise=_noise_in_heights(problem, abs(gain)),
    )


def _sweep_in_heights(sweep: Sweep, gain: Decimal, method: Method) -> Sweep:
    return replace(
        sweep,
        readings=tuple(_height(reading, gain, method) for reading in sweep.readings),
        closing=None if sweep.closing is None else sweep.closing * gain,
        opening=None if sweep.opening is None else sweep.opening * gain,
    )


def _height(reading: StationReading, gain: Decimal, method: Method) -> StationReading:
    upper = reading.value if reading.no_go is None else reading.no_go
    if method == "square" and not reading.value:
        # Not even the thinnest goes: it may be open that much at either end.
        return replace(reading, no_go=None, doubt=abs(upper) * abs(gain))
    middle = (reading.value + upper) * Decimal("0.5")
    half = abs(upper - reading.value) * Decimal("0.5")
    return replace(reading, value=middle * gain, no_go=None, doubt=half * abs(gain))


def _noise_in_heights(problem: Problem, size: Decimal) -> Noise:
    noise = problem.noise
    return replace(
        noise,
        surface=tuple(value * size for value in noise.surface),
        relock=tuple(value * size for value in noise.relock),
        lock_pull=None if noise.lock_pull is None else noise.lock_pull * size,
        reading_sd=None if noise.reading_sd is None else noise.reading_sd * size,
        indicator_limit=None if noise.indicator_limit is None else noise.indicator_limit * size,
        resolution=_step_read(problem) * size,
        gain_doubt=tip_doubt(problem.rig) if problem.method == "indicator" else 0.0,
    )


def _step_read(problem: Problem) -> Length:
    """The step in which was read; by leaves, that between one that goes and one that does not."""
    readings = [reading for sweep in problem.sweeps for reading in sweep.readings]
    widths = [
        float(abs(reading.no_go - reading.value).to(problem.unit))
        for reading in readings
        if reading.no_go is not None
    ]
    if widths:
        mean = sqrt(sum(width**2 for width in widths) / len(widths))
        return Length.of(repr(mean), problem.unit)
    if problem.noise.resolution is not None:
        return problem.noise.resolution
    values = [reading.value for reading in readings]
    return finest_step(values + [s.closing for s in problem.sweeps if s.closing is not None])
