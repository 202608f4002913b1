"""The line through few readings in coarse steps: a needle read to five.

At satellite speeds held at 20, 30, 40 the needle may stand two above the mark each time and is read as the mark each
time: rounding errors are alike then, no scatter shows them, and to average over them would be wrong with confidence. So
every line that the readings allow counts, by its likelihood: each reading an interval (as in `steps`), flat priors for
level and gain, and one over it for the size of the other errors, which is summed over as well (H. Jeffreys, Theory of
Probability, 1939: the prior of a scale).
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from gearfit.speedometer.clusters import STATED_DOF, Solution
from gearfit.speedometer.pairs import Pairs

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Sizes of the errors beside the steps, as factors on the stated ones: an odd reading is let in by a large one.
_SCALES: Final = np.array([0.5, 1.0, 2.0, 4.0, 8.0])
#: Lines looked at, each way; the grid is laid anew about what it found so often.
_LINES, _GRIDS = 41, 3
#: Half of the next grid, in standard errors of the last.
_REACH: Final = 5.0


def posterior_line(p: Pairs, offset_mps: float, gain: float) -> Solution:
    """Weigh all lines near a start.

    Parameters
    ----------
    p : Pairs
        Readings at held speeds, fewer than some dozens.
    offset_mps, gain : float
        A line near them.

    Returns
    -------
    Solution
        Mean and covariance of offset and gain.
    """
    middle = float(p.true_mps.mean())
    x = p.true_mps - middle
    sd = np.hypot(p.shown_sd_mps, gain * p.true_sd_mps)
    wide = float(p.step_mps.max()) + 2 * float(np.std(p.shown_mps - offset_mps - gain * p.true_mps)) + float(sd.max())
    mean, half = np.array([offset_mps + gain * middle, gain]), np.array([wide, 2 * wide / float(np.ptp(x))])
    # Readings in coarse steps come again and again: each is weighed once, and counts as often as it was read.
    columns = np.column_stack([p.true_mps, p.shown_mps, sd, p.step_mps])
    _, pick, times = np.unique(columns, axis=0, return_index=True, return_counts=True)
    p, x, sd = p.take(pick), x[pick], sd[pick]
    for _ in range(_GRIDS):
        grid = mean + half * np.linspace(-1, 1, _LINES)[:, None]
        level, slope = (axis.ravel() for axis in np.meshgrid(grid[:, 0], grid[:, 1], indexing="ij"))
        weight = _weights(p, times, level[:, None] + slope[:, None] * x, sd)
        lines = np.column_stack([level, slope])
        mean = weight @ lines
        covariance = (lines - mean).T @ (weight[:, None] * (lines - mean))
        half = np.minimum(half, _REACH * np.sqrt(np.diag(covariance)) + half / _LINES)
    turned = np.array([[1.0, -middle], [0.0, 1.0]])
    return Solution(turned @ mean, turned @ covariance @ turned.T, STATED_DOF, None)


def _weights(p: Pairs, times: IntArray, needle: FloatArray, sd: FloatArray) -> FloatArray:
    """Posterior weight of each line, needle (L, n), summed over sizes of errors; a pair was read `times` (n,)."""
    half = p.step_mps / 2
    logs = []
    for scale in _SCALES:
        low, high = (p.shown_mps - half - needle) / (scale * sd), (p.shown_mps + half - needle) / (scale * sd)
        mirror = low > 0
        inside = ndtr(np.where(mirror, -low, high)) - ndtr(np.where(mirror, -high, low))
        logs.append(np.log(np.maximum(inside, np.finfo(np.float64).tiny)) @ times)
    found = np.array(logs)
    likelihood = np.exp(found - found.max()).sum(axis=0)
    weight: FloatArray = likelihood / likelihood.sum()
    return weight
