"""A time series at moments between its samples: interpolated, or smoothed by a straight line around each moment."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

#: A line needs samples at this many moments at least.
_LEAST: Final = 4


def interpolated(
    time_s: FloatArray, values: FloatArray, at_s: FloatArray, largest_gap_s: float
) -> tuple[FloatArray, FloatArray]:
    """Interpolate between the neighbours of each moment.

    Parameters
    ----------
    time_s, values : (m,) float
        The series, times ascending.
    at_s : (n,) float
        Moments.
    largest_gap_s : float
        Neighbours farther apart give NaN, as does a moment outside the series.

    Returns
    -------
    (n,), (n,) float
        Value and its rate of change, 1/s.
    """
    if time_s.size < 2:
        return np.full(at_s.size, np.nan), np.full(at_s.size, np.nan)
    after = np.clip(np.searchsorted(time_s, at_s), 1, time_s.size - 1)
    gap_s = time_s[after] - time_s[after - 1]
    rate = (values[after] - values[after - 1]) / gap_s
    value = values[after - 1] + rate * (at_s - time_s[after - 1])
    good = (gap_s <= largest_gap_s) & (at_s >= time_s[0]) & (at_s <= time_s[-1])
    return np.where(good, value, np.nan), np.where(good, rate, np.nan)


class RunningLines:
    """A series with its running sums, from which straight lines over any window are read.

    Parameters
    ----------
    time_s, values : (m,) float
        The series, times ascending; at least one sample.
    """

    def __init__(self, time_s: FloatArray, values: FloatArray) -> None:
        self._time_s = time_s
        self._middle = float(np.mean(values))
        t, y = time_s - time_s[0], values - self._middle
        self._sums = [np.concatenate([[0.0], np.cumsum(column)]) for column in (t, t * t, y, t * y)]

    def at(self, at_s: FloatArray, half_width_s: float) -> tuple[FloatArray, FloatArray]:
        """Fit a straight line to the samples within `half_width_s` of each moment.

        Returns
        -------
        (n,), (n,) float
            Value and its rate of change, 1/s; NaN where fewer than four samples lie in the window.
        """
        first = np.searchsorted(self._time_s, at_s - half_width_s)
        last = np.searchsorted(self._time_s, at_s + half_width_s, side="right")
        count = (last - first).astype(np.float64)
        t1, t2, y1, ty = (column[last] - column[first] for column in self._sums)
        with np.errstate(divide="ignore", invalid="ignore"):
            spread = t2 - t1 * t1 / count
            rate = (ty - t1 * y1 / count) / spread
            value = self._middle + y1 / count + rate * (at_s - self._time_s[0] - t1 / count)
        good = (count >= _LEAST) & (spread > 0)
        return np.where(good, value, np.nan), np.where(good, rate, np.nan)


def local_lines(
    time_s: FloatArray, values: FloatArray, at_s: FloatArray, half_width_s: float
) -> tuple[FloatArray, FloatArray]:
    """Straight lines about each moment, as `RunningLines.at`, where only one window is wanted."""
    return RunningLines(time_s, values).at(at_s, half_width_s)
