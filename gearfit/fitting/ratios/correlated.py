"""Generalised least squares with noise that hangs together in time.

The speed error of a satellite receiver is white noise plus a part that decays over seconds (a first-order
autoregression). Such a part is a Gaussian Markov chain, so its precision matrix Q is tridiagonal, and with the
observation y = X b + h e + w, e ~ N(0, Q^-1), w ~ N(0, W), the Woodbury identity gives

    S^-1 = W^-1 - W^-1 h (Q + h W^-1 h)^-1 h W^-1,      S = cov(y),

where the middle matrix is tridiagonal again: the cost grows with the number of samples. (H. Rue and L. Held, Gaussian
Markov Random Fields, Chapman and Hall 2005, chapter 2, for the tridiagonal precision; from memory.)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solveh_banded

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Noise:
    """Noise of ln(n/v) in one stream.

    Attributes
    ----------
    white_mps : float
        Standard deviation of the white part of the speed's error.
    correlated_mps, correlation_s : float
        Standard deviation and correlation time of the part that hangs together (0: none).
    relative : float
        Standard deviation of the engine speed's error as a share of the reading (white).
    """

    white_mps: float
    correlated_mps: float
    correlation_s: float
    relative: float

    def variance(self, speed_mps: FloatArray) -> FloatArray:
        """Return the variance of each sample's ln ratio."""
        return (self.white_mps**2 + self.correlated_mps**2) / speed_mps**2 + self.relative**2


@dataclass(frozen=True, eq=False)
class Weighting:
    """S^-1 of one stream's samples, ready to be applied to columns."""

    white_variance: FloatArray
    speed_share: FloatArray
    bands: FloatArray | None

    def apply(self, columns: FloatArray) -> FloatArray:
        """Return S^-1 times `columns` ((n,) or (n, k), the latter fastest in column-major order)."""
        if columns.ndim == 1:
            return self.apply(columns[:, None])[:, 0]
        weight = 1 / self.white_variance
        if self.bands is None:
            return columns * weight[:, None]
        share = weight * self.speed_share
        inner: FloatArray = solveh_banded(
            self.bands, columns * share[:, None], lower=True, overwrite_b=True, check_finite=False
        )
        for column, result in zip(columns.T, inner.T, strict=True):
            result *= share
            np.subtract(weight * column, result, out=result)
        return inner


def weighting(time_s: FloatArray, speed_mps: FloatArray, noise: Noise) -> Weighting:
    """Prepare S^-1 for samples at `time_s` (ascending, no two alike) with the given noise."""
    white = (noise.white_mps / speed_mps) ** 2 + noise.relative**2
    share = 1 / speed_mps
    if noise.correlated_mps == 0 or time_s.size < 2:
        return Weighting(white, share, None)
    kept = np.exp(-np.diff(time_s) / noise.correlation_s)
    innovation = noise.correlated_mps**2 * (1 - kept**2)
    diagonal = np.full(time_s.size, 0.0)
    diagonal[0] = 1 / noise.correlated_mps**2
    diagonal[1:] += 1 / innovation
    diagonal[:-1] += kept**2 / innovation
    bands = np.zeros((2, time_s.size))
    bands[0] = diagonal + share**2 / white
    bands[1, :-1] = -kept / innovation
    return Weighting(white, share, bands)
