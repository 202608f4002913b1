"""A time series at moments between its samples: interpolated, or smoothed by a straight line around each moment."""

from __future__ import annotations

from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.pairing.places import Places

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

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
        if self._time_s.size < 2:
            return np.full(at_s.size, np.nan), np.full(at_s.size, np.nan)
        after, good = self._between(at_s, largest_gap_s)
        value, rate = self._crossing(at_s, after)
        value[~good] = rate[~good] = np.nan
        return value, rate

    def _crossing(self, at_s: FloatArray, after: IntArray) -> tuple[FloatArray, FloatArray]:
        """Straight lines through sample `after` and the one before it: value and rate of change at each moment."""
        start_s, start = self._time_s.take(after - 1), self._values.take(after - 1)
        rate = (self._values.take(after) - start) / (self._time_s.take(after) - start_s)
        return start + rate * (at_s - start_s), rate

    def _between(self, at_s: FloatArray, largest_gap_s: float) -> tuple[IntArray, NDArray[np.bool_]]:
        """Upper neighbour of each moment (some sample but the first), and whether both are neighbours and near."""
        after = np.minimum(np.maximum(self._places.before(at_s), 1), self._time_s.size - 1)
        near = np.append(False, self._gaps_s <= largest_gap_s).take(after)
        return after, near & (at_s >= self._time_s[0]) & (at_s <= self._time_s[-1])

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

    def line_or_interpolated(
        self, at_s: FloatArray, half_width_s: float, largest_gap_s: float
    ) -> tuple[FloatArray, FloatArray, NDArray[np.bool_]]:
        """Fit lines, as `line`, and interpolate where there is none; NaN where `interpolated` gives none.

        The series has two samples at least.

        Returns
        -------
        (n,), (n,), (n,) bool
            Value, its rate of change (NaN unless interpolated), 1/s, and whether it is of a line.
        """
        value, _ = self.line(at_s, half_width_s)
        after, good = self._between(at_s, largest_gap_s)
        lined = good & np.isfinite(value)
        rest = np.flatnonzero(good & ~lined)
        rate = np.full(at_s.size, np.nan)
        value[~good] = np.nan
        value[rest], rate[rest] = self._crossing(at_s[rest], after[rest])
        return value, rate, lined

    @cached_property
    def _places(self) -> Places:
        return Places(self._time_s)

    @cached_property
    def _gaps_s(self) -> FloatArray:
        return np.diff(self._time_s)

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
