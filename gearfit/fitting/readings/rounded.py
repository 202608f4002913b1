"""What the readings of one gear in one setup say of its level, where they were rounded.

A rounded reading says that the value lay within its step, and no more: six that read alike do not average the rounding
out. At a scatter tau the likelihood of a level mu is

    L(mu) = prod_i [ Phi( (y_i + h_i - mu)/s_i ) - Phi( (y_i - h_i - mu)/s_i ) ] / 2 h_i ,   s_i^2 = u_i + tau^2 ,

which is (17) of docs/method.md: a normal error and one that is uniform over a step of 2 h. Of it are kept the mass (the
integral over mu), the mean and the variance; each factor is log-concave, and so is the product, so that these three
tell it well.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

FloatArray = NDArray[np.float64]

#: Points of mu in each of the two rounds: the first finds where the likelihood is, the second sums it.
_POINTS: Final = 31
#: The likelihood is summed where it is above exp(-this) of its highest; and it is never taken to be less than this.
_DEEP: Final = 14.0
_LEAST: Final = 1e-290
#: Beyond all readings by this many standard deviations there is nothing.
_FAR: Final = 6.0


@dataclass(frozen=True, eq=False)
class Level:
    """Level of one gear in one setup at each scatter: logarithm of the mass, mean, variance, (K,) each."""

    log_mass: FloatArray
    mean: FloatArray
    variance: FloatArray


def level(
    values: FloatArray, half_step: FloatArray, own: FloatArray, repeats: FloatArray, scatter: FloatArray
) -> Level:
    """Combine the readings of one gear in one setup.

    Parameters
    ----------
    values, half_step, own : (n,) float
        y; h (0 where not rounded); the variance u beside rounding.
    repeats : (n,) float
        How often each was read.
    scatter : (K,) float
        tau.
    """
    sd = np.sqrt(own + scatter[:, None] ** 2)
    if values.size == 1 and repeats[0] == 1:
        return Level(np.zeros(scatter.size), np.full(scatter.size, values[0]), sd[:, 0] ** 2 + half_step[0] ** 2 / 3)
    reach = _FAR * np.max(sd, axis=1) + float(half_step.max())
    low, high = float(values.min()) - reach, float(values.max()) + reach
    for _ in range(2):
        grid = low[:, None] + np.linspace(0.0, 1.0, _POINTS) * (high - low)[:, None]
        score = _log_likelihood(grid, values, half_step, sd, repeats)
        top = score.max(axis=1)
        alive = score > top[:, None] - _DEEP
        step = (high - low) / (_POINTS - 1)
        low, high = (
            grid[np.arange(scatter.size), np.argmax(alive, axis=1)] - step,
            grid[np.arange(scatter.size), _POINTS - 1 - np.argmax(alive[:, ::-1], axis=1)] + step,
        )
    weight = np.exp(score - top[:, None])
    total = weight.sum(axis=1)
    mean = np.sum(weight * grid, axis=1) / total
    variance = np.sum(weight * (grid - mean[:, None]) ** 2, axis=1) / total
    return Level(top + np.log(total * step), mean, variance)


def _log_likelihood(
    grid: FloatArray, values: FloatArray, half_step: FloatArray, sd: FloatArray, repeats: FloatArray
) -> FloatArray:
    """Sum over readings of the logarithm of their likelihood, at (K, P) levels."""
    total = np.zeros_like(grid)
    for i in range(values.size):
        away = np.abs(grid - values[i])
        s, h = sd[:, i, None], half_step[i]
        if h > 0:
            inside = (ndtr((h - away) / s) - ndtr((-h - away) / s)) / (2 * h)
        else:
            inside = np.exp(-0.5 * (away / s) ** 2) / (s * np.sqrt(2 * np.pi))
        total += repeats[i] * np.log(np.maximum(inside, _LEAST))
    return total
