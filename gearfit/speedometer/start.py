"""Where the fit of the line starts, and which readings are too wild for it.

Median of the slopes between all pairs of points (H. Theil 1950, P. K. Sen 1968).
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.errors import UndecidableError
from gearfit.fitting.ratios.quantiles import family_limit
from gearfit.speedometer.clusters import inverse_told
from gearfit.speedometer.pairs import FloatArray, Pairs

#: Pairs that the start looks at, at most (all pairs of slopes of them).
_START_PAIRS: Final = 400
#: Pairs farther off than this many robust standard errors are set aside.
_WILD: Final = 4.0
#: Fewer pairs than this have to be outvoted as well.
FEW: Final = 40
#: Spread of true speeds below which gain and offset cannot be told apart, m/s.
LEAST_SPREAD_MPS: Final = 3.0
_ALIKE: Final = "the speeds are too much alike to tell gain from offset: note speeds further apart"


def ask_for_spread(x: FloatArray) -> None:
    """Raise UndecidableError where true speeds are so much alike that no line can be told."""
    if np.ptp(x) < LEAST_SPREAD_MPS:
        raise UndecidableError(_ALIKE)


def robust_start(x: FloatArray, y: FloatArray) -> tuple[float, float]:
    """Return offset and gain from the median of the slopes between all pairs of (at most 400) points.

    Raises
    ------
    UndecidableError
        The speeds are so much alike that no line can be told.
    """
    pick = np.unique(np.linspace(0, x.size - 1, min(x.size, _START_PAIRS)).astype(np.int64))
    a, b = x[pick], y[pick]
    i, j = np.triu_indices(a.size, 1)
    run = a[j] - a[i]
    far = np.abs(run) >= LEAST_SPREAD_MPS / 2
    ask_for_spread(x)
    if not far.any():
        raise UndecidableError(_ALIKE)
    gain = float(np.median((b[j] - b[i])[far] / run[far]))
    return float(np.median(y - gain * x)), gain


def find_sound(pairs: Pairs, offset: float, gain: float) -> NDArray[np.bool_]:
    """Find the pairs that are not wildly off the start."""
    sd = np.sqrt(pairs.shown_sd_mps**2 + (gain * pairs.true_sd_mps) ** 2 + pairs.step_mps**2 / 12)
    z = (pairs.shown_mps - offset - gain * pairs.true_mps) / sd
    z = z - np.median(z)
    scale = 1.4826 * float(np.median(np.abs(z))) * (1 + 5 / max(pairs.size - 2, 1))
    sound: NDArray[np.bool_] = np.abs(z) <= _WILD * max(1.0, scale)
    return sound if pairs.size >= FEW else sound | ~_outvoted(pairs, sound, sd)


def _outvoted(pairs: Pairs, sound: NDArray[np.bool_], sd: FloatArray) -> NDArray[np.bool_]:
    """Find the pairs that the line through the sound ones leaves no room for, by Student's t of their prediction.

    Three pairs of which two are on a line may as well have one of these misread: too few others vote nothing down.
    """
    design = np.column_stack([np.ones_like(sd), pairs.true_mps]) / sd[:, None]
    shown, dof = pairs.shown_mps / sd, int(sound.sum()) - 2
    if dof < 1 or np.ptp(pairs.true_mps[sound]) < LEAST_SPREAD_MPS:
        return np.zeros(sd.size, dtype=bool)
    spread = inverse_told(design[sound].T @ design[sound])
    residual = shown - design @ (spread @ (design[sound].T @ shown[sound]))
    scatter = max(float(np.sum(residual[sound] ** 2)) / dof, share_of_steps(pairs, sd**2))
    predicted_sd = np.sqrt(scatter * (1 + np.einsum("ij,jk,ik->i", design, spread, design)))
    outvoted: NDArray[np.bool_] = np.abs(residual) > family_limit(pairs.size, dof) * predicted_sd
    return outvoted


def share_of_steps(pairs: Pairs, variance: FloatArray) -> float:
    """Part of the variance that the steps of the instrument make up, on the average: no reading is better than them."""
    return float(np.mean(pairs.step_mps**2 / 12 / variance))
