"""The first movement of a standing start, from the samples before and after it.

Before the moment t0 the machine stands; after it, with u = t - t0,

    v(u) = a u + w(u) ,    cov( w(u), w(u') ) = q u^2 (3 u' - u) / 6   (u <= u')

with unknown launch acceleration a and roughness q as in `smooth`. The likelihood of the samples over t0, a taken at its
best, gives t0 and its standard error: sampling, noise and the unknown shape of the launch are all in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.timed.noise import USUAL_LAUNCH_ROUGHNESS, SpeedNoise, believed
from gearfit.timed.smooth import wiener

FloatArray = NDArray[np.float64]

_GRID: Final = 41
_COARSE_GRID: Final = 25
#: Roughness that is tried for launches, m^2/s^5, and how many starts are looked at for it.
_ROUGHNESS: Final = (0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0)
_MOST_STARTS: Final = 6
_ROUNDS: Final = 14
#: Points of the grid that are kept beside the likely ones.
_AROUND: Final = 3
#: The grid narrows to where the log likelihood is less than this below its best.
_DROP: Final = 12.0
#: Moments within this are one, s.
_SAME_S: Final = 1e-9
#: Added to variances, (m/s)^2, so that noise-free samples can be solved.
_TINY: Final = 1e-18
#: Length of a one-foot rollout, m (SAE J1491, 3.3: initial vehicle movement 0.3048 m).
ROLLOUT_M: Final = 0.3048


@dataclass(frozen=True)
class Start:
    """First movement: moment, its standard error, launch acceleration, and how long the first foot takes."""

    time_s: float
    se_s: float
    acceleration_mps2: float
    rollout_s: float


@dataclass(frozen=True, eq=False)
class StartSamples:
    """The last samples at rest and the first ones of a launch.

    Attributes
    ----------
    time_s, speed_mps, speed_sd_mps : (n,) float
        Samples; `speed_sd_mps` is their error from reading.
    low_s, high_s : float
        Bounds of the first movement; the sample after `high_s` moves for certain.
    """

    time_s: FloatArray
    speed_mps: FloatArray
    speed_sd_mps: FloatArray
    low_s: float
    high_s: float


def find_start(start: StartSamples, noise: SpeedNoise) -> Start:
    """Find the first movement of a start whose speeds have this noise."""
    time_s, speed_mps, speed_sd_mps = start.time_s, start.speed_mps, start.speed_sd_mps
    low, high = start.low_s, start.high_s
    for _ in range(_ROUNDS):
        grid = np.linspace(low, high, _GRID)
        score = _scores(time_s, speed_mps, speed_sd_mps, noise, grid)
        near = np.flatnonzero(score > score.max() - _DROP)
        narrow = float(grid[max(near[0] - _AROUND, 0)]), float(grid[min(near[-1] + _AROUND, _GRID - 1)])
        done = narrow[1] - narrow[0] > 0.5 * (high - low) or high - low < _SAME_S
        if done:
            break
        low, high = narrow
    weight = np.exp(score - score.max())
    weight /= weight.sum()
    moment = float(weight @ grid)
    se = float(np.sqrt(weight @ (grid - moment) ** 2))
    acceleration, rollout_s = _launch(time_s, speed_mps, speed_sd_mps, noise, moment)
    return Start(moment, se, acceleration, rollout_s)


def with_launch_roughness(noise: SpeedNoise, starts: Sequence[StartSamples]) -> SpeedNoise:
    """Find the roughness that explains the starts best; the usual one counts beforehand."""
    scores = believed(_ROUGHNESS, USUAL_LAUNCH_ROUGHNESS)
    for start in starts[:_MOST_STARTS]:
        scores = scores + [_likelihood(start, replace(noise, launch_roughness=q)) for q in _ROUGHNESS]
    return replace(noise, launch_roughness=_ROUGHNESS[int(np.argmax(scores))])


def _likelihood(start: StartSamples, noise: SpeedNoise) -> float:
    """Log likelihood of the samples of a start, first movement and launch acceleration integrated out."""
    grid = np.linspace(start.low_s, start.high_s, _COARSE_GRID)
    score = _scores(start.time_s, start.speed_mps, start.speed_sd_mps, noise, grid, restricted=True)
    return float(score.max() + np.log(np.mean(np.exp(score - score.max()))))


def _scores(
    time_s: FloatArray,
    speed: FloatArray,
    sd: FloatArray,
    noise: SpeedNoise,
    starts: FloatArray,
    *,
    restricted: bool = False,
) -> FloatArray:
    """Log likelihood of each first movement, a constant aside (`restricted`: launch acceleration integrated out)."""
    u = np.maximum(time_s[None, :] - starts[:, None], 0.0)
    error = noise.covariance(time_s, speed, sd) + _TINY * np.eye(time_s.size)
    covariance = noise.launch_roughness * wiener(u[:, :, None], u[:, None, :]) + error[None, :, :]
    lower = np.linalg.cholesky(covariance)
    both = np.stack([np.broadcast_to(speed, u.shape), u], axis=2)
    white = np.linalg.solve(lower, both)
    yy, uy, uu = (np.sum(white[:, :, i] * white[:, :, j], axis=1) for i, j in ((0, 0), (0, 1), (1, 1)))
    explained = np.divide(uy * np.maximum(uy, 0.0), uu, out=np.zeros_like(uu), where=uu > 0)
    log_determinant = 2 * np.sum(np.log(np.diagonal(lower, axis1=1, axis2=2)), axis=1)
    if restricted:
        log_determinant = log_determinant + np.log(np.maximum(uu, _TINY))
    return np.asarray(-0.5 * (yy - explained + log_determinant))


def _launch(
    time_s: FloatArray, speed: FloatArray, sd: FloatArray, noise: SpeedNoise, start_s: float
) -> tuple[float, float]:
    """Acceleration of the launch, and time from first movement until one foot is covered."""
    u = np.maximum(time_s - start_s, 0.0)
    covariance = noise.launch_roughness * wiener(u[:, None], u[None, :])
    covariance += noise.covariance(time_s, speed, sd) + _TINY * np.eye(time_s.size)
    solved = np.linalg.solve(covariance, np.column_stack([speed, u]))
    acceleration = max(float(u @ solved[:, 0]) / float(u @ solved[:, 1]), 0.1)
    rest = solved[:, 0] - acceleration * solved[:, 1]
    grid = np.linspace(0.0, 2 * (2 * ROLLOUT_M / acceleration) ** 0.5, 400)
    course = np.maximum(acceleration * grid + noise.launch_roughness * wiener(grid[:, None], u[None, :]) @ rest, 0.0)
    way = np.concatenate([[0.0], np.cumsum(0.5 * (course[1:] + course[:-1]) * np.diff(grid))])
    return acceleration, float(np.interp(ROLLOUT_M, way, grid))
