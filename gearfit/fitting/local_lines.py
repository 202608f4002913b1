"""A time series at moments between its samples: interpolated, or smoothed by a straight line around each moment."""

from __future__ import annotations

from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.places import Places

FloatArray = NDArray[np.float64]

#: A line needs samples at this many moments at least.
_LEAST: Final = 4


class Series:
    """A series to be asked for its values at many moments.

    Parameters
    ----------
    time_s, values : (m,) float
        The series, times ascending.
    """

    def __init__(self, time_s: FloatArray, values: FloatArray) -> None:
        self._time_s = time_s
        self._values = values

    def interpolated(self, at_s: FloatArray, largest_gap_s: float) -> tuple[FloatArray, FloatArray]:
        """Interpolate between the neighbours of each moment.

        Parameters
        ----------
        at_s : (n,) float
            Moments.
        largest_gap_s : float
            Neighbours farther apart give NaN, as does a moment outside the series.

        Returns
        -------
        (n,), (n,) float
            Value and its rate of change, 1/s.
        """
        last = self._time_s.size - 1
        if last < 1:
            return np.full(at_s.size, np.nan), np.full(at_s.size, np.nan)
        before = np.clip(self._places.before(at_s) - 1, 0, last - 1)
        start_s, start = self._time_s.take(before), self._values.take(before)
        before += 1
        gap_s = self._time_s.take(before) - start_s
        rate = (self._values.take(before) - start) / gap_s
        value = start + rate * (at_s - start_s)
        bad = ~((gap_s <= largest_gap_s) & (at_s >= self._time_s[0]) & (at_s <= self._time_s[-1]))
        value[bad] = rate[bad] = np.nan
        return value, rate

    def line(self, at_s: FloatArray, half_width_s: float) -> tuple[FloatArray, FloatArray]:
        """Fit a straight line to the samples within `half_width_s` of each moment.

        Returns
        -------
        (n,), (n,) float
            Value and its rate of change, 1/s; NaN where fewer than four samples lie in the window.
        """
        first, last = self._places.before(at_s - half_width_s), self._places.until(at_s + half_width_s)
        count = (last - first).astype(np.float64)
        t1, t2, y1, ty = (column.take(last) - column.take(first) for column in self._sums)
        with np.errstate(divide="ignore", invalid="ignore"):
            spread = t2 - t1 * t1 / count
            rate = (ty - t1 * y1 / count) / spread
            value = self._middle + y1 / count + rate * (at_s - self._time_s[0] - t1 / count)
        bad = ~((count >= _LEAST) & (spread > 0))
        value[bad] = rate[bad] = np.nan
        return value, rate

    @cached_property
    def _places(self) -> Places:
        return Places(self._time_s)

    @cached_property
    def _middle(self) -> float:
        return float(np.mean(self._values))

    @cached_property
    def _sums(self) -> list[FloatArray]:
        """Running sums, from which straight lines over any window are read."""
        t, y = self._time_s - self._time_s[0], self._values - self._middle
        return [np.concatenate([[0.0], np.cumsum(column)]) for column in (t, t * t, y, t * y)]


def interpolated(
    time_s: FloatArray, values: FloatArray, at_s: FloatArray, largest_gap_s: float
) -> tuple[FloatArray, FloatArray]:
    """Interpolate between neighbours, as `Series.interpolated`, where only one set of moments is wanted."""
    return Series(time_s, values).interpolated(at_s, largest_gap_s)


def local_lines(
    time_s: FloatArray, values: FloatArray, at_s: FloatArray, half_width_s: float
) -> tuple[FloatArray, FloatArray]:
    """Straight lines about each moment, as `Series.line`, where only one window is wanted."""
    return Series(time_s, values).line(at_s, half_width_s)
