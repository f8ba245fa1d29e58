"""The warnings of an answer: when each is due, and its line of print.

Belongs here: every ``Notice`` there is. A code is stable; a text is one line that says what to do.
"""

from __future__ import annotations

from math import hypot
from typing import assert_never

from assistant.metrology.agreement import Agreement
from assistant.metrology.answer import Notice
from assistant.metrology.budget import SweepBudget
from assistant.metrology.consistency import SweepLimits
from assistant.metrology.coupling import Coupling
from assistant.metrology.judgement import Judgement
from assistant.metrology.lengths import Unit
from assistant.metrology.plane import Plane
from assistant.metrology.problem import Shimming
from assistant.metrology.shims import ShimPlan
from assistant.metrology.tap import needed_change
from assistant.metrology.trial_check import StepOutcome


def about_drift(drift: float | None, bounds: SweepLimits, unit: Unit) -> Notice | None:
    """The dial did not return to where it began."""
    if drift is None or abs(drift) <= bounds.drift:
        return None
    if abs(drift) > bounds.drift_refused:
        return Notice(
            "drift_refused",
            f"the first station came back {drift:+.3g} {unit}: something moved; "
            "check the clamps and sweep again",
        )
    return Notice(
        "drift", f"the dial drifted {drift:+.3g} {unit} in the sweep; an even drift was taken out"
    )


def about_saddle(saddle: float | None, bounds: SweepLimits, unit: Unit) -> Notice | None:
    """Four readings that make no plane."""
    if saddle is None or abs(saddle) <= bounds.saddle:
        return None
    return Notice(
        "saddle",
        f"the stations miss a plane by {abs(float(saddle)):.3g} {unit}: "
        "call them again, or the table is not flat",
    )


def about_residuals(off_plane: bool, plane: Plane, unit: Unit) -> Notice | None:
    """Other than four stations at right angles: one far from the plane of the rest."""
    if not off_plane:
        return None
    worst = max(abs(residual) for residual in plane.residuals)
    return Notice(
        "residual", f"one station is {worst:.3g} {unit} off the plane of the others: call it again"
    )


def about_slip(slip: tuple[float, float] | None, budget: SweepBudget, unit: Unit) -> Notice | None:
    """The spindle moves up and down once a turn by more than the noise."""
    if slip is None or hypot(*slip) <= budget.tilt.expanded():
        return None
    return Notice(
        "axial_slip",
        f"the spindle itself adds {hypot(*slip):.3g} {unit} once a turn; "
        "average both fittings of the indicator, always",
    )


def about_repeats(how: Agreement | None) -> Notice | None:
    """Sweeps of one table that do not agree."""
    match how:
        case None | "alike":
            return None
        case "sides_exchanged":
            text = "a repeat has right and left exchanged: which is right? sweep again"
        case "ends_exchanged":
            text = "a repeat has back and front exchanged: which is right? sweep again"
        case "reversed":
            text = "a repeat has all signs the other way: which is right? sweep again"
        case "apart":
            text = "the repeats differ by more than their noise: something moved; sweep again"
        case _:
            assert_never(how)
    return Notice("repeats_apart" if how == "apart" else how, text)


def about_noise(budget: SweepBudget) -> Notice | None:
    """The uncertainty rests on a guess."""
    guessed = [c.source.replace("_", " ") for c in budget.tilt.components if c.assumed and c.u > 0]
    if not guessed:
        return None
    return Notice(
        "noise_assumed",
        f"noise guessed ({', '.join(guessed)}): read eight spots in a row, an eighth of the sweep "
        "apart, and give noise.surface and noise.surface_apart",
    )


def about_proof(judgement: Judgement, budget: SweepBudget, unit: Unit) -> Notice | None:
    """A tolerance that this uncertainty can never prove."""
    unprovable = judgement.guard_band is not None and judgement.reject_from is not None
    if not unprovable or judgement.accept_up_to is not None:
        return None
    largest = budget.tilt.largest
    source = "noise" if largest is None else largest.source.replace("_", " ")
    return Notice(
        "unprovable",
        f"plus or minus {budget.tilt.expanded():.3g} {unit} cannot prove this tolerance: "
        f"most of it is {source}; sweep again and average, or settle it first",
    )


def about_pivot(pivot: float) -> Notice | None:
    """Hardly anything moves at the right station."""
    if abs(needed_change(1.0, pivot)) >= 1 / 8:
        return None
    return Notice(
        "pivot", "the table pivots almost under the right station: watch the left one instead"
    )


def about_trial(outcome: StepOutcome | None) -> Notice | None:
    """The last trial did not do what a shim does."""
    match outcome:
        case "none":
            return Notice(
                "no_response",
                "the last trial changed nothing: check the clamping first, "
                "that the shim sits under the bolt and that the bolt is tight",
            )
        case "wrong_way":
            return Notice(
                "wrong_way",
                "the last trial moved the front the wrong way: check above or below, "
                "and whether anything else moved",
            )
        case "too_small":
            return Notice(
                "small_trial",
                "the last trial was too small to show in this noise: use a thicker leaf",
            )
        case "as_expected" | "less" | "more" | None:
            return None
        case _:
            assert_never(outcome)


def about_coupling(coupling: Coupling) -> Notice | None:
    """Shim or tap move the other axis, too."""
    shim, tap = coupling.shim_on_sides, coupling.tap_on_front
    told = []
    if shim:
        side = "right" if shim > 0 else "left"
        told.append(f"a shim above the bolt also raises the {side} {abs(shim):.2g} times itself")
    if tap:
        end = "front" if tap > 0 else "back"
        told.append(f"a tap up also raises the {end} {abs(tap):.2g} times itself")
    if not told:
        return None
    return Notice("coupled", f"{'; '.join(told)}: shim first, tap last")


def about_shim(plan: ShimPlan, front_minus_back: float, shim: Shimming, unit: Unit) -> list[Notice]:
    """A shim that cannot be worked out, or leaves too coarse for what is left."""
    found = []
    if plan.total is None:
        found.append(
            Notice(
                "no_total",
                "no shim can be worked out: by the trials a shim moves the front the wrong way; "
                "check where it sits",
            )
        )
    if plan.too_coarse and plan.step_moves is not None:
        found.append(
            Notice(
                "coarse_stock",
                f"the smallest step of the leaves moves the reading {plan.step_moves:.2g} {unit}, "
                # Both are rounded, and may look alike.
                f"no less than the {abs(front_minus_back):.2g} that is there; "
                "stop, or use a thinner leaf",
            )
        )
    if not shim.stock and (shim.span or shim.trials) and plan.total:
        found.append(Notice("no_stock", "no leaves are listed; give shim.stock to get a stack"))
    return found
