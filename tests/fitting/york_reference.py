"""Straight lines with errors in both variables.

Source: D. York, N. Evensen, M. Lopez Martinez, J. De Basabe Delgado, "Unified equations for the slope, intercept,
and standard errors of the best straight line", American Journal of Physics 72(3), 367 (2004), without correlation
between the errors of one point. The line through the origin is the same with the intercept held at zero.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gearfit.errors import UndecidableError

FloatArray = NDArray[np.float64]

_MAX_ROUNDS = 200
_RELATIVE_STEP = 1e-14


@dataclass(frozen=True)
class Line:
    """A fitted line y = intercept + slope x.

    Attributes
    ----------
    intercept, slope : float
        In the units of the data.
    intercept_se, slope_se : float
        Standard errors from the stated errors alone (not scaled by the scatter found).
    covariance : float
        Between intercept and slope.
    chi2, dof : float, int
        Weighted sum of squared residuals and its degrees of freedom.
    """

    intercept: float
    slope: float
    intercept_se: float
    slope_se: float
    covariance: float
    chi2: float
    dof: int


def line_fit(x: FloatArray, y: FloatArray, x_sd: FloatArray, y_sd: FloatArray) -> Line:
    """Fit a line to points with errors in both variables (York 2004, equations 13a-13d).

    Parameters
    ----------
    x, y : (n,) float
        Measured points.
    x_sd, y_sd : (n,) float
        Standard errors, all at least 0, not both 0 at the same point.

    Raises
    ------
    UndecidableError
        Fewer than two different x.
    """
    if x.size < 2 or np.ptp(x) == 0:
        raise UndecidableError("a line needs points at two or more different values")
    vx, vy = x_sd**2, y_sd**2
    slope = float(np.polyfit(x, y, 1)[0])
    for _ in range(_MAX_ROUNDS):
        weight = 1 / (vy + slope**2 * vx)
        x_mean, y_mean = np.average(x, weights=weight), np.average(y, weights=weight)
        u, v = x - x_mean, y - y_mean
        beta = weight * (u * vy + slope * v * vx)
        previous, slope = slope, float(np.sum(weight * beta * v) / np.sum(weight * beta * u))
        if abs(slope - previous) <= _RELATIVE_STEP * abs(slope):
            break
    weight = 1 / (vy + slope**2 * vx)
    x_mean, y_mean = np.average(x, weights=weight), np.average(y, weights=weight)
    intercept = float(y_mean - slope * x_mean)
    adjusted = x_mean + weight * ((x - x_mean) * vy + slope * (y - y_mean) * vx)
    adjusted_mean = float(np.average(adjusted, weights=weight))
    slope_variance = float(1 / np.sum(weight * (adjusted - adjusted_mean) ** 2))
    return Line(
        intercept=intercept,
        slope=slope,
        intercept_se=float(np.sqrt(1 / np.sum(weight) + adjusted_mean**2 * slope_variance)),
        slope_se=float(np.sqrt(slope_variance)),
        covariance=float(-adjusted_mean * slope_variance),
        chi2=float(np.sum(weight * (y - intercept - slope * x) ** 2)),
        dof=x.size - 2,
    )


def ratio_fit(x: FloatArray, y: FloatArray, x_sd: FloatArray, y_sd: FloatArray) -> tuple[float, float]:
    """Fit y = slope x, a line through the origin with errors in both variables.

    Parameters
    ----------
    x, y : (n,) float
        Measured points, n at least 1.
    x_sd, y_sd : (n,) float
        Standard errors, all at least 0, not both 0 at the same point.

    Returns
    -------
    slope, slope_se : float
        The standard error is from the stated errors alone.

    Raises
    ------
    UndecidableError
        No point lies off the origin.
    """
    if x.size == 0 or not np.any(x):
        raise UndecidableError("a ratio needs at least one point off the origin")
    vx, vy = x_sd**2, y_sd**2
    slope = float(np.sum(x * y) / np.sum(x * x))
    for _ in range(_MAX_ROUNDS):
        weight = 1 / (vy + slope**2 * vx)
        adjusted = weight * (x * vy + slope * y * vx)
        previous, slope = slope, float(np.sum(weight * adjusted * y) / np.sum(weight * adjusted * x))
        if abs(slope - previous) <= _RELATIVE_STEP * abs(slope):
            break
    weight = 1 / (vy + slope**2 * vx)
    adjusted = weight * (x * vy + slope * y * vx)
    return slope, float(1 / np.sqrt(np.sum(weight * adjusted**2)))
