"""Student's t and estimates made with it (scipy.special only: it loads fast)."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from gearfit.records.results import Estimate


def t_quantile(probability: float, dof: float) -> float:
    """Quantile of Student's t with `dof` degrees of freedom (not necessarily whole)."""
    return float(stdtrit(dof, probability))


#: Confidence, over a whole family of gears or rows, at which one of them is said to disagree: to accuse a good reading
#: costs a rider an evening, so it is above that of the intervals.
FAMILY_LEVEL: Final = 0.99


def family_limit(tests: int, dof: float, level: float = FAMILY_LEVEL) -> float:
    """|t| that none of `tests` independent true hypotheses exceeds with probability `level`.

    Source: Z. Sidak, Journal of the American Statistical Association 62, 626 (1967).
    """
    return t_quantile(0.5 + 0.5 * level ** (1 / max(tests, 1)), dof)


def estimate(value: float, se: float, dof: float) -> Estimate:
    """Make an estimate with a symmetric 95 % interval."""
    half = t_quantile(0.975, dof) * se
    return Estimate(value, se, value - half, value + half)


def log_estimate(log_value: float, log_se: float, dof: float, scale: float = 1.0) -> Estimate:
    """Make an estimate of `scale` x exp(log_value), its interval symmetric in the logarithm."""
    half = t_quantile(0.975, dof) * log_se
    value = scale * float(np.exp(log_value))
    return Estimate(value, value * log_se, value * float(np.exp(-half)), value * float(np.exp(half)))


def percent_change(log_change: float, log_se: float, dof: float) -> Estimate:
    """Make an estimate, in per cent, of exp(log_change) - 1."""
    half = t_quantile(0.975, dof) * log_se
    low, middle, high = (float(100 * np.expm1(log_change + d)) for d in (-half, 0.0, half))
    return Estimate(middle, float(100 * np.exp(log_change)) * log_se, low, high)


def band(draws: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the ends, (...), of the 95 % interval of draws (n, ...), as likely to hold one more draw.

    The k-th smallest of n draws lies above one more with probability k / (n + 1), whatever their distribution (e.g.
    H. A. David, Order Statistics; from memory), so the ends are at k = 0.025 (n + 1) and 0.975 (n + 1).
    """
    lo, hi = np.quantile(draws, [0.025, 0.975], axis=0, method="weibull")
    return lo, hi
