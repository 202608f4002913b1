"""Lays a known ladder of ratios over the samples: its shape is known from tooth counts, one common shift is not.

The shift stands for rolling circumference, tachometer scale and, where it is not stated, the final drive:
ln(n/v) = ln i_g + ln(60/C), equation (1) of docs/method.md.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

#: Share of samples that belong to no gear, as assumed while shifts are compared.
_OUTSIDE_SHARE: Final = 0.25
#: Scatter of the shift about its expectation: tyre size 2 %, tachometer 3 % (40 CFR 205 allows +-3 %).
EXPECTED_SHIFT_SD: Final = 0.036
#: ... with a second, wide part for other sprockets than those stated.
_WIDE_SD: Final = 0.12
_WIDE_SHARE: Final = 0.1
_STEP: Final = 0.001
_REACH: Final = 0.35
#: Time over which samples count as one observation when ladders are compared, s.
INDEPENDENT_S: Final = 2.0
#: Two shifts closer than this are one.
APART: Final = 0.03


@dataclass(frozen=True)
class LadderFit:
    """The shift that suits best.

    Attributes
    ----------
    shift : float
        To be added to the ladder's ln ratios.
    runner_up : float or None
        The next best shift at least 3 % away; None where no other has a local best.
    log_odds : float
        Natural log of the odds of best against runner-up (infinite without one).
    """

    shift: float
    runner_up: float | None
    log_odds: float


def fit_shift(
    log_ratio: FloatArray,
    log_ratio_sd: FloatArray,
    weight: FloatArray,
    ladder: FloatArray,
    expected_shift: float | None,
    expected_sd: float = EXPECTED_SHIFT_SD,
) -> LadderFit:
    """Search the common shift of a ladder by the likelihood of a mixture with one component a gear and one for none.

    Parameters
    ----------
    log_ratio, log_ratio_sd : (n,) float
        ln(rev/min per m/s) and standard errors.
    weight : (n,) float
        Independent observations that each sample counts for (seconds over correlation time; 1 for a sheet's row).
    ladder : (G,) float
        ln of the ratios, descending.
    expected_shift : float or None
        From tyre and tooth counts; None where nothing is known.
    """
    if expected_shift is None:
        shifts = np.arange(np.min(log_ratio) - ladder.max() - 0.02, np.max(log_ratio) - ladder.min() + 0.02, _STEP)
    else:
        shifts = expected_shift + np.arange(-_REACH, _REACH, _STEP)
    score = log_likelihood(log_ratio, log_ratio_sd, weight, ladder, shifts)
    if expected_shift is not None:
        score = score + log_prior(shifts - expected_shift, expected_sd)
    return best_of(shifts, score)


def best_of(shifts: FloatArray, score: FloatArray) -> LadderFit:
    """Return the shift with the highest score, and the best of those 3 % and more away."""
    inner = (score[1:-1] >= score[:-2]) & (score[1:-1] > score[2:])
    peaks = np.append(np.flatnonzero(inner) + 1, np.argmax(score))
    best = peaks[np.argmax(score[peaks])]
    others = peaks[np.abs(shifts[peaks] - shifts[best]) > APART]
    if others.size == 0:
        return LadderFit(float(shifts[best]), None, np.inf)
    second = others[np.argmax(score[others])]
    return LadderFit(float(shifts[best]), float(shifts[second]), float(score[best] - score[second]))


def log_likelihood(
    log_ratio: FloatArray, sd: FloatArray, weight: FloatArray, ladder: FloatArray, shifts: FloatArray
) -> FloatArray:
    """Return the log likelihood of each shift, (len(shifts),); samples are thinned to bins of 0.002 first."""
    key = np.round(log_ratio / 0.002).astype(np.int64) * 8 + np.clip(np.round(np.log2(sd / 0.002)), 0, 7).astype(
        np.int64
    )
    _, inverse = np.unique(key, return_inverse=True)
    total = np.bincount(inverse, weight)
    value = np.bincount(inverse, weight * log_ratio) / total
    width = np.sqrt(np.bincount(inverse, weight * sd**2) / total + 0.003**2)
    span = max(float(np.ptp(log_ratio)), float(np.ptp(ladder)), 1.0) + 1.0
    outside = _OUTSIDE_SHARE / span
    share = (1 - _OUTSIDE_SHARE) / ladder.size
    score = np.empty(shifts.size)
    for i, shift in enumerate(shifts):
        z = (value[:, None] - ladder[None, :] - shift) / width[:, None]
        inside = np.sum(np.exp(-0.5 * z**2), axis=1) / (np.sqrt(2 * np.pi) * width)
        score[i] = np.sum(total * np.log(outside + share * inside))
    return score


def log_prior(offset: FloatArray, sd: float) -> FloatArray:
    """Return the log density of shifts so far from their expectation, a second, wide part included."""
    near = (1 - _WIDE_SHARE) / sd * np.exp(-0.5 * (offset / sd) ** 2)
    far = _WIDE_SHARE / _WIDE_SD * np.exp(-0.5 * (offset / _WIDE_SD) ** 2)
    result: FloatArray = np.log(near + far)
    return result
