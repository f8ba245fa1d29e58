"""What the tilt means at the work, in the words of whoever drills there.

Belongs here: the lean of a hole of the machine's usual depth. The numbers are in `lean`.
"""

from decimal import ROUND_UP, Decimal

from assistant.dialogue.formatting import rounded
from assistant.dialogue.machine import Profile
from assistant.dialogue.wording import leans, leans_under
from assistant.metrology.answer import Answer
from assistant.metrology.lean import Lean, lean_of
from assistant.metrology.lengths import Length
from grammar.numerals import number_words
from grammar.scale import Scale

STEP = Decimal("0.5")
"""Lean is spoken to half a count."""

DIRECTIONS = (
    "back", "back right", "right", "front right", "front", "front left", "left", "back left",
)  # fmt: skip


def hole_depth(profile: Profile) -> Length:
    """The depth that the profile tells, or a usual one: two inches, fifty millimetres."""
    if profile.hole_depth is not None:
        return profile.hole_depth
    inch = profile.scale.system == "thou"
    return Length.of(2, "in") if inch else Length.of(50, "mm")


def lean_here(answer: Answer, profile: Profile, counts: float | None = None) -> Lean:
    """The lean of a hole there by the answer's tilt, or by a tilt of so many counts."""
    tilt = answer.tilt if counts is None else counts
    count_mm = float(profile.scale.count_mm)
    return lean_of(
        tilt * count_mm, profile.sweep_diameter, hole_depth(profile), answer.high_bearing_deg
    )


def lean_words(answer: Answer | None, profile: Profile) -> str:
    """One short line; nothing without an answer."""
    if answer is None:
        return ""
    depth = _depth_words(profile)
    count_mm = float(profile.scale.count_mm)
    lean = lean_here(answer, profile)
    size = rounded(lean.exit_offset_mm / count_mm, STEP)
    if answer.inside_noise or size == 0 or lean.towards_deg is None:
        most = answer.tilt + answer.expanded_uncertainty if answer.inside_noise else answer.tilt
        offset = Decimal(str(lean_here(answer, profile, most).exit_offset_mm / count_mm))
        steps = max((offset / STEP).to_integral_value(ROUND_UP), Decimal(1))
        return leans_under(depth, _amount_words(steps * STEP, profile.scale))
    towards = DIRECTIONS[round(lean.towards_deg / 45) % 8]
    return leans(depth, _amount_words(size, profile.scale), towards)


def _depth_words(profile: Profile) -> str:
    depth = hole_depth(profile)
    if profile.scale.system == "thou":
        return f"{number_words(round(depth.to('in'), 2))} inch"
    return f"{number_words(round(depth.to('mm'), 1))} millimetre"


def _amount_words(counts: Decimal, scale: Scale) -> str:
    one, many = ("thou", "thou") if scale.system == "thou" else ("hundredth", "hundredths")
    if counts == Decimal("0.5"):
        return f"half a {one}"
    return f"{number_words(counts.normalize() + 0)} {one if counts == 1 else many}"
