"""The answer of ``solve``, and its JSON form.

Belongs here: plain data. All lengths are floats in the job's unit unless the name says otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isinf
from typing import Final

from assistant.metrology.budget import SweepBudget
from assistant.metrology.conformance import Verdict
from assistant.metrology.coupling import Coupling
from assistant.metrology.f_distribution import ellipse_factor
from assistant.metrology.judgement import Judgement
from assistant.metrology.lengths import MM_PER, Unit
from assistant.metrology.shims import ShimPlan
from assistant.metrology.tap import TapPlan

Json = None | bool | int | float | str | list["Json"] | dict[str, "Json"]


@dataclass(frozen=True, slots=True)
class Notice:
    """Something the person should know: a stable code for programs, a line for print."""

    code: str
    text: str


@dataclass(frozen=True, slots=True)
class Answer:
    """What one sweep says.

    Differences are heights over the diameter: positive front high, positive right high. ``mean``
    and ``drift`` are as called (by gauges: gaps), ``saddle`` is of heights. ``mean`` is that of the
    plane at the spindle axis. With repeats these and ``residuals`` are of the main sweep, the rest
    is of all. ``standard_uncertainty`` and what follows from it are of the tilt, over the diameter,
    at 95 %: along the tilt where it stands out, all round where it is inside the noise, since there
    its direction is chance, too. ``axial_slip`` is what the spindle adds to both differences once a
    turn, known after a refit. ``coupling`` is what shim and tap do to both axes; None where nothing
    was solved. ``tilt_to_slope``: rise per run for one unit of tilt, None without a diameter.
    ``stayed``: probability that the spots last told to be moved on stayed where they were.
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
    tap: TapPlan
    budget: SweepBudget
    judgement: Judgement
    warnings: tuple[Notice, ...] = ()
    axial_slip: tuple[float, float] | None = None
    coupling: Coupling | None = None
    tilt_to_slope: float | None = None
    stayed: float = 0.0

    @property
    def standard_uncertainty(self) -> float:
        """Combined standard uncertainty of the tilt."""
        return self.budget.tilt.u

    @property
    def expanded_uncertainty(self) -> float:
        """Half width of the 95 % interval of the tilt."""
        return self.coverage_factor * self.standard_uncertainty

    @property
    def coverage_factor(self) -> float:
        """Expanded over standard uncertainty: t at 95 %, that of an ellipse inside the noise."""
        if self.inside_noise:
            return ellipse_factor(self.degrees_of_freedom)
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
        """Whether a level table may read like this, ``Judgement.inside_noise``."""
        return self.judgement.inside_noise

    def as_json(self, unit: Unit | None = None) -> dict[str, Json]:
        """Plain data for ``json.dumps``: lengths in the job's unit or in ``unit``, infinite as
        null."""
        row = self._raw()
        if unit is not None and unit != self.unit:
            times = float(MM_PER[self.unit] / MM_PER[unit])
            row = {key: _times(key, value, times) for key, value in row.items()}
            row["unit"] = unit
        return _tidy(row)

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
                    "origin": component.origin,
                }
                for component in self.budget.tilt.components
            ],
        }


_LENGTHS: Final = (
    "front_minus_back", "right_minus_left", "tilt", "mean", "saddle", "drift",
    "standard_uncertainty", "expanded_uncertainty", "guard_band", "accept_up_to", "reject_from",
    "axial_slip", "total", "add", "leaves", "next_leaves", "expected_left", "left_uncertainty",
    "change", "dial_target",
)  # fmt: skip
"""Keys of the JSON form whose values are lengths in its unit."""


def _times(key: str, value: Json, times: float) -> Json:
    match value:
        case dict():
            return {name: _times(name, part, times) for name, part in value.items()}
        case list():
            return [_times(key, part, times) for part in value]
        case int() | float() if key in _LENGTHS and not isinstance(value, bool):
            return value * times
        case _:
            return value


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
