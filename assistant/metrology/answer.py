"""The answer of `solve`, and its JSON form.

Belongs here: plain data. All lengths are floats in the job's unit unless the name says otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isinf

from assistant.metrology.budget import SweepBudget
from assistant.metrology.conformance import Verdict
from assistant.metrology.coupling import Coupling
from assistant.metrology.judgement import Judgement
from assistant.metrology.lengths import Unit
from assistant.metrology.shims import ShimPlan
from assistant.metrology.tap import Tap

Json = None | bool | int | float | str | list["Json"] | dict[str, "Json"]


@dataclass(frozen=True, slots=True)
class Notice:
    """Something the person should know: a stable code for programs, a line for print."""

    code: str
    text: str


@dataclass(frozen=True, slots=True)
class Answer:
    """What one sweep says.

    Differences are heights over the diameter: positive front high, positive right high. `mean` and
    `drift` are as called (by gauges: gaps), `saddle` is of heights. `mean` is that of the plane at
    the spindle axis. With repeats these and `residuals` are of the main sweep, the rest is of all.
    `standard_uncertainty` and what follows from it are of the tilt, over the diameter, at 95 %.
    `axial_slip` is what the spindle adds to both differences once a turn, known after a refit.
    `coupling` is what shim and tap do to both axes; None where nothing was solved.
    """

    unit: Unit
    front_minus_back: float
    right_minus_left: float
    tilt: float
    high_bearing_deg: float | None
    mean: float
    saddle: float | None
    drift: float | None
    angle_arcsec: float | None
    mm_per_300mm: float | None
    thou_per_foot: float | None
    residuals: tuple[float, ...]
    shim: ShimPlan
    tap: Tap
    budget: SweepBudget
    judgement: Judgement
    warnings: tuple[Notice, ...] = ()
    axial_slip: tuple[float, float] | None = None
    coupling: Coupling | None = None

    @property
    def standard_uncertainty(self) -> float:
        """Combined standard uncertainty of the tilt."""
        return self.budget.tilt.u

    @property
    def expanded_uncertainty(self) -> float:
        """Half width of the 95 % interval of the tilt."""
        return self.budget.tilt.expanded()

    @property
    def coverage_factor(self) -> float:
        """Expanded over standard uncertainty: t at 95 %."""
        return self.budget.tilt.factor()

    @property
    def degrees_of_freedom(self) -> float:
        """Effective degrees of freedom; may be infinite."""
        return self.budget.tilt.dof

    @property
    def verdict(self) -> Verdict | None:
        """None without a tolerance."""
        return self.judgement.verdict

    @property
    def inside_noise(self) -> bool:
        """Whether the tilt is no larger than its expanded uncertainty."""
        return self.judgement.inside_noise

    def as_json(self) -> dict[str, Json]:
        """Plain data for `json.dumps`: lengths in the job's unit, infinite as null."""
        return _tidy(self._raw())

    def _raw(self) -> dict[str, Json]:
        return {
            "unit": self.unit,
            "front_minus_back": self.front_minus_back,
            "right_minus_left": self.right_minus_left,
            "tilt": self.tilt,
            "high_bearing_deg": self.high_bearing_deg,
            "mean": self.mean,
            "saddle": self.saddle,
            "drift": self.drift,
            "angle_arcsec": self.angle_arcsec,
            "mm_per_300mm": self.mm_per_300mm,
            "thou_per_foot": self.thou_per_foot,
            "standard_uncertainty": self.standard_uncertainty,
            "expanded_uncertainty": self.expanded_uncertainty,
            "coverage_factor": self.coverage_factor,
            "degrees_of_freedom": _finite(self.degrees_of_freedom),
            "verdict": self.verdict,
            "inside_noise": self.inside_noise,
            "shim": {
                "place": self.shim.place,
                "response": self.shim.response.value,
                "response_uncertainty": self.shim.response.uncertainty,
                "total": self.shim.total,
                "add": self.shim.add,
                "leaves": [float(leaf) for leaf in self.shim.leaves],
                "expected_left": self.shim.expected_left,
                "left_uncertainty": self.shim.left_uncertainty,
                "next_leaves": [float(leaf) for leaf in self.shim.next_leaves],
            },
            "tap": {
                "watch": self.tap.watch,
                "change": self.tap.change,
                "dial_target": self.tap.dial_target,
            },
            "warnings": [warning.text for warning in self.warnings],
            "conformance_probability": self.judgement.probability,
            "guard_band": self.judgement.guard_band,
            "accept_up_to": self.judgement.accept_up_to,
            "reject_from": self.judgement.reject_from,
            "worth_chasing": {
                "front_to_back": self.judgement.front_matters,
                "side_to_side": self.judgement.side_matters,
            },
            "axial_slip": None if self.axial_slip is None else list(self.axial_slip),
            "side_effects": {
                "shim_on_sides": self.coupling.shim_on_sides if self.coupling else 0.0,
                "tap_on_front": self.coupling.tap_on_front if self.coupling else 0.0,
            },
            "budget": [
                {
                    "source": component.source,
                    "standard_uncertainty": component.u,
                    "degrees_of_freedom": _finite(component.dof),
                    "share": self.budget.tilt.share(component),
                    "assumed": component.assumed,
                }
                for component in self.budget.tilt.components
            ],
        }


def _finite(value: float) -> float | None:
    return None if isinf(value) else value


def _tidy(table: dict[str, Json]) -> dict[str, Json]:
    return {key: _tidied(value) for key, value in table.items()}


def _tidied(value: Json) -> Json:
    match value:
        case float():
            # The solver's last digits are noise, and would print six thou as 5.999999999999997.
            return float(f"{value:.12g}") + 0.0
        case list():
            return [_tidied(item) for item in value]
        case dict():
            return _tidy(value)
        case _:
            return value
