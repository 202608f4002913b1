"""How much the samples in gear really scatter: a part that goes with 1/v (speed) and a part that does not (rpm)."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

_LEAST_SAMPLES: Final = 30
_LEAST_SPEED_SD_MPS: Final = 0.02
_LEAST_RELATIVE_SD: Final = 0.001
#: Squared residuals beyond this many times their expectation are held at it; factor that undoes it for Gauss's law.
_CLIP: Final = 6.0
_CLIP_LOSS: Final = 0.974


def scatter(residual: FloatArray, speed_mps: FloatArray) -> tuple[float, float] | None:
    """Split the scatter of ln(n/v) about its gear into errors of speed and of engine speed.

    Non-negative least squares of residual^2 on 1/v^2 and a constant, reweighted by the fitted variance.

    Parameters
    ----------
    residual : (n,) float
        ln(n/v) less its gear's level.
    speed_mps : (n,) float

    Returns
    -------
    (speed_sd_mps, relative_rpm_sd) or None
        None below 30 samples.
    """
    if residual.size < _LEAST_SAMPLES:
        return None
    inverse = 1 / speed_mps**2
    typical = 1.4826 * float(np.median(np.abs(residual)))
    speed_part, rpm_part = 0.5 * typical**2 / float(np.mean(inverse)), 0.5 * typical**2
    for _ in range(8):
        variance = speed_part * inverse + rpm_part
        squared = np.minimum(residual**2, _CLIP * variance) / _CLIP_LOSS
        weight = 1 / variance**2
        a, b, c = (float(np.sum(weight * term)) for term in (inverse * inverse, inverse, np.ones_like(inverse)))
        p, q = float(np.sum(weight * inverse * squared)), float(np.sum(weight * squared))
        determinant = a * c - b * b
        speed_part, rpm_part = (c * p - b * q) / determinant, (a * q - b * p) / determinant
        if speed_part < 0:
            speed_part, rpm_part = 0.0, q / c
        elif rpm_part < 0:
            speed_part, rpm_part = p / a, 0.0
        speed_part, rpm_part = max(speed_part, _LEAST_SPEED_SD_MPS**2), max(rpm_part, _LEAST_RELATIVE_SD**2)
    return float(np.sqrt(speed_part)), float(np.sqrt(rpm_part))
