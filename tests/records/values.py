"""Values of any event, for property tests: strategies from the type hints themselves."""

from decimal import Decimal
from typing import Any

from hypothesis import strategies as st

from assistant.dialogue.messages import Event
from grammar.scale import STEPS, Scale

st.register_type_strategy(
    Decimal, st.decimals(allow_nan=False, allow_infinity=False, min_value=-(10**9), max_value=10**9)
)
st.register_type_strategy(float, st.floats(allow_nan=False, allow_infinity=False))
st.register_type_strategy(
    Scale,
    st.builds(Scale, st.sampled_from(["thou", "mm"]), st.integers(1, 999), st.sampled_from(STEPS)),
)


def any_of(wanted: Any) -> st.SearchStrategy[Any]:
    """Any value of a class or of a union of classes."""
    return st.from_type(wanted)


any_event: st.SearchStrategy[Event] = any_of(Event)
