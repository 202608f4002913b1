"""How the values of ln(rpm/speed) crowd: binned densities with each sample's own width."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

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
    cuts = np.unique(np.quantile(log_ratio_sd, np.linspace(0, 1, _WIDTHS + 1)))
    count = max(cuts.size - 1, 1)
    which = np.clip(np.searchsorted(cuts, log_ratio_sd, side="right") - 1, 0, count - 1)
    members = np.bincount(which, minlength=count)
    mean_square = np.bincount(which, log_ratio_sd**2, minlength=count) / np.maximum(members, 1)
    at = np.floor((log_ratio - grid[0]) / step + 0.5).astype(np.int64)
    inside = (at >= 0) & (at < grid.size)
    if not inside.all():
        which, at, weight = which[inside], at[inside], weight[inside]
    counts = np.bincount(which * grid.size + at, weight, minlength=count * grid.size).reshape(count, grid.size)
    for sd, crowd in zip(np.maximum(np.sqrt(mean_square), step / 2), counts, strict=True):
        reach = int(np.ceil(4 * sd / step))
        offset = step * np.arange(-reach, reach + 1)
        kernel = np.exp(-0.5 * (offset / sd) ** 2)
        spread = np.convolve(crowd, kernel / (kernel.sum() * step))
        density += spread[reach : reach + grid.size]
    return density


def concentration(log_ratio: FloatArray, log_ratio_sd: FloatArray) -> float:
    """Integral of the squared density (exponential of minus Renyi's entropy of order two): high when values crowd."""
    grid = value_grid(log_ratio)
    density = smooth_density(log_ratio, log_ratio_sd, np.full(log_ratio.size, 1 / log_ratio.size), grid)
    return float(np.sum(density**2) * (grid[1] - grid[0]))


def value_grid(log_ratio: FloatArray, step: float = BIN, margin: float = 0.1) -> FloatArray:
    """Return an equally spaced grid that covers the values with a margin on both sides."""
    lowest, highest = float(np.min(log_ratio)) - margin, float(np.max(log_ratio)) + margin
    return np.asarray(lowest + step * np.arange(int(np.ceil((highest - lowest) / step)) + 1), dtype=np.float64)
