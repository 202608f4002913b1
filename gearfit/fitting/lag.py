"""How far the engine-speed channel leads the speed channel, and whether whole-number speeds were cut or rounded.

A lead L shifts every sample's ln(n/v) by L times the rate at which ln v changes; a speed cut down to the step below
by half a step over v. Both are found together from all samples in gear by weighted least squares with each gear's own
level; errors are clustered by passage (cluster-robust covariance, K.-Y. Liang and S. Zeger, Biometrika 73(1), 13, 1986,
with the factor P/(P - k) for few clusters).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Residuals beyond this many standard errors are held at it (Huber's weights).
_HUBER: Final = 2.0


@dataclass(frozen=True)
class Correction:
    """Additions to lag and speed offset with the covariance of the two ((2, 2); infinite where not asked for)."""

    lag_s: float
    offset_mps: float
    lag_se_s: float
    offset_se_mps: float
    passages: int


def correction(
    residual: FloatArray,
    sd: FloatArray,
    rate: FloatArray,
    speed_mps: FloatArray,
    gear: IntArray,
    passage: IntArray,
    with_offset: bool,
) -> Correction | None:
    """One step of Gauss and Newton towards the lag (and offset) that leaves each gear's level alone.

    Parameters
    ----------
    residual : (n,) float
        ln(n/v) less the gear's centre.
    sd : (n,) float
        Standard error of each.
    rate : (n,) float
        Rate of change of ln v, 1/s, taken from the engine speed (its noise is independent of the speed's).
    speed_mps : (n,) float
        Speeds.
    gear, passage : (n,) int
        Group labels from 0.
    with_offset : bool
        Whether a constant error of the speeds is sought as well.

    Returns
    -------
    Correction or None
        None where fewer than four passages or no change of speed leave it open.
    """
    passages = np.unique(passage).size
    if residual.size < 12 or passages < 4:
        return None
    design = np.column_stack([rate, 1 / speed_mps] if with_offset else [rate])
    weight = 1 / sd**2
    for _ in range(3):
        x = design - _level(design, weight, gear)
        r = residual - _level(residual[:, None], weight, gear)[:, 0]
        normal = x.T @ (weight[:, None] * x)
        if np.linalg.cond(normal) > 1e12 or not np.all(np.isfinite(normal)):
            return None
        step = np.linalg.solve(normal, x.T @ (weight * r))
        left = r - x @ step
        scale = 1.4826 * float(np.median(np.abs(left) / sd)) or 1.0
        weight = np.minimum(1, _HUBER * scale * sd / np.maximum(np.abs(left), 1e-12)) / sd**2
    scores = np.zeros((int(passage.max()) + 1, design.shape[1]))
    np.add.at(scores, passage, x * (weight * left)[:, None])
    bread = np.linalg.inv(normal)
    spread = bread @ (scores.T @ scores) @ bread * passages / max(passages - design.shape[1], 1)
    se = np.sqrt(np.diag(spread))
    return Correction(
        lag_s=float(step[0]),
        offset_mps=float(step[1]) if with_offset else 0.0,
        lag_se_s=float(se[0]),
        offset_se_mps=float(se[1]) if with_offset else np.inf,
        passages=passages,
    )


def _level(values: FloatArray, weight: FloatArray, gear: IntArray) -> FloatArray:
    """Weighted mean of each gear, spread back over its samples."""
    total = np.bincount(gear, weight)
    means = np.column_stack([np.bincount(gear, weight * column) for column in values.T])
    spread: FloatArray = (means / np.where(total > 0, total, 1)[:, None])[gear]
    return spread
