"""Which of the steps found in the samples were surely ridden."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.pairing.observed import Observed
from gearfit.fitting.which_gear.passage import bounds, passages

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: A step found in the samples is a gear if engaged this often, or for this long, s ...
_LEAST_ENGAGED: Final = 2
_LONG_S: Final = 10.0
#: ... or once, for this long, s, with a ratio that stays put: a slow clutch draws a step too, but a sloping one.
_ONCE_S: Final = 4.0
#: The engine idles where the machine is slower than this, m/s, and the engine's speed differs by less than this, ln,
#: and is no farther above the lowest of the ride.
_SLOW_MPS: Final = 7.0
_IDLE_SPREAD: Final = 0.04
_IDLE_ABOVE: Final = 0.14
#: How far apart, in ln ratio and in standard errors of a sample, the halves of a level passage may lie.
_LEVEL: Final = 0.01
_LEVEL_SD: Final = 1.0


def surely_ridden(
    observed: Sequence[Observed], paths: Sequence[IntArray], sd: Sequence[FloatArray], gears: int
) -> NDArray[np.bool_]:
    """Mark the steps that were engaged at least twice, for long, or once with a ratio that stays put.

    Parameters
    ----------
    observed, paths, sd : sequences, one entry a stream
        Samples, the step of each (-1: none), standard error of each ln ratio.
    gears : int
        Number of steps.

    Returns
    -------
    (gears,) bool
    """
    engaged, seconds = np.zeros(gears), np.zeros(gears)
    ends = [bounds(passages(o.time_s, path)) for o, path in zip(observed, paths, strict=True)]
    for o, path, (first, _) in zip(observed, paths, ends, strict=True):
        engaged += np.bincount(path[first], minlength=gears)
        seconds += np.bincount(path[path >= 0], o.seconds[path >= 0], minlength=gears)
    marked: NDArray[np.bool_] = (engaged >= _LEAST_ENGAGED) | (seconds >= _LONG_S)
    for o, path, s, (first, last) in zip(observed, paths, sd, ends, strict=True):
        for start, end in zip(first, last + 1, strict=True):
            if not marked[path[start]]:
                marked[path[start]] = _level(o.time_s[start:end], o.log_ratio[start:end], s[start:end])
    return marked


def idling(observed: Sequence[Observed], paths: Sequence[IntArray], gears: int) -> NDArray[np.bool_]:
    """Mark the steps at which the engine turned at one speed alone, about the lowest of the ride.

    In slow traffic a machine that rolls at one speed with the clutch in draws a step like that, again and again.
    """
    log_rpm, path = np.log(np.concatenate([o.engine_rpm for o in observed])), np.concatenate(paths)
    speed, lowest = np.concatenate([o.speed_mps for o in observed]), float(np.quantile(log_rpm, 0.01))
    marked = np.zeros(gears, dtype=bool)
    for g in np.unique(path[path >= 0]):
        low, middle, high = np.quantile(log_rpm[path == g], [0.1, 0.5, 0.9])
        slow = float(np.median(speed[path == g])) < _SLOW_MPS
        marked[g] = slow and high - low < _IDLE_SPREAD and middle < lowest + _IDLE_ABOVE
    return marked


def renumbered(path: IntArray, sure: NDArray[np.bool_]) -> IntArray:
    """Give the sure steps of a path consecutive numbers and take the others out (-1)."""
    number = np.where(sure, np.cumsum(sure) - 1, -1)
    return np.where(path >= 0, number[np.clip(path, 0, None)], -1)


def _level(time_s: FloatArray, log_ratio: FloatArray, sd: FloatArray) -> bool:
    if time_s[-1] - time_s[0] < _ONCE_S:
        return False
    half = time_s.size // 2
    apart = abs(float(np.median(log_ratio[:half]) - np.median(log_ratio[half:])))
    return apart < max(_LEVEL, _LEVEL_SD * float(np.median(sd)))
