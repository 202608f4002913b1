"""One common level from several gears, and which of them do not agree with the rest.

Used twice: for the circumference that each gear implies, and for the change that each gear shows. One wild gear
must not pull the common level, so the gear that disagrees most with the others is set aside first, again and again,
while it is beyond what the family of all gears exceeds in 1 % of cases (Sidak's limit).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.ratios.quantiles import family_limit

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Agreement:
    """Common level and the part of each gear in it.

    Attributes
    ----------
    value, variance : float
        Generalised least squares mean of the agreeing gears.
    agrees : (G,) bool
        False for gears set aside. With two gears that disagree, both are False and both make up the mean.
    departure, departure_se : (G,) float
        Each gear less the mean of the other agreeing gears; NaN where there is no other.
    """

    value: float
    variance: float
    agrees: NDArray[np.bool_]
    departure: FloatArray
    departure_se: FloatArray


def common_level(values: FloatArray, covariance: FloatArray, dof: float) -> Agreement:
    """Find the common level of `values` ((G,) with (G, G) covariance, G at least 1)."""
    kept = np.ones(values.size, dtype=bool)
    limit = family_limit(values.size, dof)
    while kept.sum() > 2:
        departure, se = _departures(values, covariance, kept)
        z = np.where(kept, np.abs(departure) / se, 0.0)
        worst = int(np.argmax(z))
        if z[worst] <= limit:
            break
        kept[worst] = False
    departure, se = _departures(values, covariance, kept)
    agrees = kept.copy()
    if kept.sum() == 2:
        at = np.flatnonzero(kept)
        agrees[at] = np.abs(departure[at]) <= limit * se[at]
    weights = _weights(covariance[np.ix_(kept, kept)])
    value = float(weights @ values[kept])
    return Agreement(value, float(weights @ covariance[np.ix_(kept, kept)] @ weights), agrees, departure, se)


def _weights(covariance: FloatArray) -> FloatArray:
    raw = np.linalg.solve(covariance, np.ones(len(covariance)))
    normed: FloatArray = raw / raw.sum()
    return normed


def _departures(values: FloatArray, covariance: FloatArray, kept: NDArray[np.bool_]) -> tuple[FloatArray, FloatArray]:
    departure, se = np.full(values.size, np.nan), np.full(values.size, np.nan)
    for g in range(values.size):
        others = np.flatnonzero(kept & (np.arange(values.size) != g))
        if others.size == 0:
            continue
        contrast = np.zeros(values.size)
        contrast[g] = 1.0
        contrast[others] = -_weights(covariance[np.ix_(others, others)])
        departure[g] = contrast @ values
        se[g] = np.sqrt(contrast @ covariance @ contrast)
    return departure, se
