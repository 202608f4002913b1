"""Readings in steps: a display says only in which step the needle is.

To take the middle of the step for the needle is wrong in a way that does not average out: at a held speed the rounding
error stays the same. So a reading counts as what it is, an interval, and the needle is replaced by its mean within that
interval given the line. This is maximum likelihood of interval-censored readings by expectation and maximisation (A. P.
Dempster, N. M. Laird, D. B. Rubin, Journal of the Royal Statistical Society B 39, 1, 1977).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

FloatArray = NDArray[np.float64]

#: Probability of the step below which its nearer edge stands for the mean.
_TINY = 1e-9
_LEAST_SHARE = 1e-3


def within_steps(
    shown: FloatArray, step: FloatArray, expected: FloatArray, sd: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Mean of the needle within the step that was read, and how much a reading tells.

    Parameters
    ----------
    shown : (n,) float
        Middles of the steps read.
    step : (n,) float
        Widths of the steps; 0 where a reading is exact.
    expected, sd : (n,) float
        Needle as the line has it, and standard error of a reading about it, steps aside.

    Returns
    -------
    mean : (n,) float
        E(needle | step, line).
    share : (n,) float
        1 - Var(needle | step) / sd^2: the information in the reading against that in an exact one, above 0.
    """
    low, high = (shown - step / 2 - expected) / sd, (shown + step / 2 - expected) / sd
    # The tail with the smaller numbers keeps its digits: mirror steps that lie above the line.
    mirror = low > 0
    low, high = np.where(mirror, -high, low), np.where(mirror, -low, high)
    probability = ndtr(high) - ndtr(low)
    sound = (step > 0) & (probability > _TINY)
    safe = np.where(sound, probability, 1.0)
    at_low, at_high = (np.exp(-(end**2) / 2) / np.sqrt(2 * np.pi) for end in (low, high))
    mean = np.where(sound, (at_low - at_high) / safe, np.where(step > 0, high, low))
    share = np.where(sound, mean**2 - (low * at_low - high * at_high) / safe, 1.0)
    return expected + sd * np.where(mirror, -mean, mean), np.clip(share, _LEAST_SHARE, 1.0)
