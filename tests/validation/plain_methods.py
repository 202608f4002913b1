"""Plain methods for finding the gears in ln(n/v), to compare with: mixtures of scikit-learn and peaks of a density."""

from __future__ import annotations

import warnings
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

_MOST_GEARS = 8


def mixture_told(log_ratio: FloatArray, gears: int) -> FloatArray | None:
    """Means of a Gaussian mixture that is told the number of gears."""
    return _mixture(log_ratio, gears)[0]


def mixture_bic(log_ratio: FloatArray, gears: int) -> FloatArray | None:
    """Means of the Gaussian mixture with the lowest Bayesian information criterion (`gears` is not used)."""
    del gears
    tried = [_mixture(log_ratio, k) for k in range(1, _MOST_GEARS + 1) if k < log_ratio.size]
    return min(tried, key=lambda means_and_bic: means_and_bic[1])[0] if tried else None


def density_peaks(log_ratio: FloatArray, gears: int) -> FloatArray | None:
    """Peaks of a Gaussian kernel density (Silverman's rule within the modes) that stand out by 5 % of the highest."""
    del gears
    from scipy.signal import find_peaks

    if log_ratio.size < 2:
        return None
    edges = np.arange(log_ratio.min() - 0.1, log_ratio.max() + 0.1, 0.002)
    counts = np.histogram(log_ratio, edges)[0].astype(np.float64)
    offset = np.arange(-20, 21)
    density = np.convolve(counts, np.exp(-0.5 * (offset / 5.0) ** 2), mode="same")
    peaks, _ = find_peaks(density, prominence=0.05 * density.max())
    return np.asarray(edges[peaks] + 0.001, dtype=np.float64)


def _mixture(log_ratio: FloatArray, gears: int) -> tuple[FloatArray, float]:
    from sklearn.exceptions import ConvergenceWarning
    from sklearn.mixture import GaussianMixture

    column = log_ratio[:, None]
    model = GaussianMixture(max(gears, 1), random_state=0)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ConvergenceWarning)
        model.fit(column)
    return np.sort(model.means_.ravel()), float(model.bic(column))


METHODS: dict[str, Callable[[FloatArray, int], FloatArray | None]] = {
    "mixture, number told": mixture_told,
    "mixture, BIC": mixture_bic,
    "density peaks": density_peaks,
}
