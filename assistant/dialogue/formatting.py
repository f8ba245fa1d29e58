"""Computed values and sizes as they are spoken: rounded first, then said exactly."""

from decimal import ROUND_HALF_UP, Decimal

from assistant.dialogue.machine import Profile
from assistant.dialogue.methods import way_of
from assistant.metrology.lengths import Length
from grammar.numerals import number_words
from grammar.scale import Scale


def amount(value: float | Decimal, step: Decimal) -> str:
    """A computed value without sign, rounded to the step that is spoken."""
    return number_words(abs(rounded(value, step)))


def rounded(value: float | Decimal, step: Decimal) -> Decimal:
    """Round half up to a multiple of the step; exact afterwards.

    >>> rounded(3.26, Decimal("0.5"))
    Decimal('3.5')
    """
    steps = (Decimal(str(value)) / step).quantize(Decimal(1), rounding=ROUND_HALF_UP)
    return (steps * step).normalize() + 0


SPOKEN_STEP = Decimal("0.5")
"""Computed values are spoken to half a count: finer is not in a called reading."""

COARSEST_SHARE = 4
"""A tolerance of fewer such steps wants a finer one: a quarter of it is still told."""


def spoken_step(profile: Profile) -> Decimal:
    """To what computed values are spoken: half a count, or as the dial where that is too coarse."""
    if tolerance_counts(profile) < COARSEST_SHARE * float(SPOKEN_STEP):
        return min(SPOKEN_STEP, profile.scale.step)
    return SPOKEN_STEP


def count_name(scale: Scale) -> str:
    """What a bare number counts, as it is spoken."""
    return "thou" if scale.system == "thou" else "hundredths"


def size_words(size: Length, scale: Scale) -> str:
    """A size of the set-up, as it is spoken."""
    if scale.system == "thou":
        return f"{number_words(round(size.to('in'), 2))} inches"
    return f"{number_words(round(size.to('mm'), 2))} millimetres"


def tolerance_here(profile: Profile) -> Length:
    """The tolerance over the sweep diameter, exact or to nine decimals of a millimetre."""
    if profile.tolerance_over is None:
        return profile.tolerance
    ratio = profile.sweep_diameter / profile.tolerance_over
    return Length(round(profile.tolerance.mm * ratio, 9))


def tolerance_counts(profile: Profile) -> float:
    """The tolerance over the sweep diameter in counts of the scale."""
    return float(tolerance_here(profile).mm / profile.scale.count_mm)


def tolerance_words(profile: Profile) -> str:
    """The tolerance as it is spoken."""
    counts = round(tolerance_here(profile).mm / profile.scale.count_mm, 2)
    return f"{number_words(counts)} {count_name(profile.scale)}"


def signed_digits(value: Decimal) -> str:
    """A value in digits with its sign; zero has none.

    >>> signed_digits(Decimal("6.50")), signed_digits(Decimal("-2")), signed_digits(Decimal("0.0"))
    ('+6.5', '-2', '0')
    """
    if value == 0:
        return "0"
    plain = f"{abs(value):f}"
    if "." in plain:
        plain = plain.rstrip("0").rstrip(".")
    return f"{'-' if value < 0 else '+'}{plain}"


def digits(value: Decimal, profile: Profile) -> str:
    """A reading in digits, as this method has it: a gap has no sign."""
    return signed_digits(value).lstrip("+") if way_of(profile) == "plain" else signed_digits(value)
