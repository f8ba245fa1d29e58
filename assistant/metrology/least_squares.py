"""Linear least squares: the one place where observations become a fit.

Belongs here: the general solver. What is fitted (a plane, a response) lives beside its own subject.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

# A column that is a combination of the others to within this share of the largest singular value
# carries no information of its own: a fit would only amplify noise.
_SINGULAR = 1e-10


class FitError(ValueError):
    """The observations do not determine the fit; the message says what is missing."""


@dataclass(frozen=True, slots=True)
class LinearFit:
    """Coefficients b minimising sum((y - X b)^2).

    ``covariance_factor`` is (X'X)^-1, p by p: times the variance of one observation it is the
    covariance of the coefficients. ``residuals`` are y - X b. ``dof`` is n - p.
    """

    coefficients: Array
    covariance_factor: Array
    residuals: Array
    dof: int

    @property
    def residual_sd(self) -> float | None:
        """Standard deviation of one observation from the residuals; None without spare dof."""
        if self.dof == 0:
            return None
        return sqrt(float(self.residuals @ self.residuals) / self.dof)


def fit_linear(design: Array, observations: Array) -> LinearFit:
    """Least squares by singular values; columns are scaled first.

    ``design`` is n by p, ``observations`` has n values. Raises ``FitError`` for fewer rows than
    columns and for columns that depend on one another. Checked against NIST StRD, the harder
    sets among them.
    """
    rows, columns = design.shape
    if observations.shape != (rows,):
        raise FitError(f"{rows} rows of design but {observations.shape[0]} observations")
    if rows < columns:
        raise FitError(f"{columns} unknowns need {columns} observations at least, not {rows}")
    # Unit columns: predictors in very different sizes would lose digits otherwise.
    scale = np.linalg.norm(design, axis=0)
    if not np.all(scale > 0):
        raise FitError("a column of the design is all zero")
    left, singular, right_t = np.linalg.svd(design / scale, full_matrices=False)
    if singular[-1] <= _SINGULAR * singular[0]:
        raise FitError("the columns of the design depend on one another")
    coefficients = (right_t.T @ ((left.T @ observations) / singular)) / scale
    half = right_t.T / singular / scale[:, np.newaxis]
    return LinearFit(
        coefficients=coefficients,
        covariance_factor=half @ half.T,
        residuals=observations - design @ coefficients,
        dof=rows - columns,
    )
