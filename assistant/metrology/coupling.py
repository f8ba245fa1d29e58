"""When shimming also tips the table sideways, and tapping also nods it: both axes at once.

Belongs here: the 2 by 2 response of (front_minus_back, right_minus_left) to (shim, tap), learnt
from steps. Lengths are floats in one unit; a shim is positive above the bolt, a tap is the change
of height at the watched station.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Final

import numpy as np

from assistant.metrology.least_squares import Array, fit_linear

# A side effect is believed when it is twice its uncertainty.
_CLEAR: Final = 2.0


@dataclass(frozen=True, slots=True)
class Move:
    """What was done (shim added, tap) and what changed (two differences)."""

    shim: float
    tap: float
    front_minus_back: float
    right_minus_left: float


@dataclass(frozen=True, slots=True)
class Coupling:
    """change = matrix @ (shim, tap), rows front_minus_back and right_minus_left.

    ``uncertainty`` has the same shape.
    """

    matrix: tuple[tuple[float, float], tuple[float, float]]
    uncertainty: tuple[tuple[float, float], tuple[float, float]]

    @property
    def coupled(self) -> bool:
        """Whether a side effect stands out of its uncertainty."""
        return any(
            abs(self.matrix[row][1 - row]) > _CLEAR * self.uncertainty[row][1 - row]
            for row in (0, 1)
        )

    @property
    def shim_on_sides(self) -> float:
        """Change of right_minus_left for each unit of shim, zero unless the data show it."""
        return float(self.believed()[1, 0])

    @property
    def tap_on_front(self) -> float:
        """Change of front_minus_back for each unit of tap, zero unless the data show it."""
        return float(self.believed()[0, 1])

    def believed(self) -> Array:
        """The matrix without side effects that are not shown by the data."""
        kept = np.array(self.matrix)
        for row in (0, 1):
            if abs(kept[row, 1 - row]) <= _CLEAR * self.uncertainty[row][1 - row]:
                kept[row, 1 - row] = 0.0
        return kept


def uncoupled(response: float, u_response: float, pivot_over_radius: float = 0.0) -> Coupling:
    """What to believe before any step: the shim nods only, the tap turns about the pivot only.

    Side effects are expected to be none, give or take a quarter of the main ones (judgement).
    """
    turn = 2 / (1 - pivot_over_radius)
    return Coupling(
        matrix=((-response, 0.0), (0.0, turn)),
        uncertainty=((u_response, abs(turn) / 4), (abs(response) / 4, abs(turn) / 4)),
    )


def learn_coupling(prior: Coupling, moves: Sequence[Move], u_difference: float) -> Coupling:
    """The prior and all moves, weighted by their uncertainties.

    Each row minimises the squared misfit of its difference (u = sqrt 2 u_difference for a change)
    plus that of the prior. Moves are taken as independent.
    """
    if u_difference <= 0:
        raise ValueError("u_difference is not above zero; a reading is never exact")
    done = np.array([[move.shim, move.tap] for move in moves], dtype=np.float64).reshape(-1, 2)
    changes = np.array(
        [[move.front_minus_back, move.right_minus_left] for move in moves], dtype=np.float64
    ).reshape(-1, 2)
    u_change = sqrt(2) * u_difference
    rows, uncertainties = [], []
    for row in (0, 1):
        weight = 1 / np.array(prior.uncertainty[row])
        design = np.vstack([done / u_change, np.diag(weight)])
        seen = np.concatenate([changes[:, row] / u_change, weight * np.array(prior.matrix[row])])
        fit = fit_linear(design, seen)
        rows.append((float(fit.coefficients[0]), float(fit.coefficients[1])))
        sd = np.sqrt(np.diag(fit.covariance_factor))
        uncertainties.append((float(sd[0]), float(sd[1])))
    return Coupling((rows[0], rows[1]), (uncertainties[0], uncertainties[1]))
