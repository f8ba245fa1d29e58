"""The table's form: tilt told apart from dish and warp, by more than four readings.

Belongs here: surfaces beyond the plane. Lengths are floats in one unit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Literal

import numpy as np

from assistant.metrology.least_squares import Array, FitError, fit_linear

FormTerm = Literal["dish", "saddle", "twist"]


@dataclass(frozen=True, slots=True)
class Spot:
    """One reading anywhere on the table: bearing, distance from the spindle axis, height."""

    bearing_deg: float
    radius: float
    height: float


@dataclass(frozen=True, slots=True)
class FormDeviation:
    """Tilt and form over the largest radius swept.

    The differences are over its diameter. ``dish``: height of the rim over the middle (positive:
    hollow). ``saddle``: front and back over right and left, ``twist``: the same 45 degrees round
    clockwise. A term that these spots cannot show is None. ``u`` is the standard uncertainty of
    each term by the residuals, None without spare readings; ``residual_sd`` likewise.
    """

    front_minus_back: float
    right_minus_left: float
    dish: float | None
    saddle: float | None
    twist: float | None
    residual_sd: float | None
    u: dict[FormTerm, float]

    def stands_out(self, term: FormTerm) -> bool:
        """Whether a term is more than twice its uncertainty."""
        value = {"dish": self.dish, "saddle": self.saddle, "twist": self.twist}[term]
        return value is not None and term in self.u and abs(value) > 2 * self.u[term]


def fit_form(spots: Sequence[Spot]) -> FormDeviation:
    """The surface mean + tilt + dish r^2 + saddle r^2 cos 2b + twist r^2 sin 2b, least squares.

    Dish needs two radii (or the middle), warp needs more than four bearings or two radii's worth;
    terms are taken in that order while the spots determine them. Raises ``FitError`` when they do
    not even determine a plane.
    """
    reach = max((spot.radius for spot in spots), default=0.0)
    if reach <= 0:
        raise FitError("all spots lie on the axis; read round the table")
    r = np.array([spot.radius for spot in spots], dtype=np.float64) / reach
    b = np.radians(np.array([spot.bearing_deg for spot in spots], dtype=np.float64))
    columns: dict[str, Array] = {
        "mean": np.ones_like(r),
        "right": r * np.sin(b),
        "back": r * np.cos(b),
    }
    for term, column in (
        ("dish", r * r),
        ("saddle", r * r * np.cos(2 * b)),
        ("twist", r * r * np.sin(2 * b)),
    ):
        if _is_new(list(columns.values()), column):
            columns[term] = column
    heights = np.array([spot.height for spot in spots], dtype=np.float64)
    fit = fit_linear(np.column_stack(list(columns.values())), heights)
    found = dict(zip(columns, (float(value) for value in fit.coefficients), strict=True))
    spread = fit.residual_sd
    places = list(columns)
    terms: tuple[FormTerm, ...] = ("dish", "saddle", "twist")
    u = {
        term: spread * sqrt(float(fit.covariance_factor[places.index(term), places.index(term)]))
        for term in terms
        if spread is not None and term in columns
    }
    # cos 2b is +1 at front and back and -1 at right and left: two and two make four.
    return FormDeviation(
        front_minus_back=-2 * found["back"],
        right_minus_left=2 * found["right"],
        dish=found.get("dish"),
        saddle=_times(4, found.get("saddle")),
        twist=_times(4, found.get("twist")),
        residual_sd=spread,
        u={term: value * (1 if term == "dish" else 4) for term, value in u.items()},
    )


def _is_new(columns: list[Array], column: Array) -> bool:
    """Whether a column is determined beside the others."""
    table = np.column_stack([*columns, column])
    singular = np.linalg.svd(table, compute_uv=False)
    return table.shape[0] >= table.shape[1] and bool(singular[-1] > 1e-6 * singular[0])


def _times(factor: float, value: float | None) -> float | None:
    return None if value is None else factor * value
