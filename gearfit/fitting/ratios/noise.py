"""What the samples in gear show of the noise: white and correlated error of the speed, relative error of the rpm."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.pairing.medians import median
from gearfit.fitting.ratios.correlated import Noise

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_LEAST_SAMPLES: Final = 30
_LEAST_SPEED_SD_MPS: Final = 0.02
_LEAST_RELATIVE_SD: Final = 0.001
#: Squared residuals beyond this many times their expectation are held at it; factor that undoes it for Gauss's law.
_CLIP: Final = 6.0
_CLIP_LOSS: Final = 0.974
#: Speeds so much alike (relative determinant) that the two parts cannot be told apart: all is taken for speed's.
_ALIKE: Final = 1e-9
#: Correlation times that are tried, s, and the longest lag that is looked at.
_TIMES_S: Final = np.array([0.2, 0.3, 0.45, 0.7, 1.0, 1.4, 2.0, 2.8, 4.0])
_LONGEST_S: Final = 6.0
_LAGS: Final = 24
#: Where too few samples tell: share of the speed's variance that hangs together, and for how long, s.
_USUAL_SHARE: Final = 0.7
_USUAL_TIME_S: Final = 1.5


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
    inverse, residual2 = 1 / speed_mps**2, residual**2
    typical = max(1.4826 * median(np.abs(residual)), _LEAST_RELATIVE_SD)  # made-up rides have no scatter at all
    speed_part, rpm_part = 0.5 * typical**2 / float(np.mean(inverse)), 0.5 * typical**2
    variance, squared, weight, sloped = (np.empty_like(inverse) for _ in range(4))
    for _ in range(8):
        np.multiply(inverse, speed_part, out=variance)
        variance += rpm_part
        np.multiply(variance, _CLIP, out=squared)
        np.minimum(squared, residual2, out=squared)
        squared /= _CLIP_LOSS
        np.multiply(variance, variance, out=weight)
        np.reciprocal(weight, out=weight)
        np.multiply(weight, inverse, out=sloped)
        a, b, c = float(sloped @ inverse), float(np.sum(sloped)), float(np.sum(weight))
        p, q = float(sloped @ squared), float(weight @ squared)
        determinant = a * c - b * b
        if determinant <= _ALIKE * a * c:
            return max(float(np.sqrt(q / b)), _LEAST_SPEED_SD_MPS), _LEAST_RELATIVE_SD
        speed_part, rpm_part = (c * p - b * q) / determinant, (a * q - b * p) / determinant
        if speed_part < 0:
            speed_part, rpm_part = 0.0, q / c
        elif rpm_part < 0:
            speed_part, rpm_part = p / a, 0.0
        speed_part, rpm_part = max(speed_part, _LEAST_SPEED_SD_MPS**2), max(rpm_part, _LEAST_RELATIVE_SD**2)
    return float(np.sqrt(speed_part)), float(np.sqrt(rpm_part))


def white_share(engine_rpm: FloatArray, rpm_sd_rpm: FloatArray) -> float:
    """Find the white noise of an engine-speed channel as a share of the reading, from its second differences.

    Smoothing takes the fast part of that noise away but leaves the slow part, which is what a level rests on; so the
    noise of the channel as recorded counts, at least the one of its resolution (`rpm_sd_rpm`).
    """
    running = engine_rpm[1:-1] > 0
    if running.sum() < _LEAST_SAMPLES:
        return _LEAST_RELATIVE_SD
    second = (engine_rpm[2:] - 2 * engine_rpm[1:-1] + engine_rpm[:-2])[running] / engine_rpm[1:-1][running]
    shown = 1.4826 * float(np.median(np.abs(second))) / 6**0.5
    stated = float(np.median(rpm_sd_rpm[1:-1][running] / engine_rpm[1:-1][running]))
    return max(shown, stated, _LEAST_RELATIVE_SD)


def noise_of(
    time_s: FloatArray, residual: FloatArray, speed_mps: FloatArray, rpm_share: float = _LEAST_RELATIVE_SD
) -> Noise | None:
    """Find the noise of a stream from its samples in gear; None below 30 samples.

    The covariance of the speed's error at growing time lags (pairs of samples that far apart) is that of white noise
    plus an exponential decay; its size and time are found by least squares over a grid of times.

    Parameters
    ----------
    time_s, residual, speed_mps : (n,) float
        Samples in gear, times ascending; ln(n/v) less its gear's level (lag taken out).
    rpm_share : float
        Relative white noise of the engine speed as recorded, at least.
    """
    parts = scatter(residual, speed_mps)
    if parts is None:
        return None
    speed_sd, relative = parts
    total = speed_sd**2
    error = np.clip(residual * speed_mps, -4 * speed_sd, 4 * speed_sd)
    lag_s, covariance, pairs = _autocovariance(time_s, error)
    if lag_s.size == 0:
        correlated, time = _USUAL_SHARE * total, _USUAL_TIME_S
    else:
        correlated, time = _decay(lag_s, covariance, pairs)
    correlated = min(max(correlated, 0.0), 0.98 * total)
    white = max(total - correlated, _LEAST_SPEED_SD_MPS**2)
    return Noise(float(np.sqrt(white)), float(np.sqrt(correlated)), time, max(relative, rpm_share))


def _autocovariance(time_s: FloatArray, error: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Mean product of errors at lags up to 6 s: lags, covariances, numbers of pairs."""
    usual_s = median(np.diff(time_s))
    steps = _steps(max(_LONGEST_S / usual_s, 1.0))
    lag_s, covariance, pairs = [], [], []
    for step in steps[steps < error.size]:
        apart = time_s[step:] - time_s[:-step]
        near = np.abs(apart - step * usual_s) < 0.5 * usual_s
        count = np.count_nonzero(near)
        if count < _LEAST_SAMPLES:
            continue
        weight = near.astype(np.float64)
        lag_s.append(float(weight @ apart) / count)
        covariance.append(float((weight * error[step:]) @ error[:-step]) / count)
        pairs.append(count)
    return np.array(lag_s), np.array(covariance), np.array(pairs)


@lru_cache(maxsize=64)
def _steps(longest: float) -> IntArray:
    """Numbers of samples up to `longest`, the farther apart the larger."""
    return np.unique(np.round(np.geomspace(1, longest, _LAGS)).astype(np.int64))


def _decay(lag_s: FloatArray, covariance: FloatArray, pairs: FloatArray) -> tuple[float, float]:
    """Fit size x exp(-lag/time), size at least 0."""
    weight = pairs / (1 + lag_s)
    shape = np.exp(-lag_s / _TIMES_S[:, None])
    size = np.maximum(0.0, np.sum(weight * shape * covariance, axis=1) / np.sum(weight * shape**2, axis=1))
    misfit = np.sum(weight * (covariance - size[:, None] * shape) ** 2, axis=1)
    best = int(np.argmin(misfit))
    return float(size[best]), float(_TIMES_S[best])
