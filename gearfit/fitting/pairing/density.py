"""How the values of ln(rpm/speed) crowd: binned densities with each sample's own width."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

BIN: Final = 0.002
_WIDTHS: Final = 6


def smooth_density(log_ratio: FloatArray, log_ratio_sd: FloatArray, weight: FloatArray, grid: FloatArray) -> FloatArray:
    """Weighted density of `log_ratio` on `grid`, each sample smeared with its own standard error.

    Samples are binned by value and, in a few classes, by standard error, so that the cost grows with the grid
    and not with samples times grid.

    Parameters
    ----------
    log_ratio, log_ratio_sd, weight : (n,) float
        Values, their standard errors and weights (for instance seconds).
    grid : (m,) float
        Ascending, equally spaced.

    Returns
    -------
    (m,) float
        Weight per unit of ln ratio.
    """
    step = grid[1] - grid[0]
    density: FloatArray = np.zeros(grid.size)
    which = _classes(log_ratio_sd)
    members = np.bincount(which, minlength=_WIDTHS)
    mean_square = np.bincount(which, log_ratio_sd**2, minlength=_WIDTHS) / np.maximum(members, 1)
    at = np.floor((log_ratio - grid[0]) / step + 0.5).astype(np.int64)
    inside = (at >= 0) & (at < grid.size)
    if not inside.all():
        which, at, weight = which[inside], at[inside], weight[inside]
    counts = np.bincount(which * grid.size + at, weight, minlength=_WIDTHS * grid.size).reshape(_WIDTHS, grid.size)
    sd = np.maximum(np.sqrt(mean_square), step / 2)
    reach = np.ceil(4 * sd / step).astype(np.int64)
    far = int(reach.max())
    kernels = np.exp(-0.5 * (step * np.arange(-far, far + 1) / sd[:, None]) ** 2)
    for i in np.flatnonzero(members):
        kernel = kernels[i, far - reach[i] : far + reach[i] + 1]
        spread = np.convolve(counts[i], kernel / (kernel.sum() * step))
        density += spread[reach[i] : reach[i] + grid.size]
    return density


def _classes(values: FloatArray) -> IntArray:
    """Sort values into classes of one size, by value, and return the class of each; like values share one."""
    rank = np.linspace(0, values.size - 1, _WIDTHS + 1)[1:-1]
    lower = rank.astype(np.int64)
    ordered = np.partition(values, np.concatenate([lower, lower + 1])) if values.size > 1 else np.repeat(values, 2)
    which = np.zeros(values.size, dtype=np.int8)
    for cut in ordered[lower] + (rank - lower) * (ordered[lower + 1] - ordered[lower]):
        which += values >= cut
    return which.astype(np.int64)


def concentration(log_ratio: FloatArray, log_ratio_sd: FloatArray) -> float:
    """Integral of the squared density (exponential of minus Renyi's entropy of order two): high when values crowd."""
    grid = value_grid(log_ratio)
    density = smooth_density(log_ratio, log_ratio_sd, np.full(log_ratio.size, 1 / log_ratio.size), grid)
    return float(np.sum(density**2) * (grid[1] - grid[0]))


def value_grid(log_ratio: FloatArray, step: float = BIN, margin: float = 0.1) -> FloatArray:
    """Return an equally spaced grid that covers the values with a margin on both sides."""
    lowest, highest = float(np.min(log_ratio)) - margin, float(np.max(log_ratio)) + margin
    return np.asarray(lowest + step * np.arange(int(np.ceil((highest - lowest) / step)) + 1), dtype=np.float64)
