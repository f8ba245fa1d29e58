"""The answer of a sweep in words: tilt, axes, uncertainty, and how a correction went."""

from assistant.dialogue.formatting import amount, rounded, spoken_step
from assistant.dialogue.machine import Profile
from assistant.dialogue.state import FRONT_BACK, SIDES
from assistant.dialogue.wording import (
    AS_EXPECTED,
    BOTH_INSIDE_NOISE,
    INSIDE_NOISE,
    axis_inside_noise,
    high_side,
    not_as_expected,
    plus_or_minus,
)
from assistant.metrology.answer import Answer
from assistant.metrology.judgement import as_expected, stands_out
from assistant.metrology.uncertainty import Budget, Source
from grammar.vocabulary import Station

SOURCES: dict[Source, str] = {
    "surface": "a rough table",
    "resolution": "the dial",
    "relock": "the lock",
    "lock_pull": "the lock",
    "indicator": "the dial",
    "drift": "drift",
    "form": "the table's form",
    "response": "the shim",
    "leaves": "the leaves",
    "gauge": "the gauges",
    "sweeps": "sweep to sweep",
    "end_play": "end play",
    "reading": "reading the dial",
    "station": "where the stations are read",
    "lever": "the lever",
}
"""The sources of a budget as they are spoken of."""


def tilt_words(answer: Answer | None, profile: Profile) -> str:
    """The tilt of an answer as it is spoken, never called zero; nothing without an answer."""
    if answer is None:
        return ""
    if answer.inside_noise:
        return INSIDE_NOISE
    return amount(answer.tilt, spoken_step(profile))


def axes_words(answer: Answer, profile: Profile, *, briefly: bool = False) -> str:
    """Both axes in words, what stands out first; the rest is said so, never called zero.

    ``briefly``: of an axis inside the noise nothing is said while the other stands out of it.
    """
    budget = answer.budget
    axes: tuple[tuple[float, Budget, Station, Station, str], ...] = (
        (answer.front_minus_back, budget.front_minus_back, "front", "back", FRONT_BACK),
        (answer.right_minus_left, budget.right_minus_left, "right", "left", SIDES),
    )
    if not any(stands_out(value, part) for value, part, *_ in axes):
        return BOTH_INSIDE_NOISE
    out, inside = [], []
    for value, part, positive, negative, axis in axes:
        if stands_out(value, part):
            high = positive if value > 0 else negative
            out.append(high_side(high, amount(value, spoken_step(profile))))
        elif not briefly:
            inside.append(axis_inside_noise(axis))
    return " ".join([*out, *inside])


def uncertainty_words(answer: Answer, profile: Profile, *, briefly: bool = False) -> str:
    """The uncertainty in one breath, with its source when one makes up most of it."""
    budget = answer.budget.tilt
    most = max(budget.components, key=lambda part: part.u)
    source = SOURCES[most.source] if budget.share(most) > 0.5 and not briefly else ""
    return plus_or_minus(amount(answer.expanded_uncertainty, spoken_step(profile)), source)


def lesson_words(expected: float, got: float, u: float, profile: Profile) -> str:
    """How a correction went; ``u``: standard uncertainty of what is read less what was forecast."""
    if as_expected(got, expected, 0.0, u):
        return AS_EXPECTED
    step = spoken_step(profile)
    return not_as_expected(rounded(expected, step), rounded(got, step))
