"""Every problem has an answer that is plain, finite JSON."""

import json
from decimal import Decimal

from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.metrology.lengths import Length
from assistant.metrology.problem import (
    Noise,
    Problem,
    ProblemError,
    Shimming,
    StationReading,
    Sweep,
    TapTrial,
    Trial,
)
from assistant.metrology.solve import solve

small = st.decimals(-40, 40, places=1).map(lambda d: Length.of(d, "thou"))
wild = st.one_of(
    small,
    st.decimals(-(10**9), 10**9, places=3).map(Length),
    st.sampled_from(["0", "0.000000001", "-0.000000001"]).map(lambda t: Length(Decimal(t))),
)
sizes = wild.map(abs)
positive = sizes.filter(bool)


def some(values: st.SearchStrategy[Length]) -> st.SearchStrategy[Length | None]:
    return st.none() | values


sweeps = st.lists(wild, min_size=4, max_size=4).map(
    lambda values: tuple(StationReading(Decimal(90 * k), value) for k, value in enumerate(values))
)
problems = st.fixed_dictionaries(
    {
        "unit": st.sampled_from(["thou", "mm", "um", "hundredth"]),
        "readings": sweeps,
        "closing": some(wild),
        "sweep_diameter": positive,
        "pivot_offset": wild,
        "tolerance": some(positive),
        "tolerance_over": some(positive),
        "front_may_be": st.sampled_from(["either", "high", "low"]),
        "shim": st.builds(
            Shimming,
            span=some(positive),
            stock=st.lists(positive, max_size=4).map(tuple),
            max_leaves=st.integers(1, 4),
            trials=st.lists(st.builds(Trial, total=sizes, before=wild, after=wild), max_size=3).map(
                tuple
            ),
            fitted=some(wild),
        ),
        "noise": st.builds(
            Noise,
            surface=st.lists(wild, min_size=2, max_size=4).map(tuple) | st.just(()),
            relock=st.lists(wild, min_size=2, max_size=4).map(tuple) | st.just(()),
            resolution=some(positive),
            lock_pull=some(sizes),
            indicator_limit=some(sizes),
            reading_sd=some(sizes),
            relock_sd=some(sizes),
        ),
        "repeats": st.lists(
            st.builds(Sweep, readings=sweeps, closing=some(wild), refitted=st.booleans()),
            max_size=3,
        ).map(tuple),
        "relocked": st.booleans(),
        "taps": st.lists(st.builds(TapTrial, change=wild, before=wild, after=wild), max_size=2).map(
            tuple
        ),
    }
)


@settings(max_examples=120, deadline=None)
@given(problems)
def test_every_problem_has_a_finite_answer(fields: dict[str, object]) -> None:
    try:
        problem = Problem(**fields)  # type: ignore[arg-type]
    except ProblemError:
        return
    table = solve(problem).as_json()
    assert json.loads(json.dumps(table, allow_nan=False)) == table
    assert isinstance(table["expanded_uncertainty"], float)
    assert table["expanded_uncertainty"] > 0
    probability = table["conformance_probability"]
    assert probability is None or (isinstance(probability, float) and 0 <= probability <= 1)
