"""A single quantity against its limits, by the integral that a tilt is judged with.

The published examples of JCGM 106 have one quantity. In a half disc so large that its edge is
straight, one of the two differences is such a quantity and the other may be anything: so the
examples check the very integral that decides on tables.
"""

from math import inf, isinf

from assistant.metrology.conformance import HalfDisc, region_probability


def probability_between(
    value: float, u: float, low: float = -inf, high: float = inf, dof: float = inf
) -> float:
    """Probability that what was measured as ``value`` lies between the limits. JCGM 106, 7."""
    return _above(low, value, u, dof) - _above(high, value, u, dof)


def _above(limit: float, value: float, u: float, dof: float) -> float:
    if isinf(limit):
        return float(limit < 0)
    half_plane = HalfDisc(1e6 * u, "high")
    return region_probability(half_plane, value - limit, 0.0, ((u * u, 0.0), (0.0, u * u)), dof)
