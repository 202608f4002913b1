"""Stretches of a track in which the speed was held."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

#: A speed is held while the mean of each second stays within this of the stretch's mean (share, and at least m/s),
#: for at least this time, s.
_SHARE: Final = 0.02
_LEAST_MPS: Final = 0.25
LEAST_S: Final = 4.0
_SLOWEST_MPS: Final = 2.5
#: A pause longer than this ends a stretch, s.
_PAUSE_S: Final = 3.0
#: Time over which receiver errors hang together, s.
_CORRELATION_S: Final = 1.5
_LEAST_SD_MPS: Final = 0.05


@dataclass(frozen=True, eq=False)
class Plateaus:
    """Held speeds in order of time; arrays of one length (P,).

    `speed_sd_mps` is the standard error of the mean speed.
    """

    start_s: FloatArray
    end_s: FloatArray
    speed_mps: FloatArray
    speed_sd_mps: FloatArray


def find_plateaus(time_s: FloatArray, speed_mps: FloatArray) -> Plateaus:
    """Find the held speeds of a track.

    Parameters
    ----------
    time_s, speed_mps : (n,) float
        Track, times ascending.
    """
    seconds = np.floor(time_s - time_s[0]).astype(np.int64) if time_s.size else np.empty(0, dtype=np.int64)
    label, first, count = np.unique(seconds, return_index=True, return_counts=True)
    mean = np.add.reduceat(speed_mps, first) / count if label.size else np.empty(0)
    found: list[tuple[int, int]] = []
    start = 0
    while start < label.size:
        end = _end(label, mean, start)
        if label[end] - label[start] + 1 >= LEAST_S and mean[start] > _SLOWEST_MPS:
            found.append((start, end))
            start = end + 1
        else:
            start += 1
    rows = [_measure(time_s, speed_mps, first[a], first[b] + count[b]) for a, b in found]
    columns = np.array(rows, dtype=np.float64).reshape(-1, 4).T
    return Plateaus(*columns)


def _end(label: NDArray[np.int64], mean: FloatArray, start: int) -> int:
    """Last second up to which every second's mean stays near the mean of all."""
    total, low, high = mean[start], mean[start], mean[start]
    end = start
    for i in range(start + 1, label.size):
        if label[i] - label[i - 1] > _PAUSE_S:
            break
        total, low, high = total + mean[i], min(low, mean[i]), max(high, mean[i])
        middle = total / (i - start + 1)
        if max(high - middle, middle - low) > max(_SHARE * middle, _LEAST_MPS):
            break
        end = i
    return end


def _measure(time_s: FloatArray, speed_mps: FloatArray, start: int, end: int) -> tuple[float, float, float, float]:
    part = speed_mps[start:end]
    length_s = float(time_s[end - 1] - time_s[start])
    independent = max(1.0, length_s / (2 * _CORRELATION_S))
    scatter = max(float(np.std(part)), _LEAST_SD_MPS)
    return float(time_s[start]), float(time_s[end - 1]), float(np.mean(part)), scatter / independent**0.5
