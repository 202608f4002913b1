"""Least squares with errors that hang together within units, and honest intervals for any combination of parameters.

Covariance of the jackknife over units ("CR3"; with units of one row the HC3 of J. G. MacKinnon and H. White, Journal of
Econometrics 29, 305, 1985) with degrees of freedom for each combination: R. M. Bell and D. F. McCaffrey, Survey
Methodology 28(2), 169 (2002). The milder "CR2" covered a little too seldom in simulated rides. Errors in the regressor:
with x replaced by its adjusted value in the design the estimating equations are those of York (2004), so a line fitted
here is that of York.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.errors import UndecidableError
from gearfit.fitting.ratios.quantiles import estimate
from gearfit.records.results import Estimate

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: With fewer units than this the scatter between them is not asked for a covariance: stated errors, widened.
FEWEST_UNITS = 4
#: A unit on which a parameter rests alone is not lifted beyond this.
_LEAST_REST = 1e-3
#: Degrees of freedom credited to errors that were stated and not found from scatter.
STATED_DOF = 60.0
#: Condition of a matrix of information, each parameter in units of its own, from which the readings do not tell the
#: parameters apart: six of the sixteen digits are left, and no variance turns negative.
_MOST_CONDITION: Final = 1e10


@dataclass(frozen=True, eq=False)
class Solution:
    """Parameters with what their uncertainty is made of.

    Attributes
    ----------
    parameters : (p,) float
        Best values.
    covariance : (p, p) float
        Of the parameters.
    dof : float
        Degrees of freedom where `parts` is None.
    parts : tuple of arrays or None
        What `clustered` returns after the covariance; None where the covariance comes from stated errors.
    """

    parameters: FloatArray
    covariance: FloatArray
    dof: float
    parts: tuple[FloatArray, FloatArray, FloatArray] | None

    def at(self, combination: FloatArray, extra_variance: float = 0.0) -> Estimate:
        """Estimate a linear combination of the parameters; `extra_variance` is of errors that do not average out."""
        value = float(combination @ self.parameters)
        variance = max(float(combination @ self.covariance @ combination), 0.0)
        return estimate(value, float(np.sqrt(variance + extra_variance)), self.dof_of(combination))

    def dof_of(self, combination: FloatArray) -> float:
        """Degrees of freedom (Satterthwaite) of a combination."""
        if self.parts is None:
            return self.dof
        whitened, reduced, spread = self.parts
        own = whitened @ combination
        crossed = reduced @ combination
        gram = -crossed @ spread @ crossed.T
        gram[np.diag_indices_from(gram)] += np.sum(own**2, axis=1)
        return float(np.trace(gram) ** 2 / np.sum(gram**2))


def solve(design: FloatArray, instrument: FloatArray, y: FloatArray, weight: FloatArray) -> FloatArray:
    """Solve the estimating equations sum w z (y - c theta) = 0; UndecidableError as in `solve_told`."""
    return solve_told(instrument.T @ (weight[:, None] * design), instrument.T @ (weight * y))


def solve_told(information: FloatArray, right: FloatArray) -> FloatArray:
    """Solve a system where the readings tell its parameters apart.

    Parameters
    ----------
    information : (p, p) float
        Matrix of the system.
    right : (p,) or (p, q) float
        Right-hand sides.

    Raises
    ------
    UndecidableError
        The readings do not tell the parameters apart: some of their combinations they hardly bear upon.
    """
    own = np.abs(np.diagonal(information))
    if np.isfinite(information).all() and (own > 0).all():
        scale = 1 / np.sqrt(own)
        scaled = scale[:, None] * information * scale
        if np.linalg.cond(scaled) <= _MOST_CONDITION:
            solved: FloatArray = (scale * np.linalg.solve(scaled, (scale * right.T).T).T).T
            return solved
    raise UndecidableError("the readings are too much alike to tell gain from offset: note more speeds, further apart")


def inverse_told(information: FloatArray) -> FloatArray:
    """Inverse of a symmetric matrix of information; UndecidableError as in `solve_told`."""
    inverse = solve_told(information, np.eye(len(information)))
    return (inverse + inverse.T) / 2


def clustered(
    design: FloatArray, residual: FloatArray, weight: FloatArray, unit: IntArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return CR3 covariance and, for each unit, what the degrees of freedom need.

    Parameters
    ----------
    design : (n, p) float
        Regressors, x at its adjusted values.
    residual, weight : (n,) float
        Residuals and weights (inverse variances).
    unit : (n,) int
        Unit of each row.

    Returns
    -------
    covariance : (p, p)
    whitened : (U, p, p)
        R_s with R_s' R_s = M X_s' A_s A_s X_s M with A_s = (1 - H_ss)^-1, so |R_s c| is the length of A_s X_s M c.
    reduced : (U, p, p)
        X_s' A_s X_s M.
    spread : (p, p)
        M = (X' W X)^-1.
    """
    root = np.sqrt(weight)
    x, r = root[:, None] * design, root * residual
    spread = inverse_told(x.T @ x)
    half = np.linalg.cholesky(spread)
    covariance: FloatArray = np.zeros_like(spread)
    whitened: list[FloatArray] = []
    reduced: list[FloatArray] = []
    order = np.argsort(unit, kind="stable")
    for rows in np.split(order, np.flatnonzero(np.diff(unit[order])) + 1):
        u, s, _ = np.linalg.svd(x[rows] @ half, full_matrices=False)
        lift = 1 / np.clip(1 - s**2, _LEAST_REST, None) - 1
        raised = x[rows] + u @ (lift[:, None] * (u.T @ x[rows]))
        score = spread @ (raised.T @ r[rows])
        covariance += np.outer(score, score)
        product = raised @ spread
        whitened.append(_root(product.T @ product))
        reduced.append(x[rows].T @ product)
    return covariance, np.array(whitened), np.array(reduced), spread


def _root(matrix: FloatArray) -> FloatArray:
    """Symmetric square root of a positive semi-definite matrix."""
    values, vectors = np.linalg.eigh((matrix + matrix.T) / 2)
    root: FloatArray = (vectors * np.sqrt(np.clip(values, 0, None))) @ vectors.T
    return root
